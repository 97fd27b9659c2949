"""The moves of a program while it is read: columns that grow."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import FloatArray, Kind, MoveTable, Point

Pair = tuple[float, float]

_FIRST = 1024
_NUMBERS = 8
"""Of a row: three of the path, two of the centre, sweep, feed, line."""


class Rows:
    """Moves so far, each from where the one before ends; the first from an unknown place."""

    def __init__(self) -> None:
        self._count = 0
        self._make(_FIRST)
        self._path[0] = math.nan

    def _make(self, most: int) -> None:
        numbers = np.empty((most + 1) * _NUMBERS)  # as one: large blocks are got in large pages
        path, centre, sweep, feed, line = np.split(numbers, (most + 1) * np.array([3, 5, 6, 7]))
        self._kind = np.empty(most, dtype=np.int8)
        self._path, self._centre = path.reshape(-1, 3), centre.reshape(-1, 2)[:most]
        self._sweep, self._feed = sweep[:most], feed[:most]
        self._line = line.view(np.int64)[:most]

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
    def columns(
        self,
    ) -> tuple[NDArray[np.int8], FloatArray, FloatArray, FloatArray, FloatArray, NDArray[np.int64]]:
        """kind, path (one row more), centre, sweep, feed, line: to be written after the last row
        and then told by `extend`."""
        return self._kind, self._path, self._centre, self._sweep, self._feed, self._line

    def extend(self, count: int) -> None:
        """So many rows are there now."""
        self._count = count

    def grow(self, expected: int = 0) -> None:
        """Make room for twice as many rows, or for as many as are expected."""
        count = self._count
        kind, path, centre, sweep, feed, line = self.columns
        self._make(max(2 * self.room, expected))
        self._kind[:count], self._centre[:count] = kind[:count], centre[:count]
        self._sweep[:count], self._feed[:count] = sweep[:count], feed[:count]
        self._line[:count], self._path[: count + 1] = line[:count], path[: count + 1]

    def add(self, kind: Kind, end: Point, arc: tuple[Pair, float], feed: float, line: int) -> None:
        """One move more; arc = (centre, sweep)."""
        if self._count == self.room:
            self.grow()
        row = self._count
        self._kind[row] = kind
        self._path[row + 1] = end
        self._centre[row], self._sweep[row] = arc
        self._feed[row], self._line[row] = feed, line
        self._count += 1

    def table(self) -> MoveTable:
        """All moves so far; its columns cannot be written, since starts and ends share them."""
        count = self._count
        for column in self.columns:
            column.flags.writeable = False
        return MoveTable(
            kind=self._kind[:count],
            start=self._path[:count],
            end=self._path[1 : count + 1],
            centre=self._centre[:count],
            sweep=self._sweep[:count],
            feed=self._feed[:count],
            line=self._line[:count],
        )
