"""What a relief asks for, as the check reads it from the job by itself: depths in the cells of the
stock's grid, and what of them a cutter can reach.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.field.dilate import dilate
from toolpath.field.grid import Grid
from toolpath.job.model import Cutter, Nut, Relief

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]

_MOST_PARTS = 4
"""Places a side at which each cell is looked at, at most."""


def deepest_asked(cut: Relief, grid: Grid) -> HeightArray:
    """(rows, columns) the greatest depth that a relief asks for about each cell, its neighbours
    with it: what is deeper is overcut. Beyond the map as at its edge."""
    from scipy import ndimage

    ground = _sampled(cut, grid)
    return np.asarray(-ndimage.minimum_filter(ground, size=3, mode="nearest"), dtype=np.float32)


def highest_asked(cut: Relief, grid: Grid, wall: NDArray[np.bool_], nut: Nut) -> HeightArray:
    """(rows, columns) the height that nothing within two cells of each need stand over, page
    frame: the ground, or where the thinnest cutter does not reach it, the least that this leaves.

    `wall` are cells that stay at the height of the face.
    """
    from scipy import ndimage

    cutter = min(cut.finishers, key=lambda each: each.radius)
    ground = np.where(wall, np.float32(0.0), _sampled(cut, grid, highest=True).astype(np.float32))
    table = _table(cutter, nut, grid.cell)
    least = -dilate(-dilate(ground, table), table)
    return np.asarray(ndimage.maximum_filter(least, size=5, mode="nearest"), dtype=np.float32)


def _table(cutter: Cutter, nut: Nut, cell: float) -> HeightArray:
    """Height of the flutes above the tip by cell offset, middle to middle."""
    count = math.ceil(cutter.radius / cell)
    steps = np.arange(-count, count + 1) * cell
    flutes = profile_of(cutter, nut).only(FLUTES)
    heights = flutes.height(np.hypot(steps[:, None], steps[None, :]))
    return np.ascontiguousarray(heights, dtype=np.float32)


def _sampled(cut: Relief, grid: Grid, *, highest: bool = False) -> FloatArray:
    """(rows, columns) heights of the map, linear between its samples, at the middle of each cell,
    or the least (`highest`: the greatest) of some places in it where samples lie closer than
    cells."""
    step = min(cut.ground.step)
    parts = min(_MOST_PARTS, max(1, math.ceil(grid.cell / step)))
    offsets = (np.arange(parts) + 0.5) / parts - 0.5
    x, y = grid.centres()
    taken, most = (np.maximum, -np.inf) if highest else (np.minimum, np.inf)
    found = np.full(grid.shape, most)
    for dx in offsets * grid.cell:
        for dy in offsets * grid.cell:
            taken(found, _heights(cut, x + dx, y + dy), out=found)
    return found


def _heights(cut: Relief, x: FloatArray, y: FloatArray) -> FloatArray:
    """The map over x (columns,) and y (rows,): turned back about its middle, counted in steps."""
    from scipy import ndimage

    ground = cut.ground
    rows, columns = ground.z.shape
    off_x, off_y = x[None, :] - ground.at[0], y[:, None] - ground.at[1]
    c, s = math.cos(ground.turn), math.sin(ground.turn)
    along = (off_x * c + off_y * s) / ground.size[0] + 0.5
    across = (off_y * c - off_x * s) / ground.size[1] + 0.5
    places = np.stack([across * (rows - 1), along * (columns - 1)])
    return np.asarray(ndimage.map_coordinates(ground.z, places, order=1, mode="nearest"))
