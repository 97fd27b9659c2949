"""How the loops are compiled: once per machine, kept on the disk for later runs.

No fast-math, no float reduction across threads; outputs and scratch are allocated by the fronts.
A kernel and the helpers it calls stand in one file, since a kept one is thrown away when its own
file changes, and only then.
"""

from __future__ import annotations

from typing import Any

from numba import config, njit

config.THREADING_LAYER = "workqueue"  # the one that a copy of the process (fork) can go on using


def compiled(parallel: bool = False) -> Any:
    """`njit`, kept on the disk for later runs where there is a place that can be written."""

    def wrap(function: Any) -> Any:
        try:
            return njit(cache=True, parallel=parallel)(function)
        except RuntimeError:  # no such place
            return njit(parallel=parallel)(function)

    return wrap


BANDS = 16
"""Rows are dealt out interleaved to this many bands, which the threads share, so that no two
threads write to one cell."""
