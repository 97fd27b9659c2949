"""The judge of an emitted program; it knows nothing of how the program was made."""
