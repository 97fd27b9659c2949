"""Moves of the cutter's tip: one at a time for planning, as columns for judging.

Frame: the maker of a table says which; x right, y up, z out of the face, millimetres.
A position that is not known (before a program's first word on an axis) is NaN.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
LineArray = NDArray[np.int32]
"""Numbers of program lines."""
_AT_ONCE = 65536
"""Moves that are looked at together: memory only."""
Point = tuple[float, float, float]


class Kind(IntEnum):
    """What a move is: a rapid (G0), a straight feed (G1), an arc or helix (G2, G3)."""

    RAPID = 0
    LINE = 1
    ARC = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One move of the tip.

    `centre` (x, y) and `sweep` (radians, counter-clockwise positive, at most one turn either
    way) belong to arcs in the XY plane; z changes evenly with the sweep. `feed` is mm/min, 0 for
    rapids. `line` is the program line, 0 while planned.
    """

    kind: Kind
    start: Point
    end: Point
    centre: tuple[float, float] = (math.nan, math.nan)
    sweep: float = 0.0
    feed: float = 0.0
    line: int = 0

    @property
    def length(self) -> float:
        """Length of the path in space, mm (along the helix for a helix)."""
        dx, dy, dz = (b - a for a, b in zip(self.start, self.end, strict=True))
        if self.kind is Kind.ARC:
            radius = math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])
            return math.hypot(radius * self.sweep, dz)
        return math.sqrt(dx * dx + dy * dy + dz * dz)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arcs:
    """What the arcs of a table have beside its columns: their rows (a,), rising, all of them; the
    centre (a, 2) of each and its sweep (a,), radians."""

    row: NDArray[np.intp]
    centre: FloatArray
    sweep: FloatArray

    @classmethod
    def none(cls) -> Arcs:
        """Those of a table without arcs."""
        return cls(row=np.empty(0, dtype=np.intp), centre=np.empty((0, 2)), sweep=np.empty(0))

    def of(self, row: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
        """Centres (k, 2) and sweeps (k,) of rows (k,) that are arcs."""
        which = np.searchsorted(self.row, row)
        return self.centre[which], self.sweep[which]

    def between(self, first: int, last: int) -> Arcs:
        """Those of a table that begins with row first and ends before row last; no copy."""
        low, high = np.searchsorted(self.row, [first, last])
        return Arcs(
            row=self.row[low:high] - first,
            centre=self.centre[low:high],
            sweep=self.sweep[low:high],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MoveTable:
    """Moves as columns: n rows, in program order.

    kind (n,) int8; start, end (n, 3); feed (n,) mm/min; line (n,) int32; what arcs have besides by
    itself, since most programs have few.
    """

    kind: NDArray[np.int8]
    start: FloatArray
    end: FloatArray
    arcs: Arcs
    feed: FloatArray
    line: LineArray

    @classmethod
    def of(cls, moves: Iterable[Move]) -> MoveTable:
        """The table of a sequence of moves."""
        rows = list(moves)
        kind = np.array([m.kind for m in rows], dtype=np.int8)
        arcs = [m for m in rows if m.kind == Kind.ARC]
        return cls(
            kind=kind,
            start=np.array([m.start for m in rows], dtype=np.float64).reshape(-1, 3),
            end=np.array([m.end for m in rows], dtype=np.float64).reshape(-1, 3),
            arcs=Arcs(
                row=np.flatnonzero(kind == Kind.ARC),
                centre=np.array([m.centre for m in arcs], dtype=np.float64).reshape(-1, 2),
                sweep=np.array([m.sweep for m in arcs], dtype=np.float64),
            ),
            feed=np.array([m.feed for m in rows], dtype=np.float64),
            line=np.array([m.line for m in rows], dtype=np.int32),
        )

    def __len__(self) -> int:
        return len(self.kind)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_] | slice) -> MoveTable:
        """The rows chosen by an index or a mask, or, without a copy, by a slice of step 1."""
        kind = self.kind[which]
        return MoveTable(
            kind=kind,
            start=self.start[which],
            end=self.end[which],
            arcs=self._arcs_of(which, kind),
            feed=self.feed[which],
            line=self.line[which],
        )

    def _arcs_of(
        self, which: NDArray[np.intp] | NDArray[np.bool_] | slice, kind: NDArray[np.int8]
    ) -> Arcs:
        """The arcs of the rows chosen, whose kinds are given."""
        if isinstance(which, slice):
            first, last, step = which.indices(len(self))
            assert step == 1
            return self.arcs.between(first, max(first, last))
        row = np.flatnonzero(kind == Kind.ARC)
        if not row.size:
            return Arcs.none()
        index = np.flatnonzero(which) if which.dtype == np.bool_ else which
        centre, sweep = self.arcs.of(np.asarray(index[row] % len(self), dtype=np.intp))
        return Arcs(row=row, centre=centre, sweep=sweep)

    @property
    def centre(self) -> FloatArray:
        """(n, 2) centres of arcs, NaN off arcs: a column made anew, for tables that are small."""
        found = np.full((len(self), 2), np.nan)
        found[self.arcs.row] = self.arcs.centre
        return found

    @property
    def sweep(self) -> FloatArray:
        """(n,) sweeps of arcs, 0 off arcs: a column made anew, for tables that are small."""
        found = np.zeros(len(self))
        found[self.arcs.row] = self.arcs.sweep
        return found

    def parts(self) -> Iterator[MoveTable]:
        """All rows, some at once, without a copy."""
        for at in range(0, len(self), _AT_ONCE):
            yield self.take(slice(at, at + _AT_ONCE))

    @property
    def known(self) -> NDArray[np.bool_]:
        """(n,) whether both ends of a move are known on all axes."""
        both = np.concatenate([self.start, self.end], axis=1)
        return np.asarray(np.isfinite(both).all(axis=1), dtype=np.bool_)

    def lengths(self) -> FloatArray:
        """(n,) lengths in space, mm, along the helix for a helix; NaN where an end is unknown."""
        return np.concatenate([np.empty(0), *(part._lengths() for part in self.parts())])

    def _lengths(self) -> FloatArray:
        delta = self.end - self.start
        length = np.asarray(np.sqrt(np.einsum("ij,ij->i", delta, delta)), dtype=np.float64)
        row = self.arcs.row
        radius = np.hypot(*(self.start[row, :2] - self.arcs.centre).T)
        length[row] = np.hypot(radius * self.arcs.sweep, delta[row, 2])
        return length

    def at(self, row: NDArray[np.intp], t: FloatArray) -> FloatArray:
        """(k, 3) positions at the fraction t (k,) in 0..1 of the moves `row` (k,).

        Along an arc the radius goes evenly from that of its start to that of its end, which
        differ only by what the standard tolerates.
        """
        start, end = self.start[row], self.end[row]
        place = start + (end - start) * t[:, None]
        arcs = self.kind[row] == Kind.ARC
        if arcs.any():
            centre, sweep = self.arcs.of(row[arcs])
            from_centre = start[arcs, :2] - centre
            first = np.hypot(*from_centre.T)
            last = np.hypot(*(end[arcs, :2] - centre).T)
            radius = first + (last - first) * t[arcs]
            angle = np.arctan2(from_centre[:, 1], from_centre[:, 0])
            angle += sweep * t[arcs]
            place[arcs, 0] = centre[:, 0] + radius * np.cos(angle)
            place[arcs, 1] = centre[:, 1] + radius * np.sin(angle)
        return place

    def bounds(self) -> FloatArray:
        """(2, 3) least and greatest tip position over all moves, arcs by their true extremes.

        Unknown coordinates are passed over; an axis that is never known is NaN.
        """
        low, high = np.full((2, 3), np.nan)
        for part in self.parts():
            points = [part.start, part.end]
            arcs = np.flatnonzero((part.kind == Kind.ARC) & part.known)
            if arcs.size:
                points.append(part._quadrants(arcs))
            for each in points:
                low = np.fmin(low, np.fmin.reduce(each, axis=0, initial=np.nan))
                high = np.fmax(high, np.fmax.reduce(each, axis=0, initial=np.nan))
        return np.stack([low, high])

    def _quadrants(self, arcs: NDArray[np.intp]) -> FloatArray:
        """Points where arcs pass the four compass directions of their centres."""
        centre, sweep = self.arcs.of(arcs)
        offset = self.start[arcs, :2] - centre
        first = np.arctan2(offset[:, 1], offset[:, 0])
        found = []
        for quarter in range(4):
            turn = np.mod((quarter * math.pi / 2 - first) * np.sign(sweep), 2 * math.pi)
            hit = turn <= np.abs(sweep)
            if hit.any():
                found.append(self.at(arcs[hit], turn[hit] / np.abs(sweep[hit])))
        return np.concatenate(found) if found else np.empty((0, 3))
