"""Floors: what is left of the blank under a cavity, upright, and on a slant between cavities of
the two faces that lie beside each other at different depths.

Errs towards finding: by a cell's width in plan upright and two on a slant, as `lowest` does in
height; the blank counts as its thinnest.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.areas import grown, kerf, through_areas
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock, Window, lowered
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import line_words, place_words, point
from toolpath.field.dilate import dilate, drop_table
from toolpath.field.grid import NOTHING
from toolpath.field.profile import Element, Profile
from toolpath.job.model import Job, Side
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

_RIM = 4.0
"""Cells by which a cut is taken to reach further than it does: speed only."""

_POINT = Profile(elements=(Element(part_name="", r_low=0.0, z_low=0.0, r_high=0.0, z_high=0.0),))
"""A point: grown by a distance it is the ball that no floor may meet."""


def floor_findings(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """One finding for each spot where this program newly left less than `least_floor` under a
    cavity, outside cuts that go through and what is broken through anyhow."""
    job = cutting.job
    if job.check.least_floor <= 0.0:
        return []
    box = lowered(before, after, cutting.side, math.ceil(2.0 * _reach(job, after)))
    if box is None:
        return []
    left = _left(after, job, box)
    thin = _thin(after, job, left, box)
    if not thin.any():
        return []
    from scipy import ndimage

    thin &= ~_thin(before, job, _left(before, job, box), box)
    spots, count = ndimage.label(thin, structure=np.ones((3, 3)))
    places = ndimage.minimum_position(left, spots, np.arange(1, count + 1)) if count else []
    cells = [(int(row), int(column)) for row, column in places]
    corner = (box[0].start, box[1].start)
    return [
        _finding(after, cutting, (cell[0] + corner[0], cell[1] + corner[1]))
        for cell in cells
        if left[cell] > TOLERANCES.judge
    ]


def _reach(job: Job, stock: Stock) -> float:
    """How far, in cells, what is cut may make a floor too thin."""
    return job.check.least_floor / stock.grid.cell + _RIM


def _lowest(stock: Stock, box: Window) -> tuple[HeightArray, HeightArray]:
    """What is left of the front and of the back within a box, from below."""
    return stock.faces[Side.FRONT].lowest[box], stock.faces[Side.BACK].lowest[box]


def _left(stock: Stock, job: Job, box: Window) -> FloatArray:
    """(rows, columns) height of the least material at each cut place; +inf where none was cut."""
    front, back = _lowest(stock, box)
    cut = np.isfinite(front) & ((front < 0.0) | (back < 0.0))
    left = np.full(front.shape, np.inf)
    left[cut] = _thinnest(job) + front[cut].astype(np.float64) + back[cut]
    return left


def _thin(stock: Stock, job: Job, left: FloatArray, box: Window) -> BoolArray:
    """Where less than the least is left, but where cutting through is meant."""
    thin = left < job.check.least_floor - TOLERANCES.judge
    thin |= _slanting(stock, job, box)
    return thin & ~_within(stock, grown(through_areas(job), stock.grid.cell), thin, box)


def _within(stock: Stock, zone: BaseGeometry, cells: BoolArray, box: Window) -> BoolArray:
    """Which of some cells of a box lie with their middles in an area."""
    rows, columns = np.nonzero(cells)
    x, y = stock.grid.centres()
    shapely.prepare(zone)
    inside = shapely.contains_xy(zone, x[box[1]][columns], y[box[0]][rows])
    found = np.zeros(cells.shape, dtype=np.bool_)
    found[rows[inside], columns[inside]] = True
    return found


def _cavities(stock: Stock, job: Job, back: HeightArray, box: Window) -> BoolArray:
    """Where the back was cut but by cuts that go through it: what is left in their way, tabs and
    ramps, bears nothing and is no floor's other side."""
    cut = np.isfinite(back) & (back < 0.0)
    return cut & ~_within(stock, _ways_through(job, stock.grid.cell), cut, box)


