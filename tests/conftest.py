"""Randomness is seeded: the same examples at every run, on every machine."""

from hypothesis import settings

settings.register_profile("seeded", derandomize=True, database=None, deadline=None)
settings.load_profile("seeded")
