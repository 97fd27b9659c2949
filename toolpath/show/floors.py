"""What the emitted moves leave, swept for pictures: in plan over a face, and along a line.

For drawing only: no verdict rests on it. Heights are in the page frame of a face (z above it,
negative into the blank). Cells are lowered by what the cutter leaves at their middle, so a wall
lies true within half a cell.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import profile_of
from toolpath.check.chords import chords_of
from toolpath.field.grid import Grid
from toolpath.field.sweep import sweep_whole
from toolpath.job.model import Cutter, Job
from toolpath.motion.moves import MoveTable
from toolpath.show.pieces import Line
from toolpath.show.seen import Seen

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]

_CHORD = 0.02
"""Largest distance in mm of a chord from its arc."""
_TO_MIDDLE = 2.0 / math.pi
"""How far, in cells, the farthest corner of a cell lies beyond its middle, over all directions."""
LINE_CELL = 0.05
"""Step in mm of a floor along a line."""


def chords(moves: MoveTable, cutter: Cutter) -> tuple[FloatArray, FloatArray]:
    """(n, 3) starts and ends of all feed moves, arcs as chords, moves above the face left out."""
    low = np.minimum(moves.start[:, 2], moves.end[:, 2])
    found = chords_of(moves.take(moves.known & (low < 0.0)), cutter, _CHORD)
    return found.start, found.end


def cut_away(
    z: HeightArray, grid: Grid, job: Job, cutter: Cutter, ends: tuple[FloatArray, FloatArray]
) -> None:
    """Lower z, in place, to what the flutes leave at the middle of each cell; `ends` as from
    `chords`, in the frame of the grid."""
    flutes = profile_of(cutter, job.machine.nut).only("flutes")
    sweep_whole(z, grid, *ends, flutes, deviation=-_TO_MIDDLE * grid.cell)


def floor_along(
    job: Job,
    parts: list[tuple[Cutter, MoveTable]],
    seen: Seen,
    line: Line,
    span: tuple[float, float],
) -> tuple[FloatArray, FloatArray]:
    """s and the height of the floor above the face that the moves (page frame of that face) are
    of, at the middles of short steps of a line from span[0] to span[1]; 0 where nothing is cut.

    Only the cells of the line are swept, so it is as fine as an enlarged section needs it.
    """
    start, end = span
    columns = max(1, math.ceil((end - start) / LINE_CELL))
    grid = Grid(x0=start, y0=-LINE_CELL / 2.0, cell=LINE_CELL, rows=1, columns=columns)
    z = np.zeros(grid.shape, dtype=np.float32)
    for cutter, moves in parts:
        first, last = (
            np.column_stack([line.local(seen.xy(e[:, :2])), e[:, 2]]) for e in chords(moves, cutter)
        )
        near = (np.minimum(first[:, 1], last[:, 1]) < cutter.radius + LINE_CELL) & (
            np.maximum(first[:, 1], last[:, 1]) > -cutter.radius - LINE_CELL
        )
        cut_away(z, grid, job, cutter, (first[near], last[near]))
    return grid.centres()[0], z[0].astype(np.float64)
