"""What a program cuts beyond the cuts of the job, and what it leaves of them: notes only.

Seen on the height field that never says that something is gone that is not, so what is said to be
overcut is; strips of up to a cell and a half along walls are not counted as uncut.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.solids import raise_to_area
from toolpath.check.areas import kerf, outward
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import point
from toolpath.field.grid import Grid
from toolpath.job.model import Cut, Drill, IfBlocked, Job, Pocket, Profile, Side
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_area, show_mm, show_place

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_SLACK = 0.05
"""Depths may differ by this, mm: path error, and fields in single precision."""
_RIM = 1.5
"""Cells along a wall that are not counted as uncut."""
_BEGUN = 0.02
"""Share of a cut that a program must have made for the rest to be called uncut."""
_TOLD = 0.5
"""What is less, mm², is not told."""


def overcut_notes(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """A note where a program cut outside every cut of its face, and one where deeper than those
    that are there. Nothing is said of a job without cuts."""
    job, side = cutting.job, cutting.side
    if not any(cut.face is side for cut in job.cuts):
        return []
    depth = _depth(after, side)
    afresh = depth > _depth(before, side)
    allowed = _allowed(job, side, after.grid)
    outside = afresh & (allowed == 0.0) & (depth > _SLACK)
    deeper = afresh & (allowed > 0.0) & (depth > allowed + _SLACK)
    found = []
    for cells, over, words in (
        (outside, depth, "outside every cut of this face"),
        (deeper, depth - allowed, "deeper than the cuts there"),
    ):
        area = float(cells.sum()) * after.grid.cell**2
        if area >= _TOLD:
            cell = np.unravel_index(int(np.where(cells, over, 0.0).argmax()), over.shape)
            x, y = (
                float(line[i]) for line, i in zip(after.grid.centres(), cell[::-1], strict=True)
            )
            text = (
                f"overcut: {show_area(area, job.unit)} {words}, by up to "
                f"{show_mm(float(over[cell]), job.unit)} at {show_place(x, y, job.unit)}"
            )
            found.append(_note(Code.OVERCUT, text, (x, y, -float(depth[cell])), cutting, area))
    return found


def uncut_notes(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """A note for each cut that this program worked at, with the last of its cutters, and did not
    bring to its depth everywhere that the cutter reaches. Tabs are left out, and floors that may
    rise."""
    job, side, cutter = cutting.job, cutting.side, cutting.chords.cutter
    depth = _depth(after, side)
    afresh = depth > _depth(before, side)
    found = []
    for cut in job.cuts:
        if cut.face is not side or cut.cutters[-1].name != cutter.name or _may_stay(cut):
            continue
        cells = _cells(_reached(cut, _RIM * after.grid.cell), after.grid)
        left = cells & (depth < _least_depth(job, cut) - _SLACK)
        area = float(left.sum()) * after.grid.cell**2
        if area >= _TOLD and (afresh & cells).sum() > _BEGUN * cells.sum():
            cell, (x, y) = _worst(np.where(left, -depth, -np.inf), after.grid)
            text = (
                f'uncut: {show_area(area, job.unit)} of "{cut.name}" stay above its depth of '
                f"{show_mm(cut.depth, job.unit)}, most at {show_place(x, y, job.unit)}"
            )
            place = (x, y, -float(depth[cell]))
            found.append(_note(Code.UNCUT, text, place, cutting, area))
    return found


def _worst(values: FloatArray, grid: Grid) -> tuple[tuple[int, int], tuple[float, float]]:
    """The cell of the greatest value, and its middle."""
    row, column = divmod(int(values.argmax()), grid.columns)
    x, y = grid.centres()
    return (row, column), (float(x[column]), float(y[row]))


def _note(
    code: Code, text: str, page: tuple[float, float, float], cutting: Cutting, area: float
) -> Finding:
    program = cutting.frame.to_program(np.array([page[0], page[1], 0.0]))
    program[2] = page[2]
    chord, _ = deepest_near(cutting, np.array(page[:2]), cutting.job.check.cell)
    return Finding(
        code=code,
        message=text,
        line=int(cutting.table.line[cutting.chords.row[chord]]),
        at=point(cutting.frame.to_blank(program)),
        at_program=point(program),
        gap=area,
        refuses=False,
    )


def _depth(stock: Stock, side: Side) -> FloatArray:
    """(rows, columns) depth that is surely cut; 0 outside the blank."""
    upper = stock.faces[side].upper
    return np.where(np.isfinite(upper), -upper, 0.0).astype(np.float64)


@lru_cache(maxsize=2)
def _allowed(job: Job, side: Side, grid: Grid) -> FloatArray:
    """(rows, columns) depth to which the cuts of a face may go in each cell that they touch; 0
    where there is none. The job is known by its identity."""
    z = np.zeros(grid.shape, dtype=np.float32)
    for cut in job.cuts:
        if cut.face is side:
            for area, depth in kerf(cut):
                raise_to_area(z, grid, area, depth)
    return z.astype(np.float64)


def _cells(area: BaseGeometry, grid: Grid) -> BoolArray:
    """Cells that an area touches."""
    z = np.zeros(grid.shape, dtype=np.float32)
    if not area.is_empty:
        raise_to_area(z, grid, area, 1.0)
    return z > 0.0


def _reached(cut: Cut, rim: float) -> BaseGeometry:
    """What the thinnest cutter of a cut reaches of it, without a rim."""
    radius = min(cutter.radius for cutter in cut.cutters)
    if isinstance(cut, Drill):
        return shapely.MultiPoint(list(cut.at)).buffer(max(cut.diameter / 2.0 - rim, 0.0))
    area = outward(cut.outline)
    if isinstance(cut, Pocket):
        centres = area.difference(outward(cut.islands)).buffer(TOLERANCES.cover - radius)
        return centres.buffer(max(radius - rim, 0.0))
    sign = {"outer": 1.0, "inner": -1.0, "centre": 0.0}[cut.side.value]
    return area.buffer(sign * radius).boundary.buffer(max(radius - rim, 0.0))


def _may_stay(cut: Cut) -> bool:
    return isinstance(cut, Pocket) and cut.if_blocked is not IfBlocked.STOP


def _least_depth(job: Job, cut: Cut) -> float:
    """Where tabs may stand only the depth of their tops is asked."""
    if isinstance(cut, Profile) and cut.tabs is not None:
        blank = job.blank
        bottom = min(cut.depth, blank.thickness - blank.thickness_within)
        return bottom - cut.tabs.height
    return cut.depth
