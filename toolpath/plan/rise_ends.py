"""Where passes over a rising floor end at walls: how they turn aside, and what they leave there.

Frame: page frame of the face, millimetres, radians. A pass that goes straight to a wall on level
ground meets, all round its front, a film of what its neighbour left there; one along the wall of
a slope meets the steps between all that ended there. So passes end in a turn along the wall, and
along walls only what they leave is gone over.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import evenly, length_of, stretch
from toolpath.plan.rings import polygons_of

FloatArray = NDArray[np.float64]

ASIDE = 0.25
"""Passes end in turns of this radius, in radii of the cutter."""
LONG = 3.0
"""... if both ends are so long at least, in radii of the turn."""
NEARER = (1.0, 1.1, 1.25)
"""So many times as early as they would touch the wall they are begun, where passes bend."""
MOST_TURN = math.radians(135.0)
"""They turn by no more than this."""
FILM = 0.01
"""A thinner skin than this along a wall is left, mm."""
DENSE = 0.05
"""Places of a wall at which that is asked, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends:
    """The walls round where the middle of a cutter may be, and its radius."""

    centres: BaseGeometry = field(repr=False)
    radius: float

    def may_go(self, way: FloatArray) -> bool:
        """Whether the cutter may go along (n, 2)."""
        return bool(self.centres.buffer(ALLOWANCES.inner_bound).covers(LineString(way)))

    def end_of(self, points: FloatArray) -> FloatArray | None:
        """What of a pass (n, 2) a turn at its end needs; None where it is too short for two."""
        length, needed = length_of(points), LONG * ASIDE * self.radius
        return stretch(points, length - needed, length) if length >= 2.0 * needed else None

    def turned_aside(self, points: FloatArray, passed: BaseGeometry) -> FloatArray:
        """A pass that ends in a turn on to the way of the wall, towards what was passed before,
        where there is room for it."""
        wall = self._way_of_wall(points[-1])
        beside = shapely.get_coordinates(shapely.shortest_line(Point(points[-1]), passed))
        wall *= math.copysign(1.0, float(wall @ (beside[-1] - beside[0])))
        for nearer in NEARER:
            way = _turned_to(points, wall, ASIDE * self.radius, nearer)
            if self.may_go(way):
                return way
        return points

    def _way_of_wall(self, place: FloatArray) -> FloatArray:
        """(2,) along the wall at a place."""
        parts = polygons_of(self.centres)
        rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
        ring = min(rings, key=lambda each: each.distance(Point(place)))
        at = ring.project(Point(place))
        ends = [ring.interpolate((at + step) % ring.length) for step in (-DENSE, DENSE)]
        ahead = shapely.get_coordinates(ends[1])[0] - shapely.get_coordinates(ends[0])[0]
        return np.asarray(ahead / max(float(np.hypot(*ahead)), ALLOWANCES.same))

    def unfinished(
        self, ring: FloatArray, passed: BaseGeometry, outward: float
    ) -> Iterator[FloatArray]:
        """The stretches (n, 2) of a wall beside which more than a film stands: the wall itself, as
        far off as the cutter is wide, lies further from all that was passed. `outward` is 1 where
        it is on the left of the ring, else -1."""
        places = evenly(ring, DENSE, 2)[:-1]
        ahead = np.roll(places, -1, axis=0) - places
        after = outward * np.column_stack([-ahead[:, 1], ahead[:, 0]])
        before = np.roll(after, 1, axis=0)
        skin = np.zeros(len(places))
        for out in (before, after, before + after):
            size = np.maximum(np.hypot(*out.T), ALLOWANCES.same)[:, None]
            rim = shapely.points(places + self.radius * out / size)
            skin = np.maximum(skin, shapely.distance(rim, passed) - self.radius)
        rows = np.flatnonzero(skin > FILM)
        for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
            if len(run):
                yield places[max(0, run[0] - 1) : run[-1] + 2]


def _turned_to(points: FloatArray, wall: FloatArray, radius: float, nearer: float) -> FloatArray:
    """A way that turns at its end to the direction (2,) of a wall, begun so many times as early as
    an arc of that radius that touches both."""
    ahead = points[-1] - stretch(points, 0.0, length_of(points) - radius)[-1]
    ahead /= np.hypot(*ahead)
    left = np.array([-ahead[1], ahead[0]])
    left *= math.copysign(1.0, float(left @ wall))
    turn = min(math.acos(float(np.clip(ahead @ wall, -1.0, 1.0))), MOST_TURN)
    early = nearer * radius * math.tan(turn / 2.0)
    shorter = stretch(points, 0.0, length_of(points) - early)
    angle = np.linspace(0.0, turn, 9)[1:, None]
    arc = shorter[-1] + radius * (np.sin(angle) * ahead + (1.0 - np.cos(angle)) * left)
    return np.vstack([shorter, arc])
