"""Floors that rise over what is in the way: what binds, and dense passes that finish over it.

Frame: page frame of the face, millimetres.

The passes are rings, each offset from the edge of the zone in which the lowest clear tip lies
above the floor. Every place of the zone lies within a step of the ring outside it, so a floor that
rises inward is met within a step whatever its slope. Rings from the outside in take little stock
at a time and lie level round upright pieces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import accumulate, chain, repeat

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.tips import Tips
from toolpath.job.model import Cleared, Cutter, Job, Shape
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import offsets, polygons_of, shrunk, wall_offset
from toolpath.plan.route import Route
from toolpath.plan.surface import Line, line_over, walk
from toolpath.plan.work import climb_turn
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

STEP = 0.2
"""From one ring to the next, mm. With the planner's margin it stays under the 0.3 mm to which a
floor follows the lowest clear one."""
_BEYOND = 1.0
"""How far past the centres it is known what binds, mm."""
_LINK = 3.0
"""Links that stay down are at most this many steps long."""
_LEAST = 0.1
"""Rings shorter than this, mm, are left out: they reach nothing that others do not."""
LEVEL = 0.01
"""Rings whose heights differ by less are level with each other, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RisingFloor:
    """What binds a cutter in a cut whose floor may rise, and how to bring the floor over it.

    `floor` is the deepest floor, negative. `over` is where the tip must stay above it.
    """

    tips: Tips = field(repr=False)
    cutter: Cutter
    floor: float
    turn: float
    over: BaseGeometry = field(repr=False)

    @classmethod
    def of(
        cls, job: Job, cut: Cleared, cutter: Cutter, area: BaseGeometry, floor: float
    ) -> RisingFloor:
        """For one cutter of a cut that clears `area`, flattened inward, down to `floor`."""
        centres = wall_offset(area, cutter.radius, outward=False)
        # Wider than the centres: cut off at their very edge it would leave slivers along walls.
        wide = centres.buffer(_BEYOND, quad_segs=4)
        tips = Tips.of(job, cut.face, cutter, margin=TOLERANCES.planner_margin, within=wide)
        return cls(
            tips=tips,
            cutter=cutter,
            floor=floor,
            turn=climb_turn(cut.face),
            over=tips.blocked(floor),
        )

    @property
    def any(self) -> bool:
        """Whether anything binds a tip on the floor."""
        return not self.over.is_empty

    @property
    def pieces(self) -> tuple[str, ...]:
        """The names of the pieces over which the floor rises."""
        return self.tips.binding(self.floor)

    def blocked(self, z: float) -> BaseGeometry:
        """Where a tip at height z is not clear; errs outward as `Tips.blocked` does."""
        return self.over if z == self.floor else self.tips.blocked(z)

    def finish(self, route: Route, centres: BaseGeometry, cleared_to: float) -> None:
        """Dense passes over all that binds; ends at the safe height.

        Parameters
        ----------
        route : stands anywhere from which it may lift.
        centres : where the tip may go in plan, walls and islands kept; outside `blocked` of its
            levels everything in it was cleared, level by level, down to `floor`.
        cleared_to : height above which the cutter meets no stock anywhere in `centres`: 0, or
            the depth at which the cut's material begins, negative.

        The floor ends within 0.3 mm (in space) of the lowest clear one and never under it. Stock
        is met from the cleared floor around, a step at a time, else down a ramp along a ring.
        """
        zone = self.over.buffer(STEP, quad_segs=8).intersection(centres)
        allowed = centres.buffer(ALLOWANCES.inner_bound)
        for loop in self._kept_loops(zone):
            if loop.line.heights.min() < cleared_to:
                self._visit(route, loop, allowed, cleared_to)
        if self.any:
            route.lift()

    def _visit(self, route: Route, loop: _Loop, allowed: BaseGeometry, cleared_to: float) -> None:
        """Round a ring, from where it is nearest."""
        line = loop.line.starting_near(route.at[:2])
        link = np.vstack([route.at[:2], line.points[0]])
        length = float(np.hypot(*(link[1] - link[0])))
        if route.at[2] < cleared_to and length <= _LINK * STEP:
            if length <= ALLOWANCES.same:
                walk(route, line)
                return
            if allowed.covers(LineString(link)):
                walk(route, line_over(link, self.tips, self.floor))
                walk(route, line)
                return
        route.lift()
        route.over(*line.points[0])
        low = max(cleared_to, float(line.heights[0])) + ALLOWANCES.rapid_above
        route.rapid_z(min(route.low, low))
        self._enter(route, replace(loop, line=line), cleared_to)

    def _enter(self, route: Route, loop: _Loop, cleared_to: float) -> None:
        """Down where nothing stands or the floor is cut already, else along the ring as a ramp.

        A ring too short for a ramp has the ring outside it close by on all sides: what stands
        there is thinner than the passes lie apart.
        """
        line = loop.line
        first = float(line.heights[0])
        air = first >= cleared_to or not self.over.intersects(Point(line.points[0]))
        if loop.short or air:
            route.sink(first)
            walk(route, line)
            return
        top = min(cleared_to, first + self.cutter.stepdown) + ALLOWANCES.ramp_above_floor
        route.sink(top)
        walk(route, line.ramped(top, ALLOWANCES.slope * math.tan(self.cutter.ramp)))

    def _kept_loops(self, zone: BaseGeometry) -> list[_Loop]:
        """The rings in cutting order: each followed by those that hang on it."""
        roots = self._rings(zone)
        found: list[_Loop] = []
        todo = [(loop, 0.0) for loop in reversed(roots)]
        while todo:
            loop, skipped = todo.pop()
            skip = self._needless(loop, skipped)
            if not skip:
                found.append(loop)
            further = skipped + STEP if skip else 0.0
            todo.extend((child, further) for child in reversed(loop.inner))
        return found

    def _needless(self, loop: _Loop, skipped: float) -> bool:
        """Whether a flat cutter clears the level ground about a ring from the ring outside it."""
        outer = loop.outer
        if outer is None or skipped + 2.0 * STEP > self._flat_step():
            return False
        around = [outer, loop, *loop.inner]
        low = min(float(each.line.heights.min()) for each in around)
        high = max(float(each.line.heights.max()) for each in around)
        return high - low <= LEVEL

    def _flat_step(self) -> float:
        """How far level rings may lie apart."""
        flat = {
            Shape.FLAT: self.cutter.radius,
            Shape.BULL: self.cutter.radius - self.cutter.corner_radius,
        }.get(self.cutter.shape, 0.0)
        return min(flat - ALLOWANCES.spare, self.cutter.stepover * self.cutter.diameter)

    def _rings(self, zone: BaseGeometry) -> list[_Loop]:
        """The rings of a zone: the outermost, with all others hanging on the nearest outside."""
        roots = [loop for loop in self._loops(zone) if not loop.short]
        outside = roots
        for area in chain(offsets(zone, accumulate(repeat(STEP)), _shrunk), [Polygon()]):
            if not outside:
                break
            inside = self._loops(area)
            for loop in inside:
                loop.hang_on(outside)
            last = [loop for loop in outside if not loop.inner and loop.thin()]
            for loop in last:
                for extra in self._loops(_shrunk(loop.part, STEP / 2.0)):
                    extra.hang_on([loop])
            outside = inside
        return roots

    def _loops(self, area: BaseGeometry) -> list[_Loop]:
        """The loops of an area that is to be cut, climbing: the stock inside is on the right."""
        found = []
        for part in polygons_of(area):
            turned = shapely.orient_polygons(part, exterior_cw=self.turn > 0)
            for ring in (turned.exterior, *turned.interiors):
                points = shapely.get_coordinates(ring)
                if ring.length <= _LEAST:
                    continue
                line = line_over(points, self.tips, self.floor)
                found.append(_Loop(line=line, part=part, inner=[]))
        return found


@dataclass(slots=True, kw_only=True, eq=False)
class _Loop:
    """A ring, the part of the zone that it bounds, and the rings next inside it."""

    line: Line
    part: BaseGeometry
    inner: list[_Loop]
    outer: _Loop | None = None

    @property
    def short(self) -> bool:
        """Whether it is too short for a ramp."""
        return LineString(self.line.points).length < ALLOWANCES.ring_least

    def hang_on(self, outside: list[_Loop]) -> None:
        """On the ring outside that is nearest to where this one begins."""
        begin = Point(self.line.points[0])
        near = shapely.distance(begin, [LineString(loop.line.points) for loop in outside])
        self.outer = outside[int(np.argmin(near))]
        self.outer.inner.append(self)

    def thin(self) -> bool:
        """Whether no further ring fits into its part."""
        return bool(_shrunk(self.part, STEP).is_empty)


def _shrunk(area: BaseGeometry, distance: float) -> BaseGeometry:
    return shrunk(area, distance, 4).simplify(ALLOWANCES.inner_bound)
