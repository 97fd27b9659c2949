"""What each feed move takes at once: how wide the cutter is engaged, and how deep.

Measured on a coarse field, for notes: right to a cell of `CELL` in width, and in depth where the
floor before was level.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.chords import Chords, Feeds
from toolpath.check.frames import Frame
from toolpath.check.report import Code, Engaged, Finding, Slot
from toolpath.check.stock import Stock, page_xyz
from toolpath.check.words import line_words, point
from toolpath.field.grid import Grid
from toolpath.field.sweep import Taken, bite
from toolpath.job.model import Cutter, Job, Shape, Side
from toolpath.motion.moves import LineArray
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]
_Stretches = tuple[FloatArray, LineArray, NDArray[np.bool_], NDArray[np.bool_]]

CELL = 0.4
"""Cells of the coarse field, mm, or those of the job where they are larger."""
_STRETCH = 2.0
"""Engaged width is looked at over so much path at least, mm; shorter moves are put together."""
_LEVEL = 0.01
"""Slope up to which a move counts as level: ramps take the full width anyhow."""
_FULL = 0.9
"""Share of the diameter from which a cutter is taken to be in a slot."""
_OVER = 0.05
"""What may be taken deeper than the stepdown without a word, mm."""
_WIDE = 0.15
"""Share of the diameter that must be taken so deep: a last pass along a wall takes it all at once,
but a sliver."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bites:
    """What a program took, as far as anything is said of it."""

    cutter: Cutter
    level: Level
    deep: Deep


def bites_of(stock: Stock, side: Side, feeds: Feeds, frame: Frame, job: Job) -> Bites:
    """What a program takes of a stock; `feeds` are its feed moves."""
    level, deep = Level(diameter=feeds.cutter.diameter), Deep(diameter=feeds.cutter.diameter)
    for part in _parts(stock, side, feeds, frame, job):
        level.take(part)
        deep.take(part)
    return Bites(cutter=feeds.cutter, level=level, deep=deep)


def engaged(bites: Bites, frame: Frame) -> Engaged | None:
    """The widest engagement of the level moves, and how much of their path is a slot; None where
    a program has none or its cutter is a drill."""
    if bites.cutter.shape is Shape.DRILL:
        return None
    path, line, cutting, full = bites.level.stretches()
    if not len(path):
        return None
    return Engaged(
        widest=bites.level.widest,
        line=bites.level.line,
        at=point(frame.to_blank(bites.level.at)),
        length=float(path[cutting].sum()),
        slots=_slots(full, path, line),
    )


def _slots(full: NDArray[np.bool_], path: FloatArray, lines: LineArray) -> tuple[Slot, ...]:
    """Runs of stretches that cut the full width."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], full, [False]]).astype(np.int8)))
    return tuple(
        Slot(first=int(lines[a]), last=int(lines[b - 1]), length=float(path[a:b].sum()))
        for a, b in edges.reshape(-1, 2).tolist()
    )


def stepdown_notes(bites: Bites, frame: Frame, job: Job) -> list[Finding]:
    """A note where moves take more than the cutter's stepdown at once."""
    cutter, deep = bites.cutter, bites.deep
    if cutter.shape is Shape.DRILL or not deep.moves:
        return []
    text = (
        f"{_moves(deep.moves)} up to {show_mm(deep.depth, job.unit)} at once, the "
        f'stepdown of cutter "{cutter.name}" is {show_mm(cutter.stepdown, job.unit)}'
        f"{line_words(deep.first, deep.last)}"
    )
    return [
        Finding(
            code=Code.STEPDOWN,
            message=text,
            line=deep.line,
            at=point(frame.to_blank(deep.tip)),
            at_program=point(deep.tip),
            gap=deep.depth,
            needed=cutter.stepdown,
            refuses=False,
        )
    ]


def _moves(count: int) -> str:
    return "1 move takes" if count == 1 else f"{count} moves take"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """The chords of some whole moves, the line of each chord, what it took, its length in plan."""

    chords: Chords
    line: LineArray
    taken: Taken
    length: FloatArray


def _parts(stock: Stock, side: Side, feeds: Feeds, frame: Frame, job: Job) -> Iterator[_Part]:
    """All chords in order."""
    step = max(1, round(CELL / stock.grid.cell))
    grid, z = _coarse(stock, side, step)
    profile = profile_of(feeds.cutter, job.machine.nut).only(FLUTES)
    limit = feeds.cutter.stepdown + _OVER
    for chords in feeds.parts():
        start, end = page_xyz(frame, chords.start), page_xyz(frame, chords.end)
        yield _Part(
            chords=chords,
            line=feeds.table.line[chords.row],
            taken=bite(z, grid, start, end, profile, limit=limit),
            length=np.hypot(*(end - start)[:, :2].T),
        )


