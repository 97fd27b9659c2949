"""What is left at the middles of cells, worked out there and not for whole cells.

A field that never lies under what is left anywhere in a cell stands too high by what a flank rises
across the cell: under a vee of 60 degrees, 0.2 mm for cells of 0.2 mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.chords import Chords
from toolpath.check.frames import Frame
from toolpath.check.stock import FaceStock, page_xyz
from toolpath.field.carve import Nodes, carve, radii_of
from toolpath.field.grid import Grid
from toolpath.job.model import Nut

FloatArray = NDArray[np.float64]

_APART = 0.25
"""Places of the tip along a move, in cells."""
_AT_ONCE = 200_000
"""Places of the tip that are held at once: memory only."""


def at_middles(face: FaceStock, grid: Grid, frame: Frame, nut: Nut) -> FloatArray:
    """(rows, columns) heights, page frame, that the feed moves of a face left at the middles of the
    cells of a grid, which may be a part of the stock's; 0 where they took nothing.

    Errs high: by what the cutter rises over an eighth of a cell at most.
    """
    x, y = grid.centres()
    nodes = Nodes(x0=float(x[0]), y0=float(y[0]), step=grid.cell, z=np.zeros(grid.shape))
    ends = np.array([[x[0], y[0], 0.0], [x[-1], y[-1], 0.0]])
    corners = np.sort(frame.to_program(ends)[:, :2], axis=0)
    bounds = (*corners[0].tolist(), *corners[1].tolist())
    for feeds in face.cut:
        chords = feeds.about(bounds, feeds.cutter.radius)
        flutes = profile_of(feeds.cutter, nut).only(FLUTES)
        heights = flutes.height(radii_of(feeds.cutter.radius))
        for first in range(0, len(chords), _AT_ONCE):
            some = chords.take(slice(first, first + _AT_ONCE))
            tips = page_xyz(frame, _tips(some, _APART * grid.cell))
            carve(nodes, tips[tips[:, 2] < 0.0], heights, feeds.cutter.radius)
    return nodes.z


def _tips(chords: Chords, apart: float) -> FloatArray:
    """(n, 3) places of the tip along chords, both ends with them."""
    delta = chords.end - chords.start
    count = np.maximum(1, np.ceil(np.hypot(delta[:, 0], delta[:, 1]) / apart)).astype(np.intp)
    row = np.repeat(np.arange(len(chords)), count + 1)
    at = np.arange(len(row)) - np.repeat(np.cumsum(count + 1) - count - 1, count + 1)
    share = at / np.repeat(count, count + 1)
    return np.asarray(chords.start[row] + delta[row] * share[:, None])
