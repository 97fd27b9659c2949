"""What each feed move takes at once: how wide the cutter is engaged, and how deep.

Measured on a coarse field, for notes: right to a cell of `CELL` in width, and in depth where the
floor before was level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.chords import Chords
from toolpath.check.frames import Frame
from toolpath.check.report import Code, Engaged, Finding, Slot
from toolpath.check.stock import Stock, page_xyz
from toolpath.check.words import line_words, point
from toolpath.field.grid import Grid
from toolpath.field.sweep import Taken, bite
from toolpath.job.model import Job, Shape, Side
from toolpath.motion.moves import MoveTable
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]

CELL = 0.4
"""Cells of the coarse field, mm, or those of the job where they are larger."""
_STRETCH = 2.0
"""Engaged width is looked at over so much path at least, mm; shorter moves are put together."""
_AT_ONCE = 65536
"""Chords that are looked at together: memory only."""
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
    """What each chord took, and its length in plan."""

    chords: Chords
    taken: Taken
    length: FloatArray


def bites_of(stock: Stock, side: Side, chords: Chords, frame: Frame, job: Job) -> Bites:
    """What a program takes of a stock; `chords` are all of its feed moves."""
    step = max(1, round(CELL / stock.grid.cell))
    grid, z = _coarse(stock, side, step)
    profile = profile_of(chords.cutter, job.machine.nut).only(FLUTES)
    limit, found, length = chords.cutter.stepdown + _OVER, list[Taken](), list[FloatArray]()
    for at in range(0, max(len(chords), 1), _AT_ONCE):
        start = page_xyz(frame, chords.start[at : at + _AT_ONCE])
        end = page_xyz(frame, chords.end[at : at + _AT_ONCE])
        found.append(bite(z, grid, start, end, profile, limit=limit))
        length.append(np.hypot(*(end - start)[:, :2].T))
    taken = Taken(
        area=np.concatenate([each.area for each in found]),
        deep=np.concatenate([each.deep for each in found]),
        depth=np.concatenate([each.depth for each in found]),
    )
    return Bites(chords=chords, taken=taken, length=np.concatenate(length))


def engaged(bites: Bites, table: MoveTable, frame: Frame) -> Engaged | None:
    """The widest engagement of the level moves, and how much of their path is a slot; None where
    a program has none or its cutter is a drill."""
    chords = bites.chords
    fall = np.abs(chords.end[:, 2] - chords.start[:, 2])
    level = np.flatnonzero((fall <= _LEVEL * bites.length) & (bites.length > 0.0))
    if chords.cutter.shape is Shape.DRILL or not level.size:
        return None
    reach = np.cumsum(bites.length[level])
    stretch = np.floor(reach / _STRETCH).astype(np.intp)
    heads = np.flatnonzero(np.diff(stretch, prepend=-1))
    path = np.add.reduceat(bites.length[level], heads)
    width = np.add.reduceat(bites.taken.area[level], heads) / path
    width = np.minimum(width, chords.cutter.diameter)
    widest = int(width.argmax())
    row = int(level[heads[widest]])
    cutting, lines = width > 0.0, table.line[chords.row[level]]
    return Engaged(
        widest=float(width[widest]),
        line=int(lines[heads[widest]]),
        at=point(frame.to_blank(chords.start[row])),
        length=float(path[cutting].sum()),
        slots=_slots(width >= _FULL * chords.cutter.diameter, path, lines[heads]),
    )


def _slots(full: NDArray[np.bool_], path: FloatArray, lines: NDArray[np.int64]) -> tuple[Slot, ...]:
    """Runs of stretches that cut the full width."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], full, [False]]).astype(np.int8)))
    return tuple(
        Slot(first=int(lines[a]), last=int(lines[b - 1]), length=float(path[a:b].sum()))
        for a, b in edges.reshape(-1, 2).tolist()
    )


def stepdown_notes(bites: Bites, table: MoveTable, frame: Frame, job: Job) -> list[Finding]:
    """A note where moves take more than the cutter's stepdown at once."""
    cutter = bites.chords.cutter
    if cutter.shape is Shape.DRILL:
        return []
    rows, first = np.unique(bites.chords.row, return_index=True)
    deep = np.add.reduceat(bites.taken.deep, first)
    path = np.add.reduceat(bites.length, first) + cutter.diameter
    rows = rows[deep > _WIDE * cutter.diameter * path]
    if not rows.size:
        return []
    depth = np.where(np.isin(bites.chords.row, rows), bites.taken.depth, 0.0)
    worst = int(depth.argmax())
    tip = bites.chords.end[worst]
    lines = table.line[rows]
    text = (
        f"{_moves(len(rows))} up to {show_mm(float(depth[worst]), job.unit)} at once, the "
        f'stepdown of cutter "{cutter.name}" is {show_mm(cutter.stepdown, job.unit)}'
        f"{line_words(int(lines.min()), int(lines.max()))}"
    )
    return [
        Finding(
            code=Code.STEPDOWN,
            message=text,
            line=int(table.line[bites.chords.row[worst]]),
            at=point(frame.to_blank(tip)),
            at_program=point(tip),
            gap=float(depth[worst]),
            needed=cutter.stepdown,
            refuses=False,
        )
    ]


def _moves(count: int) -> str:
    return "1 move takes" if count == 1 else f"{count} moves take"


def _coarse(stock: Stock, side: Side, step: int) -> tuple[Grid, NDArray[np.float32]]:
    """The field of a face with cells `step` times as wide, each as high as its middle one."""
    upper = stock.faces[side].upper
    middle = step // 2
    z = np.ascontiguousarray(upper[middle::step, middle::step])
    grid = stock.grid
    rows, columns = z.shape
    coarse = Grid(x0=grid.x0, y0=grid.y0, cell=grid.cell * step, rows=rows, columns=columns)
    return coarse, z.copy()
