"""Walls: what is left between cavities, of one face or of both, and between them and the rim.

At one depth after another the removed area is looked at in plan. The height fields, which never
say that something is gone that is not, find the places where a wall may be too thin; what they
leave open is decided on the discs of the cutters over their moves.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.areas import discs, scrap_area
from toolpath.check.chords import Feeds, below
from toolpath.check.frames import frame_of
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock, page_xyz, program_area
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import line_words, place_words, point
from toolpath.job.model import Cutter, Job, Shape, Side
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_LEVELS = 16
"""Depths looked at where cavities of both faces overlap; nearer ones are taken as one, which errs
towards finding."""
_SLACK = 3.0
"""Cells by which the fields may take a wall to be thicker than it is: a rim on either side."""
_MIDDLES = 400
"""Places of a thin spot that are looked at exactly."""
_SPOT = 3
"""Suspect cells up to twice as many cells apart are of one spot."""


def wall_findings(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """One finding for each spot where this program newly left less than `least_wall` between what
    was cut on this and on that side of it, or beside the rim of the blank."""
    job, side = cutting.job, cutting.side
    if job.check.least_wall <= 0.0:
        return []
    changed = after.faces[side].upper < before.faces[side].upper
    if not changed.any():
        return []
    box = _window(changed, math.ceil(2.0 * _widest(after, job)))
    was, now = _Cavities.of(before, box), _Cavities.of(after, box)
    scrap = _cells_of(after, box, scrap_area(job))
    found: list[_Wall] = []
    for level in _levels(now, job):
        gone = now.gone(level)
        thin = _suspects(gone, gone & ~was.gone(level), _widest(after, job)) & ~scrap
        for cells in _spots(_parted(gone, thin, _reach(after, job) / after.grid.cell)):
            corner = np.array([box[0].start - 1, box[1].start - 1])
            wall = _thinnest(after, job, level, cells + corner)
            if wall is not None and not any(wall.near(other) for other in found):
                found.append(wall)
    return [_finding(after, cutting, wall) for wall in found]


def _widest(stock: Stock, job: Job) -> float:
    """Walls in the fields up to so many cells thick are looked at more closely."""
    return job.check.least_wall / stock.grid.cell + _SLACK


def _reach(stock: Stock, job: Job) -> float:
    """How far round a place in a wall both its sides are looked for, mm."""
    return job.check.least_wall + 4.0 * stock.grid.cell


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cavities:
    """A part of the fields and a cell more on each side, there as at the edge or outside the
    blank: depth surely cut from each face, and what lies outside."""

    front: FloatArray
    back: FloatArray
    outside: BoolArray

    @classmethod
    def of(cls, stock: Stock, box: tuple[slice, slice]) -> _Cavities:
        fields = (stock.faces[side].upper[box] for side in (Side.FRONT, Side.BACK))
        front, back = (-np.pad(field, 1, mode="edge").astype(np.float64) for field in fields)
        outside = np.isinf(front)
        rows, columns = box
        outside[0] |= rows.start == 0
        outside[-1] |= rows.stop >= stock.grid.rows
        outside[:, 0] |= columns.start == 0
        outside[:, -1] |= columns.stop >= stock.grid.columns
        front[outside] = back[outside] = 0.0
        return cls(front=front, back=back, outside=outside)

    def gone(self, level: _Level) -> BoolArray:
        """Cells in which nothing is left at a level, and those outside the blank."""
        return np.asarray(self.outside | (self.front >= level.front) | (self.back >= level.back))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Level:
    """A plane seen from both faces, as depths below them: what was cut at least to `front` from
    the front or `back` from the back is gone there."""

    front: float
    back: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Wall:
    """The thinnest place of a spot: its middle (2,), blank frame, and the spot's cells (n, 2)."""

    thickness: float
    middle: FloatArray
    level: _Level
    cells: NDArray[np.intp]

    def near(self, other: _Wall) -> bool:
        """Whether it is another's, found at another depth, and no thinner."""
        gap = np.abs(self.cells[:, None] - other.cells[None, :: max(1, len(other.cells) // 200)])
        return bool((gap.max(axis=2) <= 3).any()) and self.thickness >= other.thickness - 0.01


def _levels(cavities: _Cavities, job: Job) -> Iterator[_Level]:
    """Just below each face, where the cavities of that face are widest; and where those of the
    two overlap in height, just above the floors of the front's, where the back's are widest."""
    least, thickness = TOLERANCES.judge, job.blank.thinnest
    yield _Level(front=least, back=thickness)
    yield _Level(front=thickness, back=least)
    front = cavities.front
    floors = np.unique(np.round(front[front > thickness - cavities.back.max(initial=0.0)], 2))
    groups = np.array_split(floors, min(_LEVELS, len(floors))) if len(floors) else []
    for group in groups:
        yield _Level(front=float(group[0]) - 0.01, back=thickness - float(group[-1]) + 0.01)


def _suspects(gone: BoolArray, fresh: BoolArray, widest: float) -> BoolArray:
    """Cells in the middle of what may be a wall too thin: their nearest removed cells and their
    neighbours' lie on opposite sides, and near. Only round cells that were removed afresh."""
    thin = np.zeros(gone.shape, dtype=np.bool_)
    if not fresh.any():
        return thin
    from scipy import ndimage

    wide = np.pad(gone, 1, mode="edge")
    far, nearest = ndimage.distance_transform_edt(~wide, return_indices=True)
    beside = ndimage.distance_transform_edt(~fresh) <= widest
    rows, columns = np.nonzero(~gone & (far[1:-1, 1:-1] <= widest) & beside)
    here = np.stack([rows, columns]) + 1
    mine = nearest[:, here[0], here[1]]
    for step in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        other = nearest[:, here[0] + step[0], here[1] + step[1]]
        opposite = ((mine - here) * (other - here)).sum(axis=0) < 0
        hit = opposite & (np.hypot(*(mine - other)) <= widest + 1.0)
        thin[rows[hit], columns[hit]] = True
    return thin


def _parted(gone: BoolArray, thin: BoolArray, reach: float) -> BoolArray:
    """Those of the cells round which, within `reach` cells, what is removed is not all joined: a
    notch in the rim of one cavity is no wall."""
    from scipy import ndimage

    size = math.ceil(reach)
    disc = np.hypot(*np.mgrid[-size : size + 1, -size : size + 1]) <= reach
    wide = np.pad(gone, size, mode="edge")
    found = np.zeros(thin.shape, dtype=np.bool_)
    for row, column in np.argwhere(thin).tolist():
        here = wide[row : row + 2 * size + 1, column : column + 2 * size + 1] & disc
        found[row, column] = ndimage.label(here)[1] > 1
    return found


def _window(cells: BoolArray, by: int) -> tuple[slice, slice]:
    """The box of the cells that are set, grown."""
    rows, columns = np.flatnonzero(cells.any(axis=1)), np.flatnonzero(cells.any(axis=0))
    return (
        slice(max(0, int(rows[0]) - by), int(rows[-1]) + by + 1),
        slice(max(0, int(columns[0]) - by), int(columns[-1]) + by + 1),
    )


def _spots(suspects: BoolArray) -> Iterator[NDArray[np.intp]]:
    """The cells (n, 2) of each spot; cells near to one another are one."""
    from scipy import ndimage

    square = np.ones((3, 3), dtype=np.bool_)
    spots, _ = ndimage.label(ndimage.binary_dilation(suspects, square, _SPOT), structure=square)
    for number, box in enumerate(ndimage.find_objects(spots), start=1):
        inside = (spots[box] == number) & suspects[box]
        yield np.argwhere(inside) + np.array([box[0].start, box[1].start])


def _thinnest(stock: Stock, job: Job, level: _Level, cells: NDArray[np.intp]) -> _Wall | None:
    """The thinnest wall through a spot; None where none is too thin."""
    least, grid = job.check.least_wall, stock.grid
    middles = (cells[:, ::-1] + 0.5) * grid.cell + (grid.x0, grid.y0)
    reach = _reach(stock, job)
    low, high = middles.min(axis=0) - reach, middles.max(axis=0) + reach
    removed = _removed(stock, job, level, shapely.box(*low, *high))
    best, place = least - TOLERANCES.judge, None
    for middle in middles[:: max(1, len(middles) // _MIDDLES)]:
        for across in _across(removed, middle, reach, grid.cell):
            if across.length < best:
                best, place = float(across.length), shapely.get_coordinates(across).mean(axis=0)
    if place is None:
        return None
    return _Wall(thickness=best, middle=place, level=level, cells=cells)


def _across(
    removed: BaseGeometry, middle: FloatArray, reach: float, cell: float
) -> Iterator[BaseGeometry]:
    """The shortest lines through a wall near a place in it: from what is removed on one side to
    what is removed on another, where these are not joined round the place within `reach`."""
    here = shapely.Point(middle)
    parts = shapely.get_parts(removed.intersection(here.buffer(reach)))
    for one, other in combinations(parts, 2):
        feet = [shapely.get_coordinates(shapely.shortest_line(p, here))[0] for p in (one, other)]
        away = feet[0] - middle, feet[1] - middle
        if float(away[0] @ away[1]) <= 0.0:
            width = float(np.hypot(*(feet[1] - feet[0])))
            near = shapely.Point((feet[0] + feet[1]) / 2.0).buffer(width / 2.0 + cell)
            yield shapely.shortest_line(one.intersection(near), other.intersection(near))


def _cells_of(stock: Stock, box: tuple[slice, slice], area: BaseGeometry) -> BoolArray:
    """Cells of a part of the fields whose middle lies in an area."""
    x, y = stock.grid.centres()
    shapely.prepare(area)
    inside = shapely.contains_xy(area, x[box[1]][None, :], y[box[0]][:, None])
    return np.asarray(np.pad(inside, 1, mode="edge"), dtype=np.bool_)


def _removed(stock: Stock, job: Job, level: _Level, window: BaseGeometry) -> BaseGeometry:
    """All that is gone at a level within a window of the blank frame; slivers are closed."""
    parts = [window.difference(stock.area)]
    for side, depth in ((Side.FRONT, level.front), (Side.BACK, level.back)):
        for feeds in stock.faces[side].cut:
            parts.append(cut_at(job, side, feeds, depth, window))
    half = TOLERANCES.cover / 2.0
    return shapely.union_all(parts).buffer(half).buffer(-half).intersection(window)


def cut_at(job: Job, side: Side, feeds: Feeds, depth: float, window: BaseGeometry) -> BaseGeometry:
    """What a cutter takes at a depth below a face: discs over the chords that go as low, each as
    wide as the cutter is that far above their lower end."""
    frame, cutter = frame_of(job, side), feeds.cutter
    chords = feeds.about(program_area(frame, window).bounds, cutter.radius)
    start, end = page_xyz(frame, chords.start), page_xyz(frame, chords.end)
    above = -depth - np.minimum(start[:, 2], end[:, 2])
    near = above >= -TOLERANCES.judge
    x0, y0, x1, y1 = window.buffer(cutter.radius).bounds
    low, high = np.minimum(start, end), np.maximum(start, end)
    near &= (low[:, 0] <= x1) & (high[:, 0] >= x0) & (low[:, 1] <= y1) & (high[:, 1] >= y0)
    if not near.any():
        return shapely.Polygon()
    first, last = below(start[near], end[near], np.full(int(near.sum()), -depth))
    ends = np.column_stack([first[:, :2], last[:, :2], _radii(cutter, job, above[near])])
    each = np.unique(ends, axis=0)
    return discs(np.asarray(shapely.linestrings(each[:, :4].reshape(-1, 2, 2))), each[:, 4])


def _radii(cutter: Cutter, job: Job, above: FloatArray) -> FloatArray:
    """How wide the flutes are at heights above the tip, taken 0.01 mm higher for all but flat
    cutters: a round or slanted one is a little wider there."""
    if cutter.shape is Shape.FLAT:
        return np.full(len(above), cutter.radius)
    profile = profile_of(cutter, job.machine.nut).only(FLUTES)
    heights = np.ceil(np.maximum(above, 0.0) * 100.0) / 100.0
    unique, index = np.unique(heights, return_inverse=True)
    radii = np.array([profile.reach_radius(0.0, float(height)) for height in unique])
    return np.asarray(radii[index], dtype=np.float64)


def _finding(stock: Stock, cutting: Cutting, wall: _Wall) -> Finding:
    job, unit = cutting.job, cutting.job.unit
    line, tip = deepest_near(cutting, wall.middle, job.check.least_wall)
    depth = wall.level.front if cutting.side is Side.FRONT else wall.level.back
    at = cutting.frame.to_program(np.array([*wall.middle, 0.0]))
    at[2] = float(tip[2]) if depth <= TOLERANCES.judge else -min(depth, -float(tip[2]))
    return Finding(
        code=Code.WALL,
        message=(
            f"leaves a wall of {show_mm(wall.thickness, unit)}, "
            f"{show_mm(job.check.least_wall, unit)} are needed, "
            f"{place_words(cutting.frame.to_blank(at), at, unit)}{line_words(line, line)}"
        ),
        line=line,
        at=point(cutting.frame.to_blank(at)),
        at_program=point(at),
        gap=wall.thickness,
        needed=job.check.least_wall,
        mend="move one of the cuts, make it smaller, or lower [check] least_wall",
    )
