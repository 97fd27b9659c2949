"""Ways through a room on which the engaged angle of the cutter stays within a bound.

Frame: x, y of the blank frame, millimetres, radians. The cutter goes along the stock, steered so
that the arc of its rim that meets stock stays within the bound; where stock ends at a wall it goes
back through cleared room, a little lifted, and on from the other wall. See
docs/decisions/0010-bounded-engagement.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.field import kernels
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.below import Ground
from toolpath.plan.bounded_walls import (
    ROUND,
    Walls,
    walk_ears,
    walk_walls,
    walk_walls_at,
)
from toolpath.plan.channel_arcs import cut_channels
from toolpath.plan.corner_arcs import channels, rounded
from toolpath.plan.corner_passes import Rounding
from toolpath.plan.cover import swept
from toolpath.plan.entry import AirEntry, Helix, widest_part
from toolpath.plan.fronts import fronts_of, to_take
from toolpath.plan.legs import Kind, Leg, Walk
from toolpath.plan.lines import along
from toolpath.plan.narrows import walk_narrows
from toolpath.plan.near import RIM, Cells, FieldArray, Mask, Near
from toolpath.plan.places import Place, places_of
from toolpath.plan.returns import Heading, Within, way_back
from toolpath.plan.specks import visit_specks
from toolpath.plan.to_and_fro import SKIN, cut_to_and_fro
from toolpath.plan.work import Work

FloatArray = NDArray[np.float64]

AIM = math.radians(1.5)
"""The steering aims this much below the bound: what its looking ahead may miss."""
STEP = 0.07
"""From one place of a way to the next, in radii of the cutter."""
LOOK = 0.5
"""How far ahead it looks, in radii."""
SHARP = 1.0 / 0.3
"""The sharpest bend it takes if it need not, in turns of a radian a radius."""
BEFORE = 2.5
"""How far it goes to its first stock before it gives up, in radii: past both flanks of the mouth
of a channel there is none that it may take."""
IDLE = 1.0
"""How far it goes without stock after that, in radii."""
BITE = math.radians(15.0)
"""Less than this is no stock worth a way."""
ASIDE = 0.3
"""So far to the left of a front a clear place to begin is looked for, in radii."""
LEAD = 0.5
"""A way begins this far before its first stock, in radii."""
WALL = 0.2
"""What is left along walls for the last pass, in steps of the bound along a straight front."""
THIN = 0.2
"""... and the share of that where walls bend sharply or are near each other."""
SLACK = 0.15
"""What more than that may be left there, in such steps."""
U_TURN = 0.15
"""Radius of the turn between a pass and the one back, in radii."""
CALM = 0.25
"""The walls of places with more than one corner are rounded by no less than this, in radii."""
FAR = 2.0
"""From one rest of an earlier cutter to another further away than this, in diameters, by rapid."""
PLACES = 200_000
"""Places of one way at most."""
TRIES = 600
"""How often fronts are looked for."""


@dataclass(slots=True, kw_only=True, eq=False)
class Clearing:
    """A room as it is cleared, in a frame in which climbing has the stock on its right."""

    walk: Walk
    area: BaseGeometry = field(repr=False)
    bound: float
    tries: int = 0
    _restart: Heading | None = None
    _rooms: tuple[FieldArray, Mask] | None = None

    @property
    def near(self) -> Near:
        """The stock as it stands."""
        return self.walk.near

    @property
    def step(self) -> float:
        """Between passes along a straight front, mm."""
        return self.near.radius * (1.0 - math.cos(self.bound))

    def run(self, place: Place | None = None) -> None:
        """All of the room but a little along its walls, or what of that stands at a place."""
        radius = self.near.radius
        if self._rooms is None:
            left, spare = self._left_on_walls()
            soft = self.near.cells.depth(rounded(self.area, ROUND * radius, radius))
            room = np.asarray(soft - left, dtype=np.float32)
            self._rooms = room, to_take(room, self.near.reach, spare)
        room, wanted = self._rooms
        self._clear(room, wanted if place is None else wanted & place.mask(self.near.cells))

    def _left_on_walls(self) -> tuple[FieldArray, FieldArray]:
        """What the loops leave along the walls, cell by cell, and what more may be left."""
        radius, size = self.near.radius, self.near.cells.size
        narrow = channels(self.area, ROUND * radius, radius)
        tight = self.near.cells.inside(narrow)
        share = np.ones(tight.shape)
        if tight.any():
            away = distance_transform_edt(~tight) / self.near.reach
            share = THIN + (1.0 - THIN) * np.clip(away, 0.0, 1.0)
        step = self.step / size
        return (
            np.asarray(WALL * step * share, dtype=np.float32),
            np.asarray(SLACK * step * share, dtype=np.float32),
        )

    def _clear(self, room: FieldArray, wanted: Mask) -> None:
        """Along all wanted stock of a room."""
        barren: list[FloatArray] = []
        while self.tries < TRIES:
            front = self._next_front(room, wanted, barren)
            if front is None:
                return
            self.tries += 1
            begin = self._freed(_heading_of(self.near.cells, front), 1.0)
            if not self._follow(room, begin):
                barren.append(front[0])

    def _next_front(
        self, room: FieldArray, wanted: Mask, barren: list[FloatArray]
    ) -> FloatArray | None:
        place = self.near.cells.of(self.walk.at.place[None])[0]
        for every in (2, 1):
            fronts = fronts_of(self.near, room, wanted, every)
            begun = [front.begun_near(place) for front in fronts]
            fresh = [each for each in begun if not _is_near(each[0], barren)]
            if fresh:
                return min(fresh, key=lambda each: math.dist(each[0], place))
        return None

    def _follow(self, room: FieldArray, begin: Heading | None) -> bool:
        """Along a front to and fro until nothing of it is left; False if there was nothing."""
        side, points = 1.0, self._pass(room, begin, 1.0)
        again: Heading | None = None
        cut_any = points is not None
        while points is not None:
            again = self._restart if side > 0 else again
            end = Heading.at_end(points)
            side, points = -side, self._pass(room, self._turned(end, side), -side)
            if points is None:
                points = self._pass(room, self._freed(end.back, side), side)
            if points is None and again is not None:
                side, points = 1.0, self._pass(room, again, 1.0)
        return cut_any

    def _pass(self, room: FieldArray, begin: Heading | None, side: float) -> FloatArray | None:
        """Once along a front that lies to the right (1) or left (-1); None if there is nothing."""
        if begin is None:
            return None
        back = way_back(self.near, self.walk.room, self.walk.at, begin)
        reach = self.near.reach
        way = np.array(
            [
                *(reach, self.bound - AIM, STEP * reach, LOOK * reach, SHARP / reach),
                *(BEFORE * reach, IDLE * reach, BITE, side, AIM),
            ]
        )
        start = np.array([*self.near.cells.of(begin.place[None])[0], begin.angle])
        path, angle = np.empty((PLACES, 2)), np.empty(PLACES)
        before = self.near.walked.copy()
        _, last, first = kernels.follow_front(self.near.walked, room, start, way, RIM, path, angle)
        if first < 0:
            self.near.walked[:] = before  # what it met on the way was little, but is not cut
            return None
        points = self.near.cells.back(path[:last])
        self.walk.go_along(back, begin)
        self.walk.take(Kind.CUT, points)
        self._restart = self._freed(_before(points, first, LEAD * self.near.radius), side)
        return points

    def _turned(self, end: Heading, side: float) -> Heading | None:
        """The other way round, beside where a pass ended, away from the stock."""
        left = side * np.array([-math.sin(end.angle), math.cos(end.angle)])
        place = end.place + 2.0 * U_TURN * self.near.radius * left
        beside = replace(end, x=float(place[0]), y=float(place[1]))
        return self._freed(beside.back, -side)

    def _freed(self, begin: Heading, side: float) -> Heading | None:
        """The same heading a little further from the stock, in the room and where the cutter
        touches nothing."""
        left = side * np.array([-math.sin(begin.angle), math.cos(begin.angle)])
        for aside in np.arange(0.0, ASIDE * self.near.radius, 0.5 * self.near.cells.size):
            place = begin.place + aside * left
            if self.near.clear(place[None]) and self.walk.room.holds(place[None]):
                return Heading(x=float(place[0]), y=float(place[1]), angle=begin.angle)
        return None


def _heading_of(cells: Cells, front: FloatArray) -> Heading:
    points = cells.back(front)
    return Heading.at_start(points[[0, min(3, len(points) - 1)]])


def _is_near(place: FloatArray, others: list[FloatArray]) -> bool:
    return any(math.dist(place, other) < 1.5 for other in others)


def _before(points: FloatArray, first: int, lead: float) -> Heading:
    """The heading so far before a place of a way."""
    reach = along(points)
    row = int(np.searchsorted(reach, reach[first] - lead))
    return Heading.at_start(points[max(0, min(row, len(points) - 2)) :])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """What a bounded way is to clear: an area of the centre, what of it is gone already down to
    the floor, the greatest engaged angle, and the lines (2, 2) into corners that are opened, in
    loops of radius `swell`."""

    area: Polygon = field(repr=False)
    bound: float
    gone: BaseGeometry = field(repr=False)
    ears: tuple[FloatArray, ...] = ()
    swell: float = 0.0
    skin: bool = False
    """Whether only its walls are left."""
    rest: bool = False
    """Whether an earlier cutter left only some of it."""
    narrow: bool = False
    """Whether there is no room in it for anything but loops."""
    mouths: BaseGeometry = field(default_factory=Polygon, repr=False)
    """Narrow places that open from it and are cut later."""

    def mirrored(self, turn: FloatArray) -> Room:
        """In the frame in which climbing has the stock on its right."""
        if turn[0] > 0.0:
            return self
        return replace(
            self,
            area=shapely.transform(self.area, lambda xy: xy * turn),
            gone=shapely.transform(self.gone, lambda xy: xy * turn),
            mouths=shapely.transform(self.mouths, lambda xy: xy * turn),
            ears=tuple(line * turn for line in self.ears),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bounded:
    """The way of one level through one room, the same at every level, and the way into it."""

    entry: Helix | AirEntry
    legs: tuple[Leg, ...] = field(repr=False)
    note: str = ""
    """What a maker should know of the way in."""

    def swept(self, radius: float) -> BaseGeometry:
        """What a cutter clears that walks it."""
        lines = [leg.points for leg in self.legs if leg.kind in (Kind.CUT, Kind.WALL)]
        return swept([self.entry.foot, *lines], radius)


def bounded_way(work: Work, room: Room) -> Bounded | None:
    """The way through a part of where the centre may be; None where there is no way in."""
    turn = np.array([work.turn, 1.0])
    mine = room.mirrored(turn)
    cells = Cells.over(mine.area, work.radius)
    near = Near.fresh(cells, work.radius, mine.gone)
    within = Within.of(cells, mine.area)
    entry, note = _way_in(work, room, near, within.depth)
    if entry is None:
        return None
    foot = entry.foot * turn
    near.sweep(foot)
    at = Heading.at_end(np.vstack([foot[0] - [0.0, 1.0], foot])[-2:])
    walk = Walk(near=near, room=within, foot=foot, at=at)
    if room.rest:
        walk.longest = FAR * work.cutter.diameter
    clearing = Clearing(walk=walk, area=mine.area, bound=mine.bound)
    if room.rest:
        _visit_places(clearing, skin=mine.skin)
    elif not mine.skin and not mine.narrow:
        clearing.run()
    first = Rounding(radius=ROUND * work.radius, cutter=work.radius, bound=mine.bound)
    walls = Walls.of(mine.area, first, mine.mouths)
    if not room.rest and not mine.skin:
        walk_narrows(walk, mine.area, walls, mine.bound)
    walk_walls(walk, walls, mine.bound)
    walk_ears(walk, mine.ears, mine.swell, mine.bound)
    if not mine.skin:
        visit_specks(walk, mine.area, mine.gone)
    legs = [Leg(kind=leg.kind, points=leg.points * turn) for leg in walk.legs]
    if legs and legs[0].kind is Kind.LIFT and isinstance(entry, AirEntry):
        entry = _down_at(legs.pop(0))
    return Bounded(entry=entry, legs=tuple(legs), note=note)


def _down_at(lift: Leg) -> AirEntry:
    """The way in by which a lift comes down."""
    (x, y), (into_x, into_y) = lift.points.tolist()
    return AirEntry(spot=(x, y), into=(into_x, into_y))


def _visit_places(clearing: Clearing, *, skin: bool) -> None:
    """Each place that an earlier cutter left, from the nearest on, its walls and corners too."""
    walk, area, bound = clearing.walk, clearing.area, clearing.bound
    radius = walk.near.radius
    known: dict[float, Walls] = {}
    places = places_of(walk.near, walk.room.depth)
    longest, begun = walk.longest, False
    while places:
        place = min(places, key=lambda each: each.apart(walk.at.place))
        places = [each for each in places if each is not place]
        walk.longest = longest if begun else 0.0  # the way in is beside the first of them
        channel = cut_channels(walk, area, place, bound)
        last = None if channel else cut_to_and_fro(walk, area, place, bound)
        begun, walk.longest = True, math.inf if channel or last is not None else longest
        if not skin:
            clearing.run(place)
        for size in _sizes(last, radius):
            if size not in known:
                first = Rounding(radius=size, cutter=radius, bound=bound)
                known[size] = Walls.of(area, first)
            if len(known[size].corners_at(place, radius)) < 2:
                break
        walk_walls_at(walk, known[size], place, bound)
    walk.longest = longest


def _sizes(last: float | None, radius: float) -> list[float]:
    """By what the walls are rounded in the corners of a place after a last rounding there, and by
    what if there is more than one: in the mouth of a narrow channel a smaller loop is broken."""
    if last is None:
        return [ROUND * radius]
    return [min(ROUND * radius, each) for each in (last + SKIN * radius, CALM * radius)]


def _way_in(
    work: Work, room: Room, near: Near, depth: FieldArray
) -> tuple[Helix | AirEntry | None, str]:
    """Through air where there is some, else a helix; and what a maker should know of it."""
    air = _through_air(near, depth)
    if air is not None:
        x, y = air.spot
        return AirEntry(spot=(work.turn * x, y), into=(work.turn * x, y)), ""
    ground = Ground.under(work.job, work.cut, room.area, work.radius)
    for barred in ground.choices():
        helix = _helix(work, widest_part(room.area.difference(barred)))
        if helix is not None:
            return helix, ground.note(LineString(helix.foot))
    return None, ""


def _helix(work: Work, area: Polygon) -> Helix | None:
    """A helix at the widest place."""
    if area.is_empty:
        return None
    widest = shapely.maximum_inscribed_circle(area, tolerance=ALLOWANCES.spare / 5.0)
    x, y = shapely.get_coordinates(widest)[0].tolist()
    diameter = work.cutter.diameter
    radius = min(ALLOWANCES.helix_most * diameter, float(widest.length))
    if radius < ALLOWANCES.helix_least * diameter:
        return None
    angle = 0.0 if work.turn > 0 else math.pi
    return Helix(centre=(x, y), radius=radius, angle=angle, turn=work.turn)


def _through_air(near: Near, depth: FieldArray) -> AirEntry | None:
    """Where the cutter has most air, if there is any place for it; up to what a rapid needs."""
    stock = near.walked > near.reach
    if stock.all():
        return None
    enough = near.reach + (ALLOWANCES.beside + ALLOWANCES.sure) / near.cells.size + 1.0
    air = np.where(depth >= 0.0, np.minimum(distance_transform_edt(~stock), enough), 0.0)
    if float(air.max()) < near.reach + 1.0:
        return None
    row, column = np.unravel_index(int(air.argmax()), air.shape)
    x, y = near.cells.back(np.array([[column, row]], dtype=np.float64))[0].tolist()
    return AirEntry(spot=(x, y), into=(x, y))
