"""Roughing a relief: levels inside its own waterlines, cleared as a pocket is.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.errors import EntryError
from toolpath.field.carve import Nodes, carve, radii_of
from toolpath.job.model import Cutter, Relief, Shape
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.descend import Levels
from toolpath.plan.gone import Gone
from toolpath.plan.levels import level_heights
from toolpath.plan.pocket import cut_region
from toolpath.plan.regions import Region
from toolpath.plan.relief_left import Left
from toolpath.plan.rings import polygons_of
from toolpath.plan.route import Route
from toolpath.plan.target import Target, form_of, rise
from toolpath.plan.tiers import Tier
from toolpath.plan.work import Work
from toolpath.plan.zones import area_below

FloatArray = NDArray[np.float64]

_NODES = 60_000
"""Places at which it is asked how deep a cutter may go, at most."""
_CLOSEST = 0.25
"""... and how near they lie, mm."""
_RIDGE = 0.2
"""Ridges that a round cutter may leave between its roughing passes, mm."""
_THIN = 0.6
"""What a larger cutter left beside a wall is roughed again where it is thicker than this, mm."""
_SLIVER = 0.25
"""Half the width of what is too narrow to be worth a pass, mm."""
LEAST = 0.5
"""Less than this is a speck, mm²."""
_NEAREST = 0.3
"""Levels lie no nearer than this share of what is taken at once."""
_SPARED = 0.1
"""What more levels would take less than this share of it from is not worth them."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Depths:
    """The lowest tips over an area, each good anywhere within a step of its node, `leave` over
    the ground: x (columns,), y (rows,), z (rows, columns)."""

    x: FloatArray
    y: FloatArray
    z: FloatArray = field(repr=False)
    centres: BaseGeometry = field(repr=False)

    @classmethod
    def of(cls, target: Target, leave: float, floor: float) -> Depths:
        """Of one cutter, its walls left standing that much too."""
        area = target.area
        wide = target.cutter.radius + leave
        centres = area.difference(target.wall.buffer(wide, quad_segs=16))
        x0, y0, x1, y1 = area.bounds
        step = max(_CLOSEST, math.sqrt((x1 - x0) * (y1 - y0) / _NODES))
        x = np.linspace(x0, x1, max(2, math.ceil((x1 - x0) / step) + 1))
        y = np.linspace(y0, y1, max(2, math.ceil((y1 - y0) / step) + 1))
        diagonal = math.hypot(x[1] - x[0], y[1] - y[0])
        places = _grid(x, y)
        found = target.found(places, aside=leave + diagonal)
        ground = np.maximum(found.ground + leave, floor)
        z = np.maximum(ground, found.piece).reshape(len(y), len(x))
        return cls(x=x, y=y, z=z, centres=centres)

    def places(self) -> FloatArray:
        """(rows * columns, 2) the nodes, row by row."""
        return _grid(self.x, self.y)

    def open_at(self, z: float) -> BaseGeometry:
        """Where the tip may be at a height, without slivers."""
        whole = area_below(self.x, self.y, self.z, z)
        inner = whole.intersection(self.centres)
        opened = inner.buffer(-_SLIVER, quad_segs=4).buffer(_SLIVER * 0.95, quad_segs=4)
        return opened.simplify(ALLOWANCES.inner_bound).intersection(inner)


def _grid(x: FloatArray, y: FloatArray) -> FloatArray:
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rest:
    """What other cutters left to rough: where it is `thick`, and all that stands."""

    thick: BaseGeometry = field(repr=False)
    left: Left


def rough(
    route: Route, work: Work, target: Target, gone: Gone, *, rest: Rest | None = None
) -> tuple[str, ...]:
    """Clear a relief level by level down to what the finish leaves; ends where it may lift.

    Without `rest` nothing was cut before; else only what is left there beside what others cut.
    Returns notes of what was too narrow to get into.
    """
    cut, cutter = work.cut, work.cutter
    assert isinstance(cut, Relief)
    depths = Depths.of(target, cut.finish, -cut.depth)
    lowest, notes = float(depths.z.min()), []
    if lowest >= gone.top - ALLOWANCES.same:
        return ()
    above, before = gone.top, depths.open_at(gone.top)
    heights = _heights(depths, target, work, gone.top)
    for z in heights:
        centres = depths.open_at(z).intersection(before)
        if rest is not None:
            near = rest.thick.buffer(work.radius + _THIN, quad_segs=8)
            centres = _beside_thick(centres.intersection(near), gone.at(z), work.radius)
        for part in polygons_of(centres):
            top = above
            if rest is not None:
                top = max(above, rest.left.highest(part.buffer(cutter.radius)))
            region = _region(part, (top, z), work.radius)
            try:
                cut_region(route, work, region, gone)
            except EntryError:
                centres = centres.difference(part)
                spot = part.representative_point()
                notes.append(
                    f"a place too narrow for {cutter.name} to get into at x {spot.x:.1f} "
                    f"y {spot.y:.1f} is left to the finishing passes"
                )
        above, before = z, (centres if rest is None else depths.open_at(z))
    return tuple(notes)


