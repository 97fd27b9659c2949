"""What is left of the blank after the programs that ran: the stock.

Two height fields a face, in the page frame over the blank's box: `upper`, never below what is
left anywhere in a cell, for collisions, and `lowest`, never above it, for break-through. The
fields decide quickly what is clear; what they leave open is decided on the moves themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.chords import COARSE, Chords, Feeds
from toolpath.check.frames import Frame, bounding_box
from toolpath.drawing.outline import Err
from toolpath.field.grid import NOTHING, Grid
from toolpath.field.sweep import sweep_touched, sweep_whole
from toolpath.job.model import Job, Nut, Side
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]
Window = tuple[slice, slice]
"""Rows and columns of a field."""

_PATCH = 32
"""Cells a side of the patches that are looked at whole before single cells: speed only."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceStock:
    """One face: `upper` and `lowest` (rows, columns) heights below it, page frame, and the feed
    moves of all that was cut from it, program frame, oldest first."""

    upper: HeightArray = field(repr=False)
    lowest: HeightArray = field(repr=False)
    cut: tuple[Feeds, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stock:
    """What is left of the blank. A stock is never changed; replaying gives a new one."""

    grid: Grid
    area: BaseGeometry = field(repr=False)
    """The blank in plan, blank frame, arcs flattened outward."""
    faces: dict[Side, FaceStock] = field(repr=False)

    @classmethod
    def fresh(cls, job: Job) -> Stock:
        """The whole blank before any cut."""
        x0, y0, x1, y1 = bounding_box(job.blank.outline.outer)
        grid = Grid.over((x0, y0), (x1, y1), job.check.cell)
        area = job.blank.outline.polygon(TOLERANCES.flatten, Err.OUTWARD)
        z = np.where(_touched(grid, area), np.float32(0.0), NOTHING)
        z.flags.writeable = False
        face = FaceStock(upper=z, lowest=z)
        return cls(grid=grid, area=area, faces={Side.FRONT: face, Side.BACK: face})

    def with_face(self, side: Side, face: FaceStock) -> Stock:
        """The same stock with one face as given."""
        return replace(self, faces={**self.faces, side: face})


def writable(face: FaceStock) -> FaceStock:
    """A copy of a face whose fields may be lowered."""
    return replace(face, upper=face.upper.copy(), lowest=face.lowest.copy())


def lowered(before: Stock, after: Stock, side: Side, by: int = 0) -> Window | None:
    """The box of the cells of a face in which less may be left than was, grown by some cells; None
    where there are none."""
    cells = after.faces[side].lowest < before.faces[side].lowest
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    if not rows.size:
        return None
    return (
        slice(max(0, int(rows[0]) - by), int(rows[-1]) + by + 1),
        slice(max(0, int(columns[0]) - by), int(columns[-1]) + by + 1),
    )


def sweep(face: FaceStock, grid: Grid, chords: Chords, frame: Frame, nut: Nut) -> None:
    """Lower the fields of a writable face by what the flutes take along chords within `COARSE`."""
    if not len(chords):
        return
    profile = profile_of(chords.cutter, nut).only(FLUTES)
    start, end = page_xyz(frame, chords.start), page_xyz(frame, chords.end)
    sweep_whole(face.upper, grid, start, end, profile, deviation=COARSE)
    sweep_touched(face.lowest, grid, start, end, profile, deviation=COARSE)


def page_xyz(frame: Frame, points: FloatArray) -> FloatArray:
    """(n, 3) program points in the page frame: x, y of the blank, z above the face as it is."""
    placed = frame.to_blank(points)
    placed[:, 2] = points[:, 2]
    return placed


def program_area(frame: Frame, area: BaseGeometry) -> BaseGeometry:
    """An area of the blank frame in the program frame."""
    return shapely.transform(area, lambda xy: xy * frame.sign[:2] + frame.shift[:2])


def _touched(grid: Grid, area: BaseGeometry) -> NDArray[np.bool_]:
    """Which cells an area touches; patches that it covers or misses are not looked into."""
    found = np.zeros(grid.shape, dtype=np.bool_)
    shapely.prepare(area)
    rows, columns = np.meshgrid(
        np.arange(0, grid.rows, _PATCH), np.arange(0, grid.columns, _PATCH), indexing="ij"
    )
    patches = _cell_boxes(grid, rows.ravel(), columns.ravel(), _PATCH)
    touched, covered = shapely.intersects(area, patches), shapely.covers(area, patches)
    for row, column, whole in zip(
        rows.ravel()[touched], columns.ravel()[touched], covered[touched], strict=True
    ):
        part = found[row : row + _PATCH, column : column + _PATCH]
        part[:] = True if whole else _cells_touched(grid, area, row, column, part.shape)
    return found


def _cells_touched(
    grid: Grid, area: BaseGeometry, row: int, column: int, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    rows, columns = np.meshgrid(
        row + np.arange(shape[0]), column + np.arange(shape[1]), indexing="ij"
    )
    return np.asarray(shapely.intersects(area, _cell_boxes(grid, rows, columns, 1)), dtype=np.bool_)


def _cell_boxes(
    grid: Grid, rows: NDArray[np.int64], columns: NDArray[np.int64], size: int
) -> NDArray[np.object_]:
    x, y = grid.x0 + columns * grid.cell, grid.y0 + rows * grid.cell
    side = size * grid.cell
    return np.asarray(shapely.box(x, y, x + side, y + side))
