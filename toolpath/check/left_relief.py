"""Where the floor of a relief rises over pieces: each place with its size and the piece.

Blank frame, millimetres. Judged on the emitted text, at the middles of cells. What the form of the
thinnest cutter leaves of the map is none of it.
"""

from __future__ import annotations

from typing import TypeGuard

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.blank.placed import page_top
from toolpath.blank.shadow import shadow
from toolpath.check.against import asked_of, box_of, cells_of, part_of
from toolpath.check.areas import outward
from toolpath.check.frames import frame_of
from toolpath.check.left import PILLAR, SLACK, Spot, Why
from toolpath.check.middles import at_middles
from toolpath.check.reliefs import ground_at
from toolpath.check.stock import Stock
from toolpath.field.grid import Grid
from toolpath.job.model import Cut, IfBlocked, Job, Piece, Relief, Rule

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_RIM = 1.5
"""Cells along a wall that are not looked at."""
_TOLD = 0.5
"""What is smaller, mm², is not told."""


def rises(cut: Cut) -> TypeGuard[Relief]:
    """Whether a cut is a relief whose floor may rise."""
    return isinstance(cut, Relief) and cut.if_blocked is IfBlocked.RISE


def left_over_pieces(job: Job, cut: Cut, stock: Stock) -> tuple[Spot, ...]:
    """What pieces make a relief leave, in a stock that all programs of its face have worked on;
    job : that of the face; largest first. A place in reach of two pieces counts as the first's."""
    if not rises(cut):
        return ()
    area = outward(cut.outline).buffer(-_RIM * stock.grid.cell)
    box = box_of(area, stock.grid)
    part = part_of(stock.grid, box)
    if not part.count:
        return ()
    frame = frame_of(job, cut.face)
    z = at_middles(stock.faces[cut.face], part, frame, job.machine.nut)
    high = cells_of(area, stock.grid, box) & (z > SLACK + asked_of(job, cut, stock.grid, box))
    found: list[Spot] = []
    for piece in job.pieces:
        mine = high & _about(job, cut, piece, part)
        high &= ~mine
        found += _spots(mine, z - ground_at(cut, part), part, (cut.name, piece.name))
    return tuple(sorted(found, key=lambda spot: -spot.area))


def _about(job: Job, cut: Relief, piece: Piece, part: Grid) -> BoolArray:
    """(rows, columns) the cells within a cutter's reach of what a kept piece needs."""
    need = job.need(piece)
    if piece.rule is not Rule.KEEP or page_top(job.blank, piece, cut.face) + need <= -cut.depth:
        return np.zeros(part.shape, dtype=np.bool_)
    wide = need + PILLAR + max(cutter.radius for cutter in cut.finishers)
    zone = shadow(piece, drifted=True, grow=wide)
    shapely.prepare(zone)
    x, y = np.meshgrid(*part.centres())
    return np.asarray(shapely.contains_xy(zone, x, y), dtype=np.bool_)


def _spots(cells: BoolArray, over: FloatArray, part: Grid, names: tuple[str, str]) -> list[Spot]:
    """The places of some cells that hang together, each where it is widest."""
    from scipy import ndimage

    groups, count = ndimage.label(cells, np.ones((3, 3), dtype=np.bool_))
    inward = ndimage.distance_transform_edt(np.pad(cells, 1))[1:-1, 1:-1]
    x, y = part.centres()
    found = []
    for number in range(1, count + 1):
        here = groups == number
        area = float(here.sum()) * part.cell**2
        if area < _TOLD:
            continue
        row, column = divmod(int(np.where(here, inward, 0.0).argmax()), part.columns)
        found.append(
            Spot(
                cut=names[0],
                at=(float(x[column]), float(y[row])),
                area=area,
                width=(2.0 * float(inward[row, column]) - 1.0) * part.cell,
                height=float(over[here].max()),
                why=Why.PIECE,
                of=names[1],
            )
        )
    return found
