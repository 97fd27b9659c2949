"""The moves of a program while it is read: columns that grow."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import Arcs, FloatArray, Kind, LineArray, MoveTable, Point

Pair = tuple[float, float]

_FIRST = 1024
_NUMBERS = 8
"""Of a row: three of the path, feed, and of an arc its row, two of the centre, sweep."""

Columns = tuple[
    NDArray[np.int8],
    FloatArray,
    FloatArray,
    LineArray,
    NDArray[np.intp],
    FloatArray,
    FloatArray,
]


class Rows:
    """Moves so far, each from where the one before ends; the first from an unknown place."""

    def __init__(self) -> None:
        self._count, self._arcs = 0, 0
        self._make(_FIRST)
        self._path[0] = math.nan

    def _make(self, most: int) -> None:
        numbers = np.empty((most + 1) * _NUMBERS)  # as one: large blocks are got in large pages
        path, feed, row, centre, sweep = np.split(numbers, (most + 1) * np.array([3, 4, 5, 7]))
        self._kind, self._line = np.empty(most, dtype=np.int8), np.empty(most, dtype=np.int32)
        self._path, self._feed = path.reshape(-1, 3), feed[:most]
        # Of arcs only as much is ever written, and so taken from the system, as there are.
        self._row, self._sweep = row.view(np.intp)[:most], sweep[:most]
        self._centre = centre.reshape(-1, 2)[:most]

    def __len__(self) -> int:
        return self._count

    @property
    def room(self) -> int:
        """How many rows there may be before `grow`."""
        return len(self._kind)

    @property
    def place(self) -> Point:
        """Where the last move ends."""
        x, y, z = self._path[self._count].tolist()
        return x, y, z

    @property
    def arcs(self) -> int:
        """How many of the rows are arcs."""
        return self._arcs

    @property
    def columns(self) -> Columns:
        """kind, path (one row more), feed, line; of arcs row, centre, sweep: to be written after
        the last one and then told by `extend`."""
        moves = self._kind, self._path, self._feed, self._line
        return *moves, self._row, self._centre, self._sweep

    def extend(self, count: int, arcs: int) -> None:
        """So many rows are there now, and so many arcs in them."""
        self._count, self._arcs = count, arcs

    def grow(self, expected: int = 0) -> None:
        """Make room for twice as many rows, or for as many as are expected."""
        count, arcs = self._count, self._arcs
        kind, path, feed, line, row, centre, sweep = self.columns
        self._make(max(2 * self.room, expected))
        self._kind[:count], self._path[: count + 1] = kind[:count], path[: count + 1]
        self._feed[:count], self._line[:count] = feed[:count], line[:count]
        self._row[:arcs], self._centre[:arcs] = row[:arcs], centre[:arcs]
        self._sweep[:arcs] = sweep[:arcs]

    def add(self, kind: Kind, end: Point, arc: tuple[Pair, float], feed: float, line: int) -> None:
        """One move more; arc = (centre, sweep)."""
        if self._count == self.room:
            self.grow()
        row = self._count
        self._kind[row] = kind
        self._path[row + 1] = end
        if kind is Kind.ARC:
            self._row[self._arcs] = row
            self._centre[self._arcs], self._sweep[self._arcs] = arc
            self._arcs += 1
        self._feed[row], self._line[row] = feed, line
        self._count += 1

    def table(self) -> MoveTable:
        """All moves so far; its columns cannot be written, since starts and ends share them."""
        count, arcs = self._count, self._arcs
        for column in self.columns:
            column.flags.writeable = False
        return MoveTable(
            kind=self._kind[:count],
            start=self._path[:count],
            end=self._path[1 : count + 1],
            arcs=Arcs(row=self._row[:arcs], centre=self._centre[:arcs], sweep=self._sweep[:arcs]),
            feed=self._feed[:count],
            line=self._line[:count],
        )
