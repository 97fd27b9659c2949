"""Feed moves as short straight chords, for what they take away of the stock."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.paths import arc_radii, boxes
from toolpath.job.model import Cutter
from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Bounds = tuple[float, float, float, float]

SAGITTA = 0.001
"""Largest distance of a chord from its arc, mm, where stock is judged exactly."""
COARSE = 0.01
"""The same for the height fields, mm: a twentieth of the usual cell. The sweeps allow for it, so it
decides how much is left to exact judgement, and how long the sweeps take."""

_AT_ONCE = 8192
"""Moves whose chords are made together: memory only."""
_RUN, _RUNS = 64, 256
"""Moves that are looked at together before one by one, and so many of these at once: speed and
memory only."""
_ROUND = 1e-6
"""What boxes of runs are grown by, mm, for the rounding of the chords in them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chords:
    """Straight pieces of feed moves of one program, program frame: start, end (n, 3), the move
    `row` (n,) that each belongs to, and the cutter that made them."""

    start: FloatArray
    end: FloatArray
    row: IntArray
    cutter: Cutter

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: NDArray[np.bool_] | slice) -> Chords:
        """Those chosen by a mask or a slice."""
        return Chords(
            start=self.start[which],
            end=self.end[which],
            row=self.row[which],
            cutter=self.cutter,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Feeds:
    """The feed moves of one program as chords within `sagitta`, which are made where they are
    asked for: a program of a million lines has more of them than are held at once."""

    table: MoveTable = field(repr=False)
    cutter: Cutter
    sagitta: float
    low: FloatArray = field(repr=False)
    high: FloatArray = field(repr=False)
    """Least and greatest x, y (r, 2) of the tip in the feed moves of each run of `_RUN` moves, NaN
    where there are none."""
    made: Chords | None = field(repr=False)
    """All of them, if the moves are few: those near a place are asked for again and again."""

    @classmethod
    def of(cls, table: MoveTable, cutter: Cutter, sagitta: float = SAGITTA) -> Feeds:
        """Those of a table whose moves are all known."""
        low, high = _boxes_of_runs(table)
        made = chords_of(table, cutter, sagitta) if len(table) <= _AT_ONCE else None
        return cls(table=table, cutter=cutter, sagitta=sagitta, low=low, high=high, made=made)

    def within(self, sagitta: float) -> Feeds:
        """The same moves with chords of another sagitta."""
        made = None if self.made is None else chords_of(self.table, self.cutter, sagitta)
        return replace(self, sagitta=sagitta, made=made)

    def parts(self, first: int = 0, last: int | None = None) -> Iterator[Chords]:
        """The chords of the moves first up to but not last, in order, some moves at once."""
        last = len(self.table) if last is None else last
        for at in range(first, last, _AT_ONCE):
            yield self.between(at, min(at + _AT_ONCE, last))

    def between(self, first: int, last: int) -> Chords:
        """The chords of the moves first up to but not last."""
        if self.made is not None:
            low, high = np.searchsorted(self.made.row, [first, last])
            return self.made.take(slice(low, high))
        return self._of_rows(first + np.flatnonzero(self.table.kind[first:last] != Kind.RAPID))

    def about(self, bounds: Bounds, reach: float = 0.0) -> Chords:
        """Chords in order, among them all that come within `reach` of a box in plan, program
        frame, along x and along y."""
        reach += _ROUND
        under = self.low <= np.array(bounds[2:]) + reach
        over = self.high >= np.array(bounds[:2]) - reach
        hit: NDArray[np.bool_] = np.asarray((under & over).all(axis=1), dtype=np.bool_)
        if self.made is not None:
            return self.made.take(hit[self.made.row // _RUN])
        rows = (np.flatnonzero(hit)[:, None] * _RUN + np.arange(_RUN)).ravel()
        rows = rows[rows < len(self.table)]
        return self._of_rows(rows[self.table.kind[rows] != Kind.RAPID])

    def _of_rows(self, rows: IntArray) -> Chords:
        """The chords of some feed moves."""
        start, end, row = _made(self.table, rows, self.sagitta)
        return Chords(start=start, end=end, row=row, cutter=self.cutter)


def chords_of(table: MoveTable, cutter: Cutter, sagitta: float = SAGITTA) -> Chords:
    """The chords of all feed moves of a table, in order; arcs within `sagitta`."""
    start, end, row = _made(table, np.flatnonzero(table.kind != Kind.RAPID), sagitta)
    return Chords(start=start, end=end, row=row, cutter=cutter)


def _made(
    table: MoveTable, feed: IntArray, sagitta: float
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Starts and ends (n, 3) of the chords of feed moves, and the move of each."""
    count = np.ones(len(feed), dtype=np.intp)
    arc = np.flatnonzero(table.kind[feed] == Kind.ARC)
    if arc.size:
        first, last, _ = arc_radii(table, feed[arc])
        radius = np.maximum(np.maximum(first, last), sagitta)
        step = 2.0 * np.arccos(1.0 - sagitta / radius)
        _, sweep = table.arcs.of(feed[arc])
        count[arc] = np.maximum(np.ceil(np.abs(sweep) / step), 1).astype(np.intp)
    row, many = np.repeat(feed, count), np.repeat(count, count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return table.at(row, within / many), table.at(row, (within + 1) / many), row


def _boxes_of_runs(table: MoveTable) -> tuple[FloatArray, FloatArray]:
    low, high = [np.empty((0, 2))], [np.empty((0, 2))]
    for at in range(0, len(table), _RUN * _RUNS):
        some = table.take(slice(at, at + _RUN * _RUNS))
        least, most = (each[:, :2] for each in boxes(some))
        rapid, heads = some.kind == Kind.RAPID, np.arange(0, len(some), _RUN)
        least[rapid] = most[rapid] = np.nan
        low.append(np.fmin.reduceat(least, heads))
        high.append(np.fmax.reduceat(most, heads))
    return np.concatenate(low), np.concatenate(high)


def below(start: FloatArray, end: FloatArray, height: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The parts of segments that lie at or below a height each; every one has such a part."""
    fall = end[:, 2] - start[:, 2]
    share = (height - start[:, 2]) / np.where(fall == 0.0, 1.0, fall)
    share = np.clip(share, 0.0, 1.0)
    cut = start + (end - start) * share[:, None]
    first = np.where((start[:, 2] > height)[:, None], cut, start)
    last = np.where((end[:, 2] > height)[:, None], cut, end)
    return first, last