@lru_cache(maxsize=4)
def _ways_through(job: Job, cell: float) -> BaseGeometry:
    """What the through cuts of the back take in plan, grown by two cells; ledges are none of it."""
    cuts = [cut for cut in job.cuts if cut.through and cut.face is Side.BACK]
    return grown([kerf(cut)[0][0] for cut in cuts], 2.0 * cell)


def _slanting(stock: Stock, job: Job, box: Window) -> BoolArray:
    """Where a floor of the front comes nearer than the least to a cavity of the back beside it."""
    front, back = _lowest(stock, box)
    beside = _cavities(stock, job, back, box)
    floors = np.isfinite(front) & (front < 0.0) & ~(np.isfinite(back) & (back < 0.0))
    if not beside.any() or not floors.any():
        return np.zeros(front.shape, dtype=np.bool_)
    tops = np.where(beside, -_thinnest(job) - back, NOTHING).astype(np.float32)
    least, cell = _slant_least(job), stock.grid.cell
    ball = dilate(tops, drop_table(_POINT, least, cell, 0.0))
    # Where one is as high as the other, what is between them is a wall.
    above = front > dilate(tops, drop_table(_disc(least), 0.0, cell, 0.0))
    return np.asarray(floors & above & (front < ball - TOLERANCES.judge))


def _disc(radius: float) -> Profile:
    flat = Element(part_name="", r_low=radius, z_low=0.0, r_high=radius, z_high=0.0)
    return Profile(elements=(flat,))


def _slant_least(job: Job) -> float:
    """What a slant needs: the lesser of floor and wall, where both are stated."""
    wall = job.check.least_wall
    return min(job.check.least_floor, wall) if wall > 0.0 else job.check.least_floor


def _thinnest(job: Job) -> float:
    return job.blank.thinnest


def _finding(stock: Stock, cutting: Cutting, cell: tuple[int, int]) -> Finding:
    job, unit = cutting.job, cutting.job.unit
    x, y = stock.grid.centres()
    left, over = _shortest(stock, job, cell)
    row, column = cell if cutting.side is Side.FRONT else over
    here, needed = np.array([x[column], y[row]]), job.check.least_floor
    line, tip = deepest_near(cutting, here, stock.grid.cell)
    return Finding(
        code=Code.FLOOR,
        message=(
            f"leaves {show_mm(left, unit)} of floor, {show_mm(needed, unit)} are needed, "
            f"{place_words(cutting.frame.to_blank(tip), tip, unit)}{line_words(line, line)}"
        ),
        line=line,
        at=point(cutting.frame.to_blank(tip)),
        at_program=point(tip),
        gap=left,
        needed=needed,
        mend="make this cut or the one on the other face less deep, or lower [check] least_floor",
    )


def _shortest(stock: Stock, job: Job, cell: tuple[int, int]) -> tuple[float, tuple[int, int]]:
    """The way through the material from a floor of the front to the nearest cavity of the back, or
    upright to the other face, and the cell where it ends."""
    front, back = stock.faces[Side.FRONT].lowest, stock.faces[Side.BACK].lowest
    upright = _thinnest(job) + float(front[cell]) + float(back[cell])
    reach = math.ceil(job.check.least_floor / stock.grid.cell) + 2
    box = (_about(cell[0], reach), _about(cell[1], reach))
    rows, columns = np.nonzero(_cavities(stock, job, back[box], box))
    if not rows.size or back[cell] < 0.0:
        return upright, cell
    up = _thinnest(job) + front[cell] + back[box][rows, columns]
    off = np.hypot(rows + box[0].start - cell[0], columns + box[1].start - cell[1])
    aside = np.maximum(off - 2.0, 0.0) * stock.grid.cell
    way = np.hypot(aside, np.maximum(up, 0.0))
    best = int(way.argmin())
    if upright <= way[best]:
        return upright, cell
    return float(way[best]), (int(rows[best]) + box[0].start, int(columns[best]) + box[1].start)


def _about(place: int, reach: int) -> slice:
    return slice(max(0, place - reach), place + reach + 1)
