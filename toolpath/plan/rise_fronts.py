"""Floors that rise, opened from the side that is cleared already, so that no pass is a slot.

Frame: page frame of the face, millimetres. A part of the zone that binds is gone over on fronts:
all its places equally far, through the part, from where the floor is cleared. Each takes from the
one before no more than the bound; along walls a last pass takes what their ends leave.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Shape
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.rings import polygons_of
from toolpath.plan.rise import LEVEL, STEP, RisingFloor
from toolpath.plan.rise_ends import Ends
from toolpath.plan.route import Route
from toolpath.plan.surface import Line, line_over, walk
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

BESIDE = 1.5
"""Fronts no further apart than this, in steps, follow one another."""
ON_WALL = 0.002
"""So near to a wall a place is on it, mm."""
SHORT = 0.02
"""Shorter bits of a front are none, mm."""
LED = 0.5
"""So far along a pass it is come to, in radii."""
LED_LEVEL = 1.0
"""The same on level ground: nearer to the wall the rim meets what the turns at the ends left."""
OBLIQUE = 0.3
"""On a slope it is come to from what was passed so much further along, in radii."""
MOST = 2000
"""Fronts of a part at most."""


@dataclass(slots=True, kw_only=True, eq=False)
class _Front:
    """A front (n, 2), those that come before it, and how far behind it the last pass is."""

    points: FloatArray = field(repr=False)
    before: list[_Front] = field(repr=False)
    behind: float = 0.0
    done: bool = False
    last: bool = False
    """Whether none follows."""
    passed: list[BaseGeometry] = field(default_factory=list, repr=False)
    """The passes next behind it, itself if it is one."""

    @property
    def closed(self) -> bool:
        """Whether it ends where it begins."""
        return bool(np.hypot(*(self.points[-1] - self.points[0])) <= ALLOWANCES.same)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """How a rising floor is opened: where the tip may go, the height above which nothing stands,
    and the greatest engaged angle."""

    rising: RisingFloor
    centres: BaseGeometry = field(repr=False)
    cleared_to: float
    bound: float

    def finish(self, route: Route) -> None:
        """Dense passes over all that binds, as `RisingFloor.finish` makes them, but from the
        cleared side; parts that have none are gone over in rings."""
        rising = self.rising
        zone = rising.over.buffer(STEP, quad_segs=8).intersection(self.centres)
        walls = self.centres.boundary
        for part in polygons_of(zone):
            cleared = part.boundary.difference(walls.buffer(ON_WALL))
            if cleared.length < STEP:
                rising.finish(route, part, self.cleared_to)
                continue
            edge = _Front(points=np.empty((0, 2)), before=[], done=True, passed=[cleared])
            fronts = list(self._fronts(part, edge, cleared))
            self._cut(route, fronts)
            passed = [line for front in fronts for line in front.passed]
            self._along_walls(route, part, shapely.union_all([cleared, *passed]))
        if rising.any:
            route.lift()

    def _fronts(self, part: Polygon, edge: _Front, cleared: BaseGeometry) -> Iterator[_Front]:
        """The fronts of a part, the nearest first."""
        gone: BaseGeometry = cleared.buffer(TOLERANCES.offset, quad_segs=2)
        last = [edge]
        for _ in range(MOST):
            left = part.difference(gone)
            if left.is_empty:
                return
            wider: BaseGeometry = gone.buffer(STEP, quad_segs=8).intersection(part)
            wider = wider.simplify(ALLOWANCES.inner_bound / 4.0).union(gone)
            halfway = gone.buffer(STEP / 2.0, quad_segs=8)
            lines = [*_edges(wider, part)]
            for rest in polygons_of(left):
                if rest.difference(wider).is_empty:
                    lines += _edges(halfway.intersection(rest), rest, halfway.boundary)
            now = []
            for points in lines:
                line = LineString(points)
                before = [each for each in last if _follows(each, line)]
                now.append(_Front(points=points, before=before or last))
            yield from now
            last, gone = now or last, wider

    def _cut(self, route: Route, fronts: list[_Front]) -> None:
        """Each after all those before it, the nearest next."""
        after = {id(each): [f for f in fronts if each in f.before] for each in fronts}
        for front in fronts:
            front.last = not after[id(front)]
        left = list(fronts)
        while left:
            free = [each for each in left if all(other.done for other in each.before)]
            front = min(free, key=lambda each: _apart(each, route.at))
            left = [each for each in left if each is not front]
            self._take(route, front, after[id(front)])

    def _take(self, route: Route, front: _Front, after: list[_Front]) -> None:
        """Along a front, unless it lies on level ground and the next one takes all of it."""
        front.done = True
        behind = STEP + max((each.behind for each in front.before), default=0.0)
        if behind + STEP <= self._level_step() and self._may_skip(front, after):
            front.behind = behind
            front.passed = [line for each in front.before for line in each.passed]
            return
        passed = shapely.union_all([line for each in front.before for line in each.passed])
        points = _begun_near(front, route.at)
        if not front.closed and not front.last:
            points = self._turned_aside(points, passed)
        front.passed = [LineString(points)]
        self._walk(route, points, passed)

    def _may_skip(self, front: _Front, after: list[_Front]) -> bool:
        """Whether those that follow a front take all of it: the last of all ends in corners, for
        which its step stays small."""
        follow = bool(after) and not any(each.last for each in after)
        return follow and self._level([each.points for each in (front, *after)])

    def _turned_aside(self, points: FloatArray, passed: BaseGeometry) -> FloatArray:
        """A front that turns aside at those ends that lie on level ground."""
        for _ in range(2):
            end = self._ends.end_of(points)
            if end is not None and self._level([end]):
                points = self._ends.turned_aside(points, passed)
            points = points[::-1]
        return points

    @property
    def _ends(self) -> Ends:
        return Ends(centres=self.centres, radius=self.rising.cutter.radius)

    def _level(self, lines: list[FloatArray]) -> bool:
        heights = [self._over(each).heights for each in lines]
        return float(np.ptp(np.concatenate(heights))) <= LEVEL

    def _level_step(self) -> float:
        """From one pass to the next on level ground: going over to it straight the cutter meets
        no more than the bound either."""
        cutter = self.rising.cutter
        if cutter.shape is not Shape.FLAT:
            return 0.0
        return cutter.radius * (1.0 - math.cos(self.bound / 2.0))

    def _over(self, points: FloatArray) -> Line:
        return line_over(points, self.rising.tips, self.rising.floor)

    def _walk(self, route: Route, points: FloatArray, passed: BaseGeometry) -> None:
        """A pass, begun from the end of the one before or from what was passed beside it."""
        beside, way = self._led(points)
        link = shapely.get_coordinates(shapely.shortest_line(passed, Point(beside)))
        here = np.vstack([route.at[:2], link[0]])
        line = self._over(_distinct(np.vstack([link[:1], way])))
        if line.heights.min() >= self.cleared_to:
            return  # nothing stands there
        if not self._is_near(route, here):
            route.lift()
            route.over(*link[0])
            low = max(self.cleared_to, float(line.heights[0])) + ALLOWANCES.rapid_above
            route.rapid_z(min(route.low, low))
            route.sink(float(line.heights[0]))
        elif math.dist(*here) > ALLOWANCES.same:
            walk(route, self._over(here))
        walk(route, line)

    def _led(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Beside which place of a pass it is come to, and the way on it: beside a wall from a
        little further along, back to the wall, and then all of it. Straight along the wall the
        whole front of the cutter would be in stock; across a slope all that lies uphill, so it is
        come to on a slant."""
        closed = math.dist(points[0], points[-1]) <= ALLOWANCES.same
        radius, whole = self.rising.cutter.radius, length_of(points)
        if closed:
            return points[0], points
        length = slant = min(LED_LEVEL * radius, whole / 2.0)
        lead = stretch(points, 0.0, length)[::-1]
        if not self._level([lead]):
            length = min(LED * radius, whole / 2.0)
            lead = stretch(points, 0.0, length)[::-1]
            slant = min(length + OBLIQUE * radius, whole)
        return stretch(points, 0.0, slant)[-1], np.vstack([lead, points[1:]])

    def _is_near(self, route: Route, way: FloatArray) -> bool:
        """Whether the tip may go straight to the begin of a pass, staying down."""
        near = math.dist(*way) <= 2.0 * max(STEP, LED_LEVEL * self.rising.cutter.radius)
        return near and route.at[2] < self.cleared_to and self._ends.may_go(way)

    def _along_walls(self, route: Route, part: Polygon, passed: BaseGeometry) -> None:
        """Along the walls of a part where the ends of what was passed left more than a film.
        On a slope a pass along all of a wall would meet the steps between them all round its
        front."""
        shapely.prepare(passed)
        turn = self.rising.turn
        turned = shapely.orient_polygons(part, exterior_cw=turn > 0)
        for ring in (turned.exterior, *turned.interiors):
            wall = shapely.get_coordinates(ring)
            for points in self._ends.unfinished(wall, passed, turn):
                self._walk(route, points, Point(points[0]))


