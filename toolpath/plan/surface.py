"""Paths that follow the lowest clear tip: never under it, and close above it.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from toolpath.blank.tips import Tips
from toolpath.field import kernels
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.curves import curves_of
from toolpath.plan.route import Route

FloatArray = NDArray[np.float64]

SAMPLE = 0.1
"""Longest stretch that is asked about at once, mm."""
_ASIDE = 0.03
"""How far an emitted straight or arc may lie beside the path in plan, mm."""
_OVER = 0.04
"""How much higher than asked a path lies off the floor, mm, so that it needs fewer straights."""
_ABOVE = 0.05
"""How far an emitted straight may lie above the path, mm."""
_LEVEL = 0.03
"""A path whose heights differ by less is walked level, with arcs, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A path (n, 2) in plan, the heights (n,) of its vertices, and the least height (n - 1,)
    that its stretches need; closed when its last point equals its first."""

    points: FloatArray = field(repr=False)
    heights: FloatArray = field(repr=False)
    bound: FloatArray = field(repr=False)

    def starting_near(self, spot: tuple[float, float]) -> Line:
        """A closed line that begins and ends at its vertex nearest to a spot."""
        away = np.hypot(*(self.points[:-1] - np.array(spot)).T)
        first = int(np.argmin(away))
        if first == 0:
            return self
        return Line(
            points=np.vstack([self.points[first:-1], self.points[: first + 1]]),
            heights=np.concatenate([self.heights[first:-1], self.heights[: first + 1]]),
            bound=np.roll(self.bound, -first),
        )

    def ramped(self, top: float, slope: float) -> Line:
        """A closed line come down upon from `top`, falling by `slope` where it is above: as often
        round as that takes and once more."""
        sides = np.hypot(*np.diff(self.points, axis=0).T)
        around = float(sides.sum())
        drop = max(top - float(self.heights.min()), 0.0)
        laps = math.ceil(drop / slope / around) + 1
        points = np.vstack([self.points[:1], *[self.points[1:]] * laps])
        heights = np.concatenate([self.heights[:1], *[self.heights[1:]] * laps])
        along = np.concatenate([[0.0], np.cumsum(np.tile(sides, laps))])
        ramp = np.maximum(heights, top - slope * along)
        floor = np.minimum(ramp[:-1], ramp[1:]) - _OVER
        return Line(points=points, heights=ramp, bound=np.maximum(np.tile(self.bound, laps), floor))


def line_over(points: FloatArray, tips: Tips, floor: float) -> Line:
    """The path through points (n, 2) at the lowest clear tip, nowhere under `floor`.

    Each stretch, of at most `SAMPLE`, keeps a height that is clear anywhere within half of it and
    the `_ASIDE` of what will be emitted; its two vertices are at or above that.
    """
    path = shapely.get_coordinates(shapely.segmentize(LineString(points), SAMPLE))
    middles = (path[:-1] + path[1:]) / 2.0
    bound = np.maximum(tips.lowest(middles, SAMPLE / 2.0 + _ASIDE), floor)
    closed = bool(np.hypot(*(path[-1] - path[0])) <= ALLOWANCES.same)
    before, after = (bound[-1:], bound[:1]) if closed else (bound[:1], bound[-1:])
    heights = np.maximum(np.append(before, bound), np.append(bound, after))
    heights = np.where(heights > floor, heights + _OVER, floor)
    return Line(points=path, heights=heights, bound=bound)


def walk(route: Route, line: Line) -> None:
    """Along a line from where the route stands over its first point (or on it)."""
    heights = line.heights
    if np.ptp(heights) <= _LEVEL:
        z = float(heights.max())
        x, y = line.points[0].tolist()
        route.straight(x, y, z)
        bare = shapely.simplify(LineString(line.points), ALLOWANCES.same)
        route.along(curves_of(shapely.get_coordinates(bare), _ASIDE / 2.0), z)
        return
    vertices = np.ascontiguousarray(np.column_stack([line.points, heights]))
    keep = np.zeros(len(vertices), dtype=np.bool_)
    kernels.thin_over(vertices, np.ascontiguousarray(line.bound), _ASIDE / 2.0, _ABOVE, keep)
    for x, y, z in vertices[keep].tolist():
        route.straight(x, y, z)
