"""Finishing paths that meet more than their cutter may take at once: gone along higher up first.

Frame: page frame of the face, millimetres. Roughing leaves narrow places, and corners that a larger
cutter does not reach into, as they are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.job.model import Cutter
from toolpath.plan.lines import along
from toolpath.plan.relief_left import Beside, Left

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

OVER = 0.05
"""So much may be taken over the stepdown, mm: another pass for it is not worth while."""
_APART = 0.2
"""Places along a path at which it is asked what it takes, mm."""
_SHARE = 0.12
"""Share of the square of the diameter that may be taken deeper: a last pass along a wall takes a
sliver of its whole height."""


def stepped(path: FloatArray, left: Left, cutter: Cutter, deep: Beside) -> list[FloatArray]:
    """Paths (m, 3) over the stretches of one (n, 3) that take too much at once, no lower than it,
    and the next lower by no more than the stepdown; highest first. `deep`: where there is so
    much, as it was found before."""
    dense = _dense(path)
    if not deep.near(dense[:, :2], cutter.radius):
        return []
    stands, area = left.under(dense, cutter, cutter.stepdown + OVER)
    wanted = area > _SHARE * cutter.diameter**2
    found: list[FloatArray] = []
    for first, last in _stretches(along(dense[:, :2]), wanted, cutter.diameter):
        part = dense[first:last]
        high, low = float(stands[first:last].max()), float(part[:, 2].min())
        steps = np.arange(high - cutter.stepdown, low + OVER, -cutter.stepdown)
        found += [_raised(part, height) for height in steps.tolist()]
    return found


def _dense(path: FloatArray) -> FloatArray:
    """The same path with a place at least each `_APART`."""
    at = along(path[:, :2])
    count = max(1, int(np.ceil(at[-1] / _APART)))
    places = np.union1d(at, np.linspace(0.0, at[-1], count + 1))
    return np.column_stack([np.interp(places, at, path[:, axis]) for axis in range(3)])


def _stretches(at: FloatArray, wanted: BoolArray, more: float) -> list[tuple[int, int]]:
    """First and behind the last index of each stretch, `more` longer than wanted at both ends."""
    found: list[tuple[int, int]] = []
    for place in at[wanted].tolist():
        first = int(np.searchsorted(at, place - more))
        last = int(np.searchsorted(at, place + more, side="right"))
        if found and first <= found[-1][1]:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return found


def _raised(path: FloatArray, least: float) -> FloatArray:
    """No lower than a height; the corners where it comes to that height are those of its places."""
    return np.column_stack([path[:, :2], np.maximum(path[:, 2], least)])