def roughing(cut: Relief, job_cutter: Work) -> Work:
    """The work of a cutter that roughs: one that is not flat clears less than its width."""
    cutter = job_cutter.cutter
    if cutter.shape is Shape.FLAT:
        return job_cutter
    radii = np.linspace(0.0, cutter.radius, 2001)
    low = radii[rise(form_of(cutter), radii) <= _RIDGE]
    return Work(job=job_cutter.job, cut=cut, cutter=cutter, bite=float(low[-1]))


def _heights(depths: Depths, target: Target, work: Work, top: float) -> tuple[float, ...]:
    """Heights of the levels: no further apart than the cutter takes, and so near that what they
    leave is no more than the next cutter that finishes takes at once, where more of them help."""
    cut, lowest = work.cut, float(depths.z.min())
    assert isinstance(cut, Relief)
    takes = cut.finishers[0].stepdown if work.cutter is cut.cutter else work.cutter.stepdown
    apart = max(min(work.cutter.stepdown, takes - cut.finish), _NEAREST * work.cutter.stepdown)
    usual = found = level_heights(-lowest, apart, -top)
    laid = _Laid.of(depths, target, work.cutter)
    while laid.area_over(found, takes) > LEAST:
        if (top - lowest) / (len(found) + 1) < _NEAREST * takes:
            return usual
        found = level_heights(-lowest, (top - lowest) / (len(found) + 1), -top)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """What levels leave at the nodes where the lowest tips are known: `best` if there were ever so
    many of them; `which` (rows, columns) nodes count."""

    depths: Depths
    cutter: Cutter
    ground: FloatArray = field(repr=False)
    best: FloatArray = field(repr=False)
    which: NDArray[np.bool_] = field(repr=False)

    @classmethod
    def of(cls, depths: Depths, target: Target, cutter: Cutter) -> _Laid:
        places = depths.places()
        shapely.prepare(depths.centres)
        which = shapely.contains_xy(depths.centres, places[:, 0], places[:, 1])
        return cls(
            depths=depths,
            cutter=cutter,
            ground=target.ground.heights(places).reshape(depths.z.shape),
            best=_swept(depths, np.where(which.reshape(depths.z.shape), depths.z, np.inf), cutter),
            which=np.asarray(which).reshape(depths.z.shape),
        )

    def area_over(self, heights: tuple[float, ...], most: float) -> float:
        """mm² over which levels leave more than `most`, and more than others would."""
        rising = np.array([*heights[::-1], np.inf])
        tips = rising[np.searchsorted(rising[:-1], self.depths.z - ALLOWANCES.same)]
        left = _swept(self.depths, np.where(self.which, tips, np.inf), self.cutter)
        over = self.which & (left - self.ground > most) & (left - self.best > _SPARED * most)
        x, y = self.depths.x, self.depths.y
        return float(over.sum()) * float((x[1] - x[0]) * (y[1] - y[0]))


def _swept(depths: Depths, tips: FloatArray, cutter: Cutter) -> FloatArray:
    """(rows, columns) what is left at nodes by a cutter that stood at those with finite tips."""
    x, y = depths.x, depths.y
    step = float(min(x[1] - x[0], y[1] - y[0]))
    shape = (len(y), len(x))
    nodes = Nodes(x0=float(x[0]), y0=float(y[0]), step=step, z=np.zeros(shape))
    rows, columns = np.nonzero(np.isfinite(tips))
    grid = np.column_stack([x[0] + columns * step, y[0] + rows * step, tips[rows, columns]])
    carve(nodes, grid, rise(form_of(cutter), radii_of(cutter.radius)), cutter.radius)
    return nodes.z


def _region(centres: Polygon, heights: tuple[float, float], radius: float) -> Region:
    top, z = heights
    area = centres.buffer(radius)
    tier = Tier(area=area, drawn=area, outline=area, top=top, floor=z)
    levels = Levels(top=top, heights=(z,))
    return Region(
        tier=tier, levels=levels, centres=centres, rough=centres, tight=Polygon(), blocked=True
    )


def _beside_thick(centres: BaseGeometry, cut: BaseGeometry, radius: float) -> BaseGeometry:
    """The part of the centres from which something thick can be reached that is not cut."""
    rest = centres.buffer(radius, quad_segs=8).difference(cut.buffer(_THIN / 8.0))
    thick = rest.buffer(-_THIN / 2.0, quad_segs=4)
    return centres.intersection(thick.buffer(radius + _THIN, quad_segs=8))
