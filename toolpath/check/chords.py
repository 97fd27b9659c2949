"""Feed moves as short straight chords, for what they take away of the stock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.check.paths import arc_radii
from toolpath.job.model import Cutter
from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SAGITTA = 0.001
"""Largest distance of a chord from its arc, mm, where stock is judged exactly."""
COARSE = 0.01
"""The same for the height fields, mm: a twentieth of the usual cell. The sweeps allow for it, so it
decides how much is left to exact judgement, and how long the sweeps take."""

_AT_ONCE = 65536
"""Chords that are made together: memory only."""


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

    def between(self, first: int, last: int) -> Chords:
        """The chords of the moves first up to but not last."""
        low, high = np.searchsorted(self.row, [first, last])
        return Chords(
            start=self.start[low:high],
            end=self.end[low:high],
            row=self.row[low:high],
            cutter=self.cutter,
        )


def chords_of(table: MoveTable, cutter: Cutter, sagitta: float = SAGITTA) -> Chords:
    """The chords of all feed moves of a table, in order; arcs within `sagitta`."""
    feed = np.flatnonzero(table.kind != Kind.RAPID)
    count = np.ones(len(feed), dtype=np.intp)
    arc = np.flatnonzero(table.kind[feed] == Kind.ARC)
    if arc.size:
        first, last, _ = arc_radii(table, feed[arc])
        radius = np.maximum(np.maximum(first, last), sagitta)
        step = 2.0 * np.arccos(1.0 - sagitta / radius)
        count[arc] = np.maximum(np.ceil(np.abs(table.sweep[feed[arc]]) / step), 1).astype(np.intp)
    row = np.repeat(feed, count)
    before = np.cumsum(count) - count
    start, end = np.empty((len(row), 3)), np.empty((len(row), 3))
    for at in range(0, len(row), _AT_ONCE):
        part = slice(at, at + _AT_ONCE)
        move = np.searchsorted(feed, row[part])
        within = np.arange(at, at + len(move)) - before[move]
        start[part] = table.at(row[part], within / count[move])
        end[part] = table.at(row[part], (within + 1) / count[move])
    return Chords(start=start, end=end, row=row, cutter=cutter)


def below(start: FloatArray, end: FloatArray, height: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The parts of segments that lie at or below a height each; every one has such a part."""
    fall = end[:, 2] - start[:, 2]
    share = (height - start[:, 2]) / np.where(fall == 0.0, 1.0, fall)
    share = np.clip(share, 0.0, 1.0)
    cut = start + (end - start) * share[:, None]
    first = np.where((start[:, 2] > height)[:, None], cut, start)
    last = np.where((end[:, 2] > height)[:, None], cut, end)
    return first, last
