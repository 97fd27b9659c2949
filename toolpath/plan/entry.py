"""Ways into stock: a helix where it fits, else a ramp along a ring. Never a straight plunge.

Frame: page frame of the face, millimetres. The angle of descent never exceeds the cutter's ramp.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.curves import Curve, curves_of
from toolpath.plan.lines import length_of, starting_at, straight, stretch
from toolpath.plan.links import Web
from toolpath.plan.rings import Ring
from toolpath.plan.route import Route

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Helix:
    """A helix about `centre` and a full flat turn at its foot; ends at `angle` (radians).

    `turn` is 1 counter-clockwise, -1 clockwise: the climb sense of an outer wall.
    """

    centre: tuple[float, float]
    radius: float
    angle: float
    turn: float

    def start(self, slope: float, drop: float) -> tuple[float, float]:
        """Where a descent by `drop` begins."""
        return self._at(self.angle - self._sweep(slope, drop))

    @property
    def end(self) -> tuple[float, float]:
        """Where it leaves for the rings."""
        return self._at(self.angle)

    @property
    def foot(self) -> FloatArray:
        """(n, 2) the flat turn at its foot, as chords."""
        angles = self.angle + np.linspace(0.0, 2.0 * math.pi, 129)
        return np.array(self.centre) + self.radius * np.column_stack(
            [np.cos(angles), np.sin(angles)]
        )

    def descend(self, route: Route, slope: float, z: float) -> None:
        """Down to `z` from where `start` is, then once round so that no ramp stays."""
        route.turn(self.centre, self._sweep(slope, route.at[2] - z), z)
        route.turn(self.centre, self.turn * 2.0 * math.pi, z)

    def _sweep(self, slope: float, drop: float) -> float:
        """Whole half turns, as many as the slope needs."""
        halves = math.ceil(drop / (slope * math.pi * self.radius))
        return self.turn * math.pi * max(1, halves)

    def _at(self, angle: float) -> tuple[float, float]:
        x, y = self.centre
        return x + self.radius * math.cos(angle), y + self.radius * math.sin(angle)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RingRamp:
    """A descent along a closed ring that begins and ends where `loop` does.

    The ring is walked at the foot as part of the path of the level, which clears the ramp.
    """

    loop: FloatArray = field(repr=False)
    around: tuple[Curve, ...] = field(repr=False)

    def start(self, slope: float, drop: float) -> tuple[float, float]:
        """Where a descent by `drop` begins."""
        x, y = self._parts(slope, drop)[0][0]
        return float(x), float(y)

    @property
    def end(self) -> tuple[float, float]:
        """Where it leaves for the rings."""
        return float(self.loop[0, 0]), float(self.loop[0, 1])

    @property
    def foot(self) -> FloatArray:
        """(n, 2) what it clears by itself at its foot: its end only."""
        return self.loop[:1]

    def descend(self, route: Route, slope: float, z: float) -> None:
        """Down to `z` along the ring, round and round where it is short."""
        part, turns = self._parts(slope, route.at[2] - z)
        curves = curves_of(part, ALLOWANCES.inner_bound) + self.around * turns
        route.along(curves, z)

    def _parts(self, slope: float, drop: float) -> tuple[FloatArray, int]:
        """The last part of the ring, and how many whole turns follow it."""
        around = length_of(self.loop)
        turns, rest = divmod(drop / slope, around)
        return stretch(self.loop, around - rest, around), int(turns)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirEntry:
    """Down in a place that is clear already, then across to `into`, where the path begins."""

    spot: tuple[float, float]
    into: tuple[float, float]

    def start(self, slope: float, drop: float) -> tuple[float, float]:
        """Where it goes down."""
        return self.spot

    @property
    def end(self) -> tuple[float, float]:
        """Where the path begins."""
        return self.into

    @property
    def foot(self) -> FloatArray:
        """(2, 2) its way across."""
        return np.array([self.spot, self.into])

    def descend(self, route: Route, slope: float, z: float) -> None:
        """Down to `z` through air, then across."""
        route.sink(z)
        route.straight(*self.into, z)


Entry = Helix | RingRamp | AirEntry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayIn:
    """An entry, and the ring (an index) and the place on it where the path begins."""

    entry: Entry
    ring: int
    start: FloatArray


def find_entry(
    web: Web, group: tuple[int, ...], room: Polygon, *, diameter: float, turn: float
) -> WayIn | None:
    """The best way into the rings of a group, or None where there is none."""
    return _helix(web, group, room, diameter, turn) or _ramp(web, group)


def _helix(
    web: Web, group: tuple[int, ...], room: Polygon, diameter: float, turn: float
) -> WayIn | None:
    """A helix at the middle of the widest place of a room."""
    widest = shapely.maximum_inscribed_circle(room, tolerance=ALLOWANCES.spare / 5.0)
    middle = shapely.get_coordinates(widest)[0]
    space = float(Point(middle).distance(room.boundary))
    if space < ALLOWANCES.helix_least * diameter:
        return None
    radius = min(ALLOWANCES.helix_most * diameter, space)
    for ring in _by_distance(web, group, Point(middle)):
        line = shapely.shortest_line(Point(middle), web.rings[ring].geometry)
        start = shapely.get_coordinates(line)[-1]
        if web.allows(middle, start):
            angle = math.atan2(start[1] - middle[1], start[0] - middle[0])
            centre = (float(middle[0]), float(middle[1]))
            helix = Helix(centre=centre, radius=radius, angle=angle, turn=turn)
            return WayIn(entry=helix, ring=ring, start=start)
    return None


def _ramp(web: Web, group: tuple[int, ...]) -> WayIn | None:
    """A ramp along the innermost ring that is long enough, or along the longest."""
    long = [i for i in group if web.rings[i].length >= ALLOWANCES.ring_least]
    if not long:
        return None
    best = max(long, key=lambda i: (web.rings[i].inset, web.rings[i].length))
    loop = _begun_midway(web.rings[best])
    around = curves_of(loop, ALLOWANCES.inner_bound)
    return WayIn(entry=RingRamp(loop=loop, around=around), ring=best, start=loop[0])


def _begun_midway(ring: Ring) -> FloatArray:
    """The ring from the middle of its longest edge, where a start marks the wall least."""
    sides = np.hypot(*np.diff(ring.points, axis=0).T)
    longest = int(np.argmax(sides))
    return starting_at(ring.points, float(sides[:longest].sum() + sides[longest] / 2.0))


def _by_distance(web: Web, group: tuple[int, ...], spot: Point) -> list[int]:
    return sorted(group, key=lambda i: (spot.distance(web.rings[i].geometry), i))


def clear_link(web: Web, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Whether the centre may go straight between two places of a room."""
    return web.allows(*straight(np.array(start), np.array(end)))
