"""Pictures and the sheet for the machine."""
