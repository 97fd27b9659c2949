"""Straight plunges looked at closely: whether the end of the cutter meets stock under it.

Round and pointed cutters go down beside walls and over floors that the field, a cell's width too
high there, does not tell from stock. Here the stock under the cutter is put together again on
cells many times finer. Errs towards stock, by such a cell's width.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.chords import SAGITTA, Chords
from toolpath.check.frames import Frame
from toolpath.check.stock import FaceStock, page_xyz
from toolpath.field.grid import Grid
from toolpath.field.sweep import sweep_whole
from toolpath.job.model import Cutter, Nut

FloatArray = NDArray[np.float64]

SKIN = 0.03
"""What stands no more than this over the end of a cutter is shaved by it, not plunged into, mm: a
ridge between passes."""
_PARTS = (4, 16)
"""Finer cells to a cell of the field, along x and along y, one after the other."""
_HALF_DIAGONAL = 0.7072
"""Of a cell, in cells: no place of it is further from its middle."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plunge:
    """A cutter that goes straight down to `tip` (3,), program frame, into a `face`, a field over
    `grid`; `since` are the chords that may have cut there, those of earlier programs with them.

    Chords of other plunges are none of them: many short ones at one place are one deep one.
    """

    tip: FloatArray
    cutter: Cutter
    nut: Nut
    frame: Frame
    face: FaceStock = field(repr=False)
    grid: Grid
    since: tuple[Chords, ...] = field(repr=False)


def plunges_into(plunge: Plunge) -> bool:
    """Whether more than a skin of stock stands where the flutes come to."""
    box = _box(plunge)
    return all(_stands(plunge, box, parts) for parts in _PARTS)


def _box(plunge: Plunge) -> tuple[slice, slice]:
    """The rows and columns of the field under the cutter."""
    page, grid = page_xyz(plunge.frame, plunge.tip[None])[0], plunge.grid
    low = np.floor((page[:2] - plunge.cutter.radius - (grid.x0, grid.y0)) / grid.cell)
    high = np.ceil((page[:2] + plunge.cutter.radius - (grid.x0, grid.y0)) / grid.cell)
    first, last = np.maximum(low, 0).astype(int), np.maximum(high, 0).astype(int)
    return slice(first[1], last[1]), slice(first[0], last[0])


def _stands(plunge: Plunge, box: tuple[slice, slice], parts: int) -> bool:
    """The same, with cells so many times finer."""
    coarse, (rows, columns) = plunge.grid, box
    z = np.repeat(np.repeat(plunge.face.upper[box], parts, axis=0), parts, axis=1)
    fine = Grid(
        x0=coarse.x0 + columns.start * coarse.cell,
        y0=coarse.y0 + rows.start * coarse.cell,
        cell=coarse.cell / parts,
        rows=z.shape[0],
        columns=z.shape[1],
    )
    for chords in plunge.since if z.size else ():
        start, end = (page_xyz(plunge.frame, each) for each in (chords.start, chords.end))
        profile = profile_of(chords.cutter, plunge.nut).only(FLUTES)
        sweep_whole(z, fine, start, end, profile, deviation=SAGITTA)
    return bool((z > _bottom(plunge, fine) + SKIN).any())


def _bottom(plunge: Plunge, fine: Grid) -> FloatArray:
    """(rows, columns) the lowest to which the flutes come in each cell, +inf beside them."""
    x, y = fine.centres()
    u, v, tip = page_xyz(plunge.frame, plunge.tip[None])[0]
    away = np.hypot(x[None, :] - u, y[:, None] - v) - _HALF_DIAGONAL * fine.cell
    flutes = profile_of(plunge.cutter, plunge.nut).only(FLUTES)
    return np.asarray(tip + flutes.height(np.maximum(away, 0.0)), dtype=np.float64)
