"""What a cutter is to follow in a relief: the ground, the walls round it and what is in the way.

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

from toolpath.blank.tips import Tips
from toolpath.drawing.ground import Ground
from toolpath.drawing.outline import Err
from toolpath.field.drop import Dropping, Form
from toolpath.job.model import Cutter, IfBlocked, Job, Relief, Shape
from toolpath.plan.rings import flat_area
from toolpath.plan.tiers import planned_area
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_OVER = 0.02
"""How far from a place what is in the way is asked about, mm; that much it is passed wider."""

_RUN_OFF = 0.75
"""Share of its radius by which a tip runs past the edge of the blank: enough where the floor there
falls by less than some 48 degrees."""


def form_of(cutter: Cutter) -> Form:
    """The end of a cutter as it is let down on a surface."""
    slope = 0.0
    if cutter.shape is Shape.VEE:
        slope, flat, corner = 1.0 / math.tan(cutter.angle / 2.0), cutter.tip_diameter / 2.0, 0.0
    else:
        corner = cutter.point_length
        flat = cutter.radius - corner
    return Form(flat=flat, corner=corner, slope=slope, radius=cutter.radius)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Heights (n,) of the lowest tips at some places: over the `ground` alone, beside the `wall`,
    and over what is in the way (`piece`); -inf where none binds."""

    ground: FloatArray
    wall: FloatArray
    piece: FloatArray

    @property
    def tips(self) -> FloatArray:
        """(n,) the lowest tips that keep clear of all three."""
        return np.maximum(np.maximum(self.ground, self.wall), self.piece)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Target:
    """The ground of a relief as one cutter finds it; `area` is where it is to be cut.

    Outside `area` the blank stands up to its face, as far as there is blank.
    """

    ground: Ground
    dropping: Dropping = field(repr=False)
    cutter: Cutter
    area: BaseGeometry = field(repr=False)
    wall: BaseGeometry = field(repr=False)
    """All of the blank that must stay at the height of its face."""
    free: BaseGeometry = field(repr=False)
    """Where the cutter meets no wall however deep it is."""
    roam: BaseGeometry = field(repr=False)
    """Where the tip may go to cut `area`: past the edge of the blank too, where no clamp is."""
    pieces: Tips | None = field(repr=False)

    @classmethod
    def of(
        cls, job: Job, cut: Relief, cutter: Cutter, area: BaseGeometry, dropping: Dropping
    ) -> Target:
        """For one cutter of a relief that is cut in `area`; what is in the way binds only where
        the cut says that its floor rises."""
        blank = job.blank.outline.polygon(TOLERANCES.flatten, Err.OUTWARD)
        wall = blank.difference(area)
        free = area.difference(wall.buffer(cutter.radius, quad_segs=32))
        roam = area.union(_run_off(job, cut, cutter, area))
        for each in (wall, free, roam):
            shapely.prepare(each)
        pieces = None
        if cut.if_blocked is IfBlocked.RISE:
            margin = TOLERANCES.planner_margin
            pieces = Tips.of(job, cut.face, cutter, margin=margin, within=roam.buffer(1.0))
        return cls(
            ground=cut.ground,
            dropping=dropping,
            cutter=cutter,
            area=area,
            wall=wall,
            free=free,
            roam=roam,
            pieces=pieces if pieces is not None and pieces.tops else None,
        )

    def found(self, xy: FloatArray, *, aside: float = 0.0) -> Found:
        """What binds a tip at places (n, 2), or anywhere within `aside` of them."""
        own = self.ground.to_own(xy)
        ground = self.dropping.tips(own, form_of(self.cutter), aside=aside)
        return Found(
            ground=ground,
            wall=self._beside(xy, aside),
            piece=np.full(len(xy), -np.inf)
            if self.pieces is None
            else self.pieces.lowest(xy, aside + _OVER),
        )

    def _beside(self, xy: FloatArray, aside: float) -> FloatArray:
        """(n,) the lowest tips beside the walls, whose top is the face."""
        found = np.full(len(xy), -np.inf)
        near = np.flatnonzero(~shapely.contains_xy(self.free, xy[:, 0], xy[:, 1]))
        if near.size and not self.wall.is_empty:
            points = shapely.points(xy[near])
            away = np.asarray(shapely.distance(self.wall, points), dtype=np.float64)
            found[near] = -rise(form_of(self.cutter), np.maximum(away - aside, 0.0))
        return found


def _run_off(job: Job, cut: Relief, cutter: Cutter, area: BaseGeometry) -> BaseGeometry:
    """Beside the edge of the blank, where it is cut: there the tip lies past it while the flank
    cuts a floor that falls outward."""
    blank = job.blank.outline.polygon(TOLERANCES.flatten, Err.OUTWARD)
    beside = area.buffer(_RUN_OFF * cutter.radius, quad_segs=8).difference(blank)
    keep = job.check.clearance + job.machine.path_error + TOLERANCES.planner_margin
    widest = max(cutter.radius, cutter.shank / 2.0, job.machine.nut.diameter / 2.0)
    for clamp in job.clamps:
        if clamp.face is cut.face:
            stands = flat_area(clamp.outline, TOLERANCES.flatten, Err.OUTWARD)
            beside = beside.difference(stands.buffer(widest + keep, quad_segs=16))
    joined = [
        part for part in shapely.get_parts(beside) if part.distance(area) <= TOLERANCES.offset
    ]
    return shapely.union_all(joined) if joined else Polygon()


def rise(form: Form, r: FloatArray) -> FloatArray:
    """Height of the end of a cutter above its tip at radii r, +inf beyond it."""
    off = np.maximum(r - form.flat, 0.0)
    if form.corner > 0.0:
        up = form.corner - np.sqrt(np.maximum(form.corner**2 - off**2, 0.0))
    else:
        up = off * form.slope
    return np.asarray(np.where(r > form.radius, np.inf, up), dtype=np.float64)


def relief_area(cut: Relief) -> BaseGeometry:
    """Where a relief is to be cut, arcs flattened so that it never grows."""
    return planned_area(cut.outline, ())


def dropping_of(ground: Ground) -> Dropping:
    """The ground, made ready for cutters to be let down on it."""
    return Dropping.on(ground.z, ground.step)
