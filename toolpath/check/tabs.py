"""Tabs: whether those that a profile asks for stand, as high and as wide as asked.

A tab is looked for along the middle of the cutter's way round each part: where the way does not
come down to the floor of the cut, something was left for a tab. It stands where all across the way
at least its height is left, of the thinnest blank and once the skims of both faces ran, along its
width. Errs towards finding in height, and in width towards clear by up to three cells and a
twentieth of it, and on bends by the cutter's radius times the turn, up to half of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.blank.lying import new_face, underside
from toolpath.check.chords import COARSE, Bounds
from toolpath.check.frames import frame_of
from toolpath.check.report import Code, Finding
from toolpath.check.stock import FaceStock, Stock, lowered, program_area, sweep
from toolpath.check.tab_ways import ACROSS, FINEST, Way, loops_of, runs_of, runs_within
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import line_words, place_words, point
from toolpath.field.grid import Grid
from toolpath.job.model import Job, Profile, Side
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

_ROUNDED = 0.01
"""What the rounding of a program's words and of the fields may take off a tab, mm."""
_RISEN = 0.05
"""What stays this much above the floor was left on purpose, mm."""
_CELLS = 8.0
"""Cells across a tab at least."""
_FINER, _MOST = 0.02, 1e6
"""The least cell of a second look, mm, and how many cells it may have."""
_BIT = 0.5
"""What is shorter than this share of the width asked was not left for a tab."""
_LOST = 3.0
"""Cells that may be lost of a width."""


