"""Ways into stock: a helix where it fits, else a ramp along a ring or to and fro, else a hole that
was drilled before. Never a straight plunge.

Frame: page frame of the face, millimetres. The angle of descent never exceeds the cutter's ramp.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.below import Ground
from toolpath.plan.curves import Curve, curves_of
from toolpath.plan.holes import Hole
from toolpath.plan.lines import length_of, starting_at, straight, stretch
from toolpath.plan.links import Web
from toolpath.plan.rings import Ring, polygons_of
from toolpath.plan.route import Route
from toolpath.tolerances import TOLERANCES

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToAndFro:
    """A descent to and fro along an open `line` (n, 2), and back along it level at its foot."""

    line: FloatArray = field(repr=False)
    curves: tuple[Curve, ...] = field(repr=False)
    back: tuple[Curve, ...] = field(repr=False)

    @classmethod
    def along(cls, line: FloatArray) -> ToAndFro:
        """The descent along a line."""
        fit = ALLOWANCES.inner_bound
        return cls(line=line, curves=curves_of(line, fit), back=curves_of(line[::-1], fit))

    def start(self, slope: float, drop: float) -> tuple[float, float]:
        """Where a descent by `drop` begins."""
        x, y = self.line[0 if self._legs(slope, drop) % 2 else -1]
        return float(x), float(y)

    @property
    def end(self) -> tuple[float, float]:
        """Where it leaves for the rings."""
        return float(self.line[0, 0]), float(self.line[0, 1])

    @property
    def foot(self) -> FloatArray:
        """(n, 2) what it walks level at its foot."""
        return self.line[::-1]

    def descend(self, route: Route, slope: float, z: float) -> None:
        """Down to `z`, whole legs, and once back."""
        top = route.at[2]
        legs = self._legs(slope, top - z)
        for leg in range(1, legs + 1):
            curves = self.curves if (legs - leg) % 2 == 0 else self.back
            route.along(curves, z if leg == legs else top + (z - top) * leg / legs)
        route.along(self.back, z)

    def _legs(self, slope: float, drop: float) -> int:
        return max(1, math.ceil(drop / (slope * length_of(self.line)) - ALLOWANCES.same))


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


Entry = Helix | RingRamp | ToAndFro | AirEntry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayIn:
    """An entry, and the ring (an index) and the place on it where the path begins."""

    entry: Entry
    ring: int
    start: FloatArray
    note: str = ""
    """What a maker should know of it."""


def find_entry(
    web: Web,
    group: tuple[int, ...],
    room: Polygon,
    *,
    diameter: float,
    turn: float,
    ground: Ground | None = None,
    holes: tuple[Hole, ...] = (),
) -> WayIn | None:
    """The best way into the rings of a group, or None where there is none.

    Away from all pieces of the `ground` wherever there is room for it, else over the one that
    matters least. `holes` are those deep and wide enough to start in.
    """
    ground = ground or Ground()
    for barred in ground.choices():
        free = room.difference(barred)
        way = (
            _helix(web, group, widest_part(free), diameter, turn)
            or _ramp(web, group, None if barred.is_empty else free, diameter)
            or _drilled(web, group, free, holes)
        )
        if way is not None:
            line = LineString(way.entry.foot) if len(way.entry.foot) > 1 else Point(way.start)
            ramp = LineString(way.entry.loop) if isinstance(way.entry, RingRamp) else line
            return replace(way, note=way.note or ground.note(ramp))
    return None


def widest_part(free: BaseGeometry) -> Polygon:
    """The part of a room with the largest disc in it."""
    parts = polygons_of(free)
    if len(parts) < 2:
        return parts[0] if parts else Polygon()
    discs = [shapely.maximum_inscribed_circle(part, tolerance=ALLOWANCES.spare) for part in parts]
    return parts[int(np.argmax(shapely.length(discs)))]


def _helix(
    web: Web, group: tuple[int, ...], room: Polygon, diameter: float, turn: float
) -> WayIn | None:
    """A helix at the middle of the widest place of a room."""
    if room.is_empty:
        return None
    widest = shapely.maximum_inscribed_circle(room, tolerance=ALLOWANCES.spare)
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


def _ramp(
    web: Web, group: tuple[int, ...], free: BaseGeometry | None, diameter: float
) -> WayIn | None:
    """A ramp along the innermost ring that is long enough, or along the longest; to and fro in
    the middle of a channel that is hardly wider than the cutter. Where only part of the room is
    `free`, along a ring in it, or to and fro along the longest stretch of one."""
    long = [i for i in group if web.rings[i].length >= ALLOWANCES.ring_least]
    if free is not None:
        inside = free.buffer(TOLERANCES.offset, quad_segs=2)
        shapely.prepare(inside)
        whole = [i for i in long if inside.covers(web.rings[i].geometry)]
        if not whole:
            return _stretch_of_ring(web, long, inside, diameter)
        long = whole
    if not long:
        return None
    best = max(long, key=lambda i: (web.rings[i].inset, web.rings[i].length))
    narrow = _in_channel(web, best, diameter)
    if narrow is not None:
        return narrow
    loop = _begun_midway(web.rings[best])
    around = curves_of(loop, ALLOWANCES.inner_bound)
    return WayIn(entry=RingRamp(loop=loop, around=around), ring=best, start=loop[0])


def _in_channel(web: Web, ring: int, diameter: float) -> WayIn | None:
    """To and fro in the middle of a straight channel; None for anything wider."""
    loop = web.rings[ring]
    thin = loop.length / 2.0 * ALLOWANCES.channel * diameter
    if len(web.rings) > 1 or Polygon(loop.points).area > thin:
        return None
    frame = shapely.oriented_envelope(loop.geometry)
    if not isinstance(frame, Polygon):
        return None
    corners = shapely.get_coordinates(frame)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    first = 0 if sides[0] < sides[1] else 1
    middles = (corners[first : first + 3 : 2] + corners[first + 1 : first + 4 : 2]) / 2.0
    inside = shapely.get_parts(LineString(middles).intersection(web.area))
    line = max(inside, key=lambda part: float(part.length), default=LineString())
    if line.length < 0.9 * sides.max() or line.length < ALLOWANCES.ring_least / 2.0:
        return None
    points = shapely.get_coordinates(line)
    start = shapely.get_coordinates(shapely.shortest_line(Point(points[0]), loop.geometry))[-1]
    return WayIn(entry=ToAndFro.along(points), ring=ring, start=start)


def _stretch_of_ring(
    web: Web, long: list[int], inside: BaseGeometry, diameter: float
) -> WayIn | None:
    """To and fro along the longest stretch of a ring that is free; None if all are short."""
    best: tuple[float, int, FloatArray] | None = None
    for ring in long:
        found = shapely.line_merge(shapely.intersection(web.rings[ring].geometry, inside))
        for part in shapely.get_parts(found):
            points = shapely.get_coordinates(part)
            if part.length >= 2.0 * diameter and (best is None or part.length > best[0]):
                best = (float(part.length), ring, points)
    if best is None:
        return None
    _, ring, points = best
    return WayIn(entry=ToAndFro.along(points), ring=ring, start=points[0])


def _drilled(
    web: Web, group: tuple[int, ...], free: BaseGeometry, holes: tuple[Hole, ...]
) -> WayIn | None:
    """Down in a hole that is there already, and from it straight to the nearest ring."""
    for hole in holes:
        if not free.intersects(hole.middle):
            continue
        for ring in _by_distance(web, group, hole.middle):
            line = shapely.shortest_line(hole.middle, web.rings[ring].geometry)
            start = shapely.get_coordinates(line)[-1]
            if web.allows(np.array(hole.at), start):
                into = (float(start[0]), float(start[1]))
                entry = AirEntry(spot=hole.at, into=into)
                return WayIn(entry=entry, ring=ring, start=start, note=hole.note)
    return None


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
