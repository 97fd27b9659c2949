"""A flat table of dilation as overlapping rectangles, and those as pieces of sides 1, 2, 4 ...

The greatest under a rectangle is that of at most four such pieces; each is found from two of half
the size, once for all cells. A disc of 30 cells needs 72 looks so; two a row would be 122.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]
Size = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """Rows top to bottom, columns left to right of a table, the ends not counted."""

    top: int
    bottom: int
    left: int
    right: int

    def pieces(self) -> list[tuple[Size, int, int]]:
        """Powers of two of columns and rows, last row and first column of up to four pieces."""
        across = (self.right - self.left).bit_length() - 1
        down = (self.bottom - self.top).bit_length() - 1
        return [
            ((across, down), last, first)
            for last in sorted({self.top + (1 << down) - 1, self.bottom - 1})
            for first in sorted({self.left, self.right - (1 << across)})
        ]


def rectangles(chords: IntArray) -> list[Rectangle]:
    """Rectangles that together cover just the chords (n, 2), first and end column of each row.

    Rows alike whose number is a power of two stand alone, as they need no more looks so; others
    are taken with all rows next to them that hold as much.
    """
    found: dict[Rectangle, None] = {}
    heads = [0, *(np.flatnonzero((np.diff(chords, axis=0) != 0).any(axis=1)) + 1), len(chords)]
    for top, bottom in pairwise(heads):
        left, right = chords[top]
        count = bottom - top
        if count & (count - 1):
            holds = (chords[:, 0] <= left) & (chords[:, 1] >= right)
            top = max(np.flatnonzero(~holds[:top]), default=-1) + 1
            bottom = bottom + int(np.argmin(np.append(holds[bottom:], False)))
        if right > left:
            one = Rectangle(top=int(top), bottom=int(bottom), left=int(left), right=int(right))
            found[one] = None
    return list(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """How `kernels.dilate_flat` finds a table's greatest: `steps` as it wants them, and the looks
    (n, 3): table, row and first column, counted from the middle, the row being the last."""

    steps: IntArray
    looks: IntArray


def plan(chords: IntArray) -> Plan:
    """Steps and looks for chords (2 up + 1, 2), first and end column counted from the middle."""
    pieces = [piece for each in rectangles(chords) for piece in each.pieces()]
    sizes = _with_halves({size for size, _, _ in pieces})
    number = {size: n for n, size in enumerate(sizes)}
    steps = [_step(size, number) for size in sizes[1:]]
    up = len(chords) // 2
    looks = sorted((last - up, number[size], first) for size, last, first in pieces)
    return Plan(
        steps=np.array(steps, dtype=np.int64).reshape(-1, 3),
        looks=np.array([(table, row, first) for row, table, first in looks], dtype=np.int64),
    )


def _with_halves(sizes: set[Size]) -> list[Size]:
    """The sizes and all that they are made from, each after those: columns are put together
    before rows."""
    needed = {(0, 0)}
    for across, down in sizes:
        needed |= {(k, 0) for k in range(across + 1)} | {(across, k) for k in range(down + 1)}
    return sorted(needed, key=lambda size: (size[1], size[0]))


def _step(size: Size, number: dict[Size, int]) -> tuple[int, int, int]:
    """From which table, and how many columns on and rows before lies the other half."""
    across, down = size
    if down:
        return number[across, down - 1], 0, 1 << (down - 1)
    return number[across - 1, 0], 1 << (across - 1), 0
