"""What a program cuts beyond the cuts of the job, and what it leaves of them: notes only.

Seen on the height field that never says that something is gone that is not, so what is said to be
overcut is; strips of up to a cell and a half along walls are not counted as uncut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.lying import underside
from toolpath.blank.solids import raise_to_area
from toolpath.check.areas import kerf, outward
from toolpath.check.middles import at_middles
from toolpath.check.reliefs import deepest_asked, highest_asked
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import point
from toolpath.field.grid import Grid
from toolpath.job.model import (
    Cleared,
    Cut,
    Drill,
    IfBlocked,
    Job,
    Pocket,
    Profile,
    Relief,
    Side,
    Skim,
)
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_area, show_mm, show_place

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

_SLACK = 0.05
"""Depths may differ by this, mm: path error, and fields in single precision."""
_RIM = 1.5
"""Cells along a wall that are not counted as uncut."""
_BEGUN = 0.02
"""Share of a cut that a program must have made for the rest to be called uncut."""
_ALONG = 0.5
"""Places along an outline at which the other face is looked at, mm."""
_TOLD = 0.5
"""What is less, mm², is not told."""


def overcut_notes(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """A note where a program cut outside every cut of its face, and one where deeper than those
    that are there. Nothing is said of a job without cuts."""
    job, side = cutting.job, cutting.side
    if not any(cut.face is side for cut in job.cuts):
        return []
    upper = after.faces[side].upper
    fresh = np.flatnonzero(upper < before.faces[side].upper)
    depth, allowed = -upper.ravel()[fresh], _allowed(job, side, after.grid).ravel()[fresh]
    outside = (allowed == 0.0) & (depth > _SLACK)
    deeper = (allowed > 0.0) & (depth > allowed + _SLACK)
    found = []
    for cells, over, words in (
        (outside, depth, "outside every cut of this face"),
        (deeper, depth - allowed, "deeper than the cuts there"),
    ):
        area = float(cells.sum()) * after.grid.cell**2
        if area >= _TOLD:
            worst = int(np.where(cells, over, 0.0).argmax())
            x, y = _middle(after.grid, *divmod(int(fresh[worst]), after.grid.columns))
            text = (
                f"overcut: {show_area(area, job.unit)} {words}, by up to "
                f"{show_mm(float(over[worst]), job.unit)} at {show_place(x, y, job.unit)}"
            )
            found.append(_note(Code.OVERCUT, text, (x, y, -float(depth[worst])), cutting, area))
    return found


def uncut_notes(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """A note for each cut that this program worked at, with the last of its cutters, and did not
    bring to its depth everywhere that the cutter reaches. Tabs are left out, and floors that may
    rise."""
    job, side, cutter = cutting.job, cutting.side, cutting.feeds.cutter
    found = []
    for number, cut in enumerate(job.cuts):
        if cut.face is not side or cut.cutters[-1].name != cutter.name or _may_stay(cut):
            continue
        reached = _reached_of(job, number, _RIM * after.grid.cell)
        box = box_of(reached, after.grid)
        upper = after.faces[side].upper[box]
        fresh = upper < before.faces[side].upper[box]
        if not fresh.any():
            continue
        cells = cells_of(reached, after.grid, box)
        left = cells & (upper > _SLACK + asked_of(job, cut, after.grid, box))
        if isinstance(cut, Relief) and left.any():
            left &= _at_middles(after, cutting, box) > _SLACK + asked_of(job, cut, after.grid, box)
        area = float(left.sum()) * after.grid.cell**2
        begun = cells & fresh
        if area < _TOLD or begun.sum() <= _BEGUN * cells.sum():
            continue
        begun &= -upper > _asked_by_others(cutting, number, after.grid, box) + _SLACK
        if begun.sum() > _BEGUN * cells.sum():
            row, column = divmod(int(np.where(left, upper, -np.inf).argmax()), upper.shape[1])
            x, y = _middle(after.grid, row + box[0].start, column + box[1].start)
            text = (
                f'uncut: {show_area(area, job.unit)} of "{cut.name}" stay above '
                f"{_asked_words(job, cut)}, most at {show_place(x, y, job.unit)}"
            )
            place = (x, y, float(upper[row, column]))
            found.append(_note(Code.UNCUT, text, place, cutting, area))
    return found


def _at_middles(after: Stock, cutting: Cutting, box: tuple[slice, slice]) -> FloatArray:
    """What is left in a part of the grid; the field lies higher, on flanks by more than ridges."""
    part = part_of(after.grid, box)
    return at_middles(after.faces[cutting.side], part, cutting.frame, cutting.job.machine.nut)


def _asked_by_others(
    cutting: Cutting, number: int, grid: Grid, box: tuple[slice, slice]
) -> HeightArray:
    """The depth, 0 where there is none, to which other, shallower cuts that this cutter works at
    may go in a part of the grid: what is no deeper may be theirs."""
    job, cutter, mine = cutting.job, cutting.feeds.cutter, cutting.job.cuts[number]
    others = [
        cut
        for cut in job.cuts
        if cut.depth < mine.depth
        and cut.face is cutting.side
        and cutter.name in {each.name for each in cut.cutters}
    ]
    return _depths(others, part_of(grid, box))


def _middle(grid: Grid, row: int, column: int) -> tuple[float, float]:
    return grid.x0 + (column + 0.5) * grid.cell, grid.y0 + (row + 0.5) * grid.cell


def box_of(area: BaseGeometry, grid: Grid) -> tuple[slice, slice]:
    """The part of a grid about an area."""
    if area.is_empty:
        return slice(0, 0), slice(0, 0)
    x0, y0, x1, y1 = area.bounds
    columns = (math.floor((x0 - grid.x0) / grid.cell), math.ceil((x1 - grid.x0) / grid.cell))
    rows = (math.floor((y0 - grid.y0) / grid.cell), math.ceil((y1 - grid.y0) / grid.cell))
    return (
        slice(min(max(rows[0], 0), grid.rows), min(max(rows[1], 0), grid.rows)),
        slice(min(max(columns[0], 0), grid.columns), min(max(columns[1], 0), grid.columns)),
    )


def _note(
    code: Code, text: str, page: tuple[float, float, float], cutting: Cutting, area: float
) -> Finding:
    program = cutting.frame.to_program(np.array([page[0], page[1], 0.0]))
    program[2] = page[2]
    line, _ = deepest_near(cutting, np.array(page[:2]), cutting.job.check.cell)
    return Finding(
        code=code,
        message=text,
        line=line,
        at=point(cutting.frame.to_blank(program)),
        at_program=point(program),
        gap=area,
        refuses=False,
    )


@lru_cache(maxsize=2)
def _allowed(job: Job, side: Side, grid: Grid) -> HeightArray:
    """(rows, columns) depth to which the cuts of a face may go in each cell that they touch; 0
    where there is none. The job is known by its identity."""
    return _depths([cut for cut in job.cuts if cut.face is side], grid)


def _depths(cuts: Sequence[Cut], grid: Grid) -> HeightArray:
    z = np.zeros(grid.shape, dtype=np.float32)
    for cut in cuts:
        for area, depth in kerf(cut):
            if isinstance(cut, Relief):
                _raise_to_map(z, grid, area, cut)
            else:
                raise_to_area(z, grid, area, depth)
    return z


def _raise_to_map(z: HeightArray, grid: Grid, area: BaseGeometry, cut: Relief) -> None:
    """The same for a relief, whose depth differs from cell to cell."""
    box = box_of(area, grid)
    rows, columns = (slice(max(0, part.start - 1), part.stop + 1) for part in box)
    part = part_of(grid, (rows, columns))
    cells = cells_of(area, grid, (rows, columns))[: part.rows, : part.columns]
    here = z[rows, columns]
    here[cells] = np.maximum(here[cells], deepest_asked(cut, part)[cells])


def cells_of(area: BaseGeometry, grid: Grid, box: tuple[slice, slice]) -> BoolArray:
    """Cells of a part of a grid that an area touches."""
    rows, columns = box
    z = np.zeros((rows.stop - rows.start, columns.stop - columns.start), dtype=np.float32)
    if z.size and not area.is_empty:
        raise_to_area(
            z, replace(part_of(grid, box), rows=z.shape[0], columns=z.shape[1]), area, 1.0
        )
    return z > 0.0


@lru_cache(maxsize=1024)
def _reached_of(job: Job, number: int, rim: float) -> BaseGeometry:
    """`_reached` of a cut of a job, which is known by its identity: many programs may ask."""
    return _reached(job.cuts[number], rim)


def part_of(grid: Grid, box: tuple[slice, slice]) -> Grid:
    """A part of a grid as one of its own."""
    rows, columns = box
    return replace(
        grid,
        x0=grid.x0 + columns.start * grid.cell,
        y0=grid.y0 + rows.start * grid.cell,
        rows=min(rows.stop, grid.rows) - rows.start,
        columns=min(columns.stop, grid.columns) - columns.start,
    )


def _reached(cut: Cut, rim: float) -> BaseGeometry:
    """What the thinnest cutter of a cut reaches of it, without a rim."""
    radius = min(cutter.radius for cutter in cut.cutters)
    if isinstance(cut, Drill):
        return shapely.MultiPoint(list(cut.at)).buffer(max(cut.diameter / 2.0 - rim, 0.0))
    area = outward(cut.outline)
    if isinstance(cut, Relief | Skim):
        return area.buffer(-rim)
    if isinstance(cut, Pocket):
        centres = area.difference(outward(cut.islands)).buffer(TOLERANCES.cover - radius)
        return centres.buffer(max(radius - rim, 0.0))
    sign = {"outer": 1.0, "inner": -1.0, "centre": 0.0}[cut.side.value]
    return area.buffer(sign * radius).boundary.buffer(max(radius - rim, 0.0))


def _may_stay(cut: Cut) -> bool:
    return isinstance(cut, Cleared) and cut.if_blocked is not IfBlocked.STOP


def asked_of(job: Job, cut: Cut, grid: Grid, box: tuple[slice, slice]) -> HeightArray | np.float64:
    """The height, page frame, that nothing need stand over: of a relief in each cell of a part of
    the grid, its ridges with it."""
    if not isinstance(cut, Relief):
        return np.float64(-_least_depth(job, cut))
    reach = math.ceil(max(cutter.radius for cutter in cut.cutters) / grid.cell) + 1
    wide = tuple(
        slice(max(0, part.start - reach), min(part.stop + reach, count))
        for part, count in zip(box, grid.shape, strict=True)
    )
    rows, columns = wide
    part = part_of(grid, (rows, columns))
    wall = cells_of(
        outward((job.blank.outline,)).difference(outward(cut.outline)), grid, (rows, columns)
    )
    found = highest_asked(cut, part, wall, job.machine.nut) + np.float32(cut.cusp)
    top, left = box[0].start - rows.start, box[1].start - columns.start
    height, width = (each.stop - each.start for each in box)
    return np.asarray(found[top : top + height, left : left + width], dtype=np.float32)


def _asked_words(job: Job, cut: Cut) -> str:
    if isinstance(cut, Relief):
        return "the map"
    return f"its depth of {show_mm(cut.depth, job.unit)}"


def _least_depth(job: Job, cut: Cut) -> float:
    """Where tabs may stand only the depth of their tops is asked."""
    if isinstance(cut, Profile) and cut.tabs is not None:
        around = outward(cut.outline).buffer(cut.cutter.diameter).boundary
        spots = shapely.get_coordinates(shapely.segmentize(around, _ALONG))
        bottom = max(-cut.depth, float(underside(job, cut.face, spots).max()))
        return -bottom - cut.tabs.height
    return cut.depth
