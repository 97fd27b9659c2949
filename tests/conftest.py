"""Randomness is seeded: the same examples at every run, on every machine. And whichever test makes
a kernel compile a second time, for arrays of another kind, fails."""

import sys

import pytest
from hypothesis import settings

settings.register_profile("seeded", derandomize=True, database=None, deadline=None)
settings.load_profile("seeded")


@pytest.fixture(autouse=True)
def one_signature_each():
    yield
    kernels = sys.modules.get("toolpath.field.kernels")
    for name in kernels.__all__ if kernels else ():
        assert len(getattr(getattr(kernels, name), "signatures", ())) <= 1, name