def tab_findings(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """One finding for each tab that this program newly cut away, or cut lower or narrower than
    asked, and one where it leaves a part without any; a note where fewer stand than asked."""
    box = lowered(before, after, cutting.side)
    if box is None:
        return []
    x, y = after.grid.centres()
    bounds = shapely.box(x[box[1]][0], y[box[0]][0], x[box[1]][-1], y[box[0]][-1])
    found: list[Finding] = []
    for cut in cutting.job.cuts:
        if isinstance(cut, Profile) and cut.tabs is not None:
            for loop in loops_of(cut):
                if loop.dwithin(bounds, cut.cutter.radius + after.grid.cell):
                    found += _of_loop(before, after, cutting, Way.along(cut, cut.tabs, loop))
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Left:
    """What is left along a way: the least height across it (n,), where it came down to its floor
    (n,), and the cell by which that is known, mm."""

    height: FloatArray
    floor: BoolArray
    cell: float

    def stands(self, way: Way) -> BoolArray:
        """(n,) where a tab is as high as asked."""
        return self.height >= way.tabs.height - _ROUNDED

    def least(self, way: Way, stretch: IntArray) -> float:
        """The least width that a tab must have along the middle of a stretch: on a bend it is
        less there than between the cuts on both sides."""
        turn, width = way.turn(stretch) * way.cut.cutter.radius, way.tabs.width
        return max(0.95 * width - turn, _BIT * width) - _LOST * self.cell

    def tabs(self, way: Way) -> tuple[list[IntArray], list[IntArray]]:
        """The stretches that were left for tabs: those that stand, and those that do not. Slopes
        at a corner leave short bits that never were a tab."""
        good: list[IntArray] = []
        bad: list[IntArray] = []
        high = self.stands(way)
        for stretch in runs_of(~self.floor):
            longest = max((len(run) for run in runs_within(stretch, high)), default=0)
            whole = way.closed and longest == len(self.height)
            wide = longest > 0 and longest * way.step >= self.least(way, stretch)
            if whole or wide:
                good.append(stretch)
            elif len(stretch) * way.step >= _BIT * way.tabs.width:
                bad.append(stretch)
        return good, bad


def _of_loop(before: Stock, after: Stock, cutting: Cutting, way: Way) -> list[Finding]:
    job = cutting.job
    now = _left(after, job, way, _cell(way))
    if not now.floor.any():
        return []
    good, bad = _sure(after, job, way, now)
    then = _left(before, job, way, _cell(way))
    stood, fallen = _sure(before, job, way, then)
    if fallen or (then.floor.any() and not stood):
        return []  # it was found when it was cut
    if not good and not bad:
        return [_none(after, cutting, way)]
    found = [_low(after, cutting, low, left) for low, left in bad]
    if bad or len(good) >= way.tabs.count:
        return found
    if not then.floor.any():
        return [_fewer(after, cutting, way, len(good))]
    here = np.concatenate(good)
    lost = [stretch for stretch in stood if not np.isin(stretch, here).any()]
    what = f"leaves a tab cut away, {show_mm(way.tabs.height, job.unit)} are asked"
    return [_finding(after, cutting, way, (int(s[len(s) // 2]), what, 0.0)) for s in lost]


def _sure(
    stock: Stock, job: Job, way: Way, left: _Left
) -> tuple[list[IntArray], list[tuple[Way, _Left]]]:
    """The tabs that stand, and those that do not: looked at again on finer cells, since a cut that
    only comes near may lower a cell of the lane."""
    good, bad = left.tabs(way)
    sure = []
    for stretch in bad:
        closed = len(stretch) == len(way.spots)
        part = replace(way, spots=way.spots[stretch], closed=closed)
        again = _left(stock, job, part, _fine_cell(part))
        again = replace(again, floor=np.zeros_like(again.floor))
        if again.tabs(part)[1]:
            sure.append((part, again))
        else:
            good.append(stretch)
    return good, sure


def _cell(way: Way) -> float:
    """The widest cells by which a tab can be told."""
    return max(FINEST, way.tabs.width / _CELLS)


def _fine_cell(way: Way) -> float:
    """Cells as fine as there is room for about a part of a way."""
    across = np.ptp(way.spots, axis=(0, 1))
    return max(_FINER, math.sqrt(float(across[0] * across[1]) / _MOST))


def _left(stock: Stock, job: Job, way: Way, cell: float) -> _Left:
    """What of the thinnest blank is left along a way, by cells of a size or finer; beside the blank
    nothing is asked."""
    side, flat = way.cut.face, way.spots.reshape(-1, 2)
    grid, faces = _fields(stock, job, way, cell)
    rows = np.clip(((flat[:, 1] - grid.y0) / grid.cell).astype(np.intp), 0, grid.rows - 1)
    columns = np.clip(((flat[:, 0] - grid.x0) / grid.cell).astype(np.intp), 0, grid.columns - 1)
    own, other = (faces[s][rows, columns].astype(np.float64) for s in (side, side.other))
    thinnest = job.blank.thinnest
    top = np.minimum(own, new_face(job, side, flat))
    bottom = np.maximum(underside(job, side, flat), -thinnest - other)
    height = top - np.maximum(bottom, -way.cut.depth)
    shapely.prepare(stock.area)
    inside = shapely.contains_xy(stock.area, flat).reshape(way.spots.shape[:2])
    height = np.where(inside, height.reshape(inside.shape), np.inf).min(axis=1)
    height[~inside.any(axis=1)] = -np.inf
    middle = own.reshape(inside.shape)[:, len(ACROSS) // 2]
    known = middle[np.isfinite(middle)]
    floor = max(-way.cut.depth, float(known.min(initial=0.0))) + _RISEN
    down = (middle <= floor) & (height < way.tabs.height - _ROUNDED)
    return _Left(height=height, floor=down, cell=grid.cell)


def _fields(stock: Stock, job: Job, way: Way, cell: float) -> tuple[Grid, dict[Side, HeightArray]]:
    """What is left of both faces from below: as it is known, or, where its cells are wider than
    asked, anew about the way."""
    if stock.grid.cell <= cell:
        return stock.grid, {side: stock.faces[side].lowest for side in Side}
    low, high = way.spots.min(axis=(0, 1)), way.spots.max(axis=(0, 1))
    grid = Grid.over((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), cell)
    bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    return grid, {side: _swept(stock, job, side, (grid, bounds)) for side in Side}


def _swept(stock: Stock, job: Job, side: Side, where: tuple[Grid, Bounds]) -> HeightArray:
    """What all programs so far left of a face over a grid, from below."""
    (grid, bounds), frame = where, frame_of(job, side)
    z = np.zeros(grid.shape, dtype=np.float32)
    face = FaceStock(upper=z.copy(), lowest=z)
    x0, y0, x1, y1 = program_area(frame, shapely.box(*bounds)).bounds
    for feeds in stock.faces[side].cut:
        reach = feeds.cutter.diameter
        sweep(
            face, grid, feeds.within(COARSE).about((x0, y0, x1, y1), reach), frame, job.machine.nut
        )
    return face.lowest


def _low(stock: Stock, cutting: Cutting, way: Way, left: _Left) -> Finding:
    """The tab along a part of a way that is lower than asked, or narrower."""
    unit, tabs = cutting.job.unit, way.tabs
    best = int(left.height.argmax())
    high = max(float(left.height[best]), 0.0)
    if high >= tabs.height - _ROUNDED:
        longest = max(runs_within(np.arange(len(left.height)), left.stands(way)), key=len)
        best = int(longest[len(longest) // 2])
        width = show_mm(len(longest) * way.step, unit)
        what = f"a tab {width} wide, {show_mm(tabs.width, unit)} are asked"
    else:
        stands = f"a tab {show_mm(high, unit)} high" if high > 0.0 else "a tab cut away"
        what = f"{stands}, {show_mm(tabs.height, unit)} are asked"
    return _finding(stock, cutting, way, (best, f"leaves {what}", high))


def _none(stock: Stock, cutting: Cutting, way: Way) -> Finding:
    what = (
        "leaves no tab, 1 is asked"
        if way.tabs.count == 1
        else (f"leaves no tab, {way.tabs.count} are asked")
    )
    return _finding(stock, cutting, way, (0, what, 0.0))


def _finding(stock: Stock, cutting: Cutting, way: Way, what: tuple[int, str, float]) -> Finding:
    (place, words, high), unit = what, cutting.job.unit
    here = way.spots[place, len(ACROSS) // 2]
    line, tip = deepest_near(cutting, here, stock.grid.cell)
    return Finding(
        code=Code.TAB,
        message=(
            f'{words} by "{way.cut.name}", '
            f"{place_words(cutting.frame.to_blank(tip), tip, unit)}{line_words(line, line)}"
        ),
        line=line,
        at=point(cutting.frame.to_blank(tip)),
        at_program=point(tip),
        gap=high,
        needed=way.tabs.height,
        mend="plan the job again, make its tabs higher, or cut less of either face there",
    )


def _fewer(stock: Stock, cutting: Cutting, way: Way, count: int) -> Finding:
    line, _ = deepest_near(cutting, way.spots[0, len(ACROSS) // 2], stock.grid.cell)
    x, y = way.spots.reshape(-1, 2).mean(axis=0) / cutting.job.unit.mm
    return Finding(
        code=Code.TAB,
        message=(
            f'{count} of {way.tabs.count} tabs of "{way.cut.name}" stand round x {x:.2f}, y {y:.2f}'
        ),
        line=line,
        refuses=False,
    )
