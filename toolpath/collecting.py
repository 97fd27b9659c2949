"""How often the interpreter looks for cycles of garbage: seldom, while much is made and kept.

Pictures and geometry are hundreds of thousands of small objects that live to the end of a plan.
Looking through them again and again takes a tenth of its time and frees almost nothing.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

_SELDOM = (100_000, 20, 50)
"""Objects made before the youngest are looked through, and how many such looks before older ones:
some tens of MB at most wait for it."""


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Look for garbage seldom within the block; afterwards as before."""
    before = gc.get_threshold()
    gc.set_threshold(*_SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)
