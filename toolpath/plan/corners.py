"""Inside corners opened for square parts: the cutter runs into each until its rim is in it.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.cover import reachable, swept
from toolpath.plan.necks import parts_beyond
from toolpath.plan.rings import Ring, Room, polygons_of, wall_offset
from toolpath.units import Unit, show_place

FloatArray = NDArray[np.float64]

LEAST = 0.02
"""Corners of which the cutter leaves less are good as they are, mm."""
MOST = 1.0
"""The centre runs into a corner by no more than this many radii: corners of 60 degrees. Sharper
ones would be hollowed out along both walls."""
SWELL = 0.1
"""Where the engaged angle is bounded corners are opened as by a cutter wider than ours by this
share of its radius: in a hole just as wide as the cutter all of its leading half meets stock."""
ON = 0.005
"""How near to a corner of a ring it must be to be the same, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corner:
    """Where the centre turns in a corner, and where it goes so that the rim reaches the point."""

    turn: FloatArray = field(repr=False)
    """(2,)"""
    end: FloatArray = field(repr=False)
    """(2,)"""

    @property
    def line(self) -> FloatArray:
        """(2, 2) into the corner."""
        return np.vstack([self.turn, self.end])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corners:
    """The corners of an area that a cutter opens, and the points of those too sharp for it."""

    open: tuple[Corner, ...] = ()
    sharp: tuple[Point, ...] = ()
    barred: tuple[Point, ...] = ()
    """Where the cutter turns in corners that are left round because of a piece."""
    radius: float = 0.0

    def notes(self, unit: Unit) -> tuple[str, ...]:
        """Which corners are not opened, and why, in words."""
        reasons = ((self.sharp, "sharper than 60 degrees"), (self.barred, "a piece is in the way"))
        return tuple(
            f"corner at {_places(spots, unit)} left round: {reason}"
            for spots, reason in reasons
            if spots
        )

    def clear_of(self, pieces: BaseGeometry) -> Corners:
        """Only those in which the cutter stays off an area."""
        clear = [not pieces.dwithin(LineString(each.line), self.radius) for each in self.open]
        return replace(
            self,
            open=tuple(each for each, free in zip(self.open, clear, strict=True) if free),
            barred=tuple(
                Point(each.turn) for each, free in zip(self.open, clear, strict=True) if not free
            ),
        )

    @property
    def area(self) -> BaseGeometry:
        """What the cutter sweeps on its way into them."""
        return swept([corner.line for corner in self.open], self.radius)

    def of_points(self, points: FloatArray) -> FloatArray:
        """A closed loop (n, 2) along the walls that runs into each corner it passes and comes
        back."""
        if not self.open or len(points) < 2:
            return points
        found: list[FloatArray] = []
        for point in points[:-1]:
            found.append(point)
            for corner in self.open:
                if np.hypot(*(corner.turn - point)) <= ON:
                    found += [corner.end, point]
        return np.vstack([*found, points[-1]])

    def of_rooms(self, rooms: Iterable[Room]) -> tuple[Room, ...]:
        """Rooms whose rings along the walls run into the corners."""
        return tuple(replace(room, rings=self._of_rings(room.rings)) for room in rooms)

    def _of_rings(self, rings: Sequence[Ring]) -> tuple[Ring, ...]:
        return tuple(
            replace(ring, points=self.of_points(ring.points)) if ring.inset == 0 else ring
            for ring in rings
        )


def _places(spots: Sequence[Point], unit: Unit) -> str:
    first, more = spots[0], len(spots) - 1
    return show_place(float(first.x), float(first.y), unit) + (f" and {more} more" * (more > 0))


def corners_of(area: BaseGeometry, outline: BaseGeometry, radius: float) -> Corners:
    """The corners of an area on the edge of its outline that a disc leaves uncut."""
    centres = wall_offset(area, radius, outward=False)
    if centres.is_empty:
        return Corners()
    can = reachable(centres, radius)
    beyond = shapely.union_all(parts_beyond(area, can, radius))
    found, sharp = [], []
    for part in polygons_of(area.difference(can.buffer(ON / 2.0))):
        apex = _apex(part, can)
        deep = float(can.distance(apex))
        if deep < LEAST or not outline.boundary.dwithin(apex, ON) or beyond.intersects(part):
            continue
        if deep > MOST * radius + ON:
            sharp.append(apex)
        else:
            found.append(_corner(apex, centres, radius))
    return Corners(open=tuple(found), sharp=tuple(sharp), radius=radius)


def _apex(part: Polygon, can: BaseGeometry) -> Point:
    """The point of a corner: of it the furthest from what was reached."""
    spots = shapely.get_coordinates(part.exterior)
    return Point(spots[int(np.argmax(shapely.distance(can, shapely.points(spots))))])


def _corner(apex: Point, centres: BaseGeometry, radius: float) -> Corner:
    turn, point = shapely.get_coordinates(shapely.shortest_line(centres, apex))
    ahead = (point - turn) / np.hypot(*(point - turn))
    return Corner(turn=turn, end=point - radius * ahead)