def _distinct(points: FloatArray) -> FloatArray:
    """The points without those that lie on the one before."""
    far = np.hypot(*np.diff(points, axis=0).T) > ALLOWANCES.same
    return np.asarray(points[np.append(True, far)])


def _edges(area: BaseGeometry, part: Polygon, on: BaseGeometry | None = None) -> list[FloatArray]:
    """The stretches (n, 2) of the edge of an area that are not on the edge of a part."""
    edge = area.boundary if on is None else on.intersection(part)
    return list(_lines(edge.difference(part.boundary.buffer(ON_WALL))))


def _lines(lines: BaseGeometry) -> Iterator[FloatArray]:
    merged = shapely.line_merge(lines)
    for line in shapely.get_parts(merged):
        if isinstance(line, LineString) and line.length > SHORT:
            yield shapely.get_coordinates(line)


def _follows(front: _Front, line: LineString) -> bool:
    """Whether a line lies next to a front."""
    near = [LineString(front.points)] if len(front.points) else front.passed
    return any(bool(each.dwithin(line, BESIDE * STEP)) for each in near)


def _apart(front: _Front, at: tuple[float, float, float]) -> float:
    """How far the place where a front would be begun is."""
    return math.dist(_begun_near(front, at)[0], at[:2])


def _begun_near(front: _Front, at: tuple[float, float, float]) -> FloatArray:
    """The front from its nearer end, or a closed one from its nearest place."""
    points = front.points
    if front.closed:
        first = int(np.argmin(np.hypot(*(points[:-1] - np.array(at[:2])).T)))
        return np.vstack([points[first:-1], points[: first + 1]])
    before, after = (math.dist(points[k], at[:2]) for k in (0, -1))
    return points if before <= after else points[::-1]