@dataclass(slots=True, kw_only=True, eq=False)
class Level:
    """Level chords in stretches of so much path: the widest engagement of one and where that
    begins, line and tip (3,), and of each its length, line, whether it cuts and its full width."""

    diameter: float
    widest: float = -np.inf
    line: int = 0
    at: FloatArray = field(default_factory=lambda: np.zeros(3))
    _found: list[_Stretches] = field(default_factory=list)
    _reach: float = 0.0
    _open: _Chords | None = None
    """The last stretch, which chords to come may go on with."""

    def take(self, part: _Part) -> None:
        """The next chords."""
        fall = np.abs(part.chords.end[:, 2] - part.chords.start[:, 2])
        level = np.flatnonzero((fall <= _LEVEL * part.length) & (part.length > 0.0))
        if not level.size:
            return
        length = part.length[level]
        reach = np.cumsum(np.concatenate([[self._reach], length]))[1:]
        self._reach = float(reach[-1])
        chords = _Chords(
            stretch=np.floor(reach / _STRETCH).astype(np.intp),
            length=length,
            area=part.taken.area[level],
            line=part.line[level],
            start=part.chords.start[level],
        )
        chords = chords if self._open is None else self._open.then(chords)
        last = int(np.searchsorted(chords.stretch, chords.stretch[-1]))
        self._end(chords.take(slice(0, last)))
        self._open = chords.take(slice(last, None))

    def stretches(self) -> _Stretches:
        """Length, line, whether it cuts and its full width, of each (n,); no more is taken."""
        if self._open is not None:
            self._end(self._open)
            self._open = None
        none = np.empty(0), np.empty(0, np.int32), np.empty(0, np.bool_), np.empty(0, np.bool_)
        path, line, cutting, full = zip(none, *self._found, strict=True)
        joined = np.concatenate
        return joined(path), joined(line), joined(cutting), joined(full)

    def _end(self, chords: _Chords) -> None:
        """These are whole stretches."""
        if not len(chords.length):
            return
        heads = np.flatnonzero(np.diff(chords.stretch, prepend=-1))
        path = np.add.reduceat(chords.length, heads)
        width = np.minimum(np.add.reduceat(chords.area, heads) / path, self.diameter)
        widest = int(width.argmax())
        if width[widest] > self.widest:
            self.widest = float(width[widest])
            self.line = int(chords.line[heads[widest]])
            self.at = chords.start[heads[widest]]
        self._found.append((path, chords.line[heads], width > 0.0, width >= _FULL * self.diameter))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chords:
    """Level chords: the stretch that each belongs to, rising, length, area taken, line, start."""

    stretch: NDArray[np.intp]
    length: FloatArray
    area: FloatArray
    line: LineArray
    start: FloatArray

    def take(self, some: slice) -> _Chords:
        return _Chords(
            stretch=self.stretch[some],
            length=self.length[some],
            area=self.area[some],
            line=self.line[some],
            start=self.start[some],
        )

    def then(self, more: _Chords) -> _Chords:
        return _Chords(
            stretch=np.concatenate([self.stretch, more.stretch]),
            length=np.concatenate([self.length, more.length]),
            area=np.concatenate([self.area, more.area]),
            line=np.concatenate([self.line, more.line]),
            start=np.concatenate([self.start, more.start]),
        )


@dataclass(slots=True, kw_only=True, eq=False)
class Deep:
    """How many moves took more than the stepdown at once, their first and last line; the most that
    a chord of them took, mm, its line and where it ends (3,)."""

    diameter: float
    moves: int = 0
    first: int = 0
    last: int = 0
    depth: float = -np.inf
    line: int = 0
    tip: FloatArray = field(default_factory=lambda: np.zeros(3))

    def take(self, part: _Part) -> None:
        """The next chords."""
        rows, heads = np.unique(part.chords.row, return_index=True)
        if not rows.size:
            return
        path = np.add.reduceat(part.length, heads) + self.diameter
        many = np.add.reduceat(part.taken.deep, heads) > _WIDE * self.diameter * path
        if not many.any():
            return
        lines = part.line[heads[many]]
        self.first = min(int(lines.min()), self.first) if self.moves else int(lines.min())
        self.last = max(int(lines.max()), self.last)
        self.moves += len(lines)
        count = np.diff(np.append(heads, len(part.line)))
        depth = np.where(np.repeat(many, count), part.taken.depth, 0.0)
        worst = int(depth.argmax())
        if depth[worst] > self.depth:
            self.depth, self.line = float(depth[worst]), int(part.line[worst])
            self.tip = part.chords.end[worst]


def _coarse(stock: Stock, side: Side, step: int) -> tuple[Grid, NDArray[np.float32]]:
    """The field of a face with cells `step` times as wide, each as high as its middle one."""
    upper = stock.faces[side].upper
    middle = step // 2
    z = np.ascontiguousarray(upper[middle::step, middle::step])
    grid = stock.grid
    rows, columns = z.shape
    coarse = Grid(x0=grid.x0, y0=grid.y0, cell=grid.cell * step, rows=rows, columns=columns)
    return coarse, z.copy()
