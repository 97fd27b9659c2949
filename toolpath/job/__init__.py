"""The model of a job and its reader."""
