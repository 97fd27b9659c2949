"""Ways through a room on which the engaged angle of the cutter stays within a bound.

Frame: x, y of the blank frame, millimetres, radians. The cutter goes along the stock, steered so
that the arc of its rim that meets stock stays within the bound; where stock ends at a wall it goes
back through cleared room, a little lifted, and on from the other wall. See
docs/decisions/0010-bounded-engagement.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, find_objects, label
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.field import kernels
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corner_arcs import beyond, channels, rounded, roundings, sharpest
from toolpath.plan.cover import swept
from toolpath.plan.entry import AirEntry, Helix
from toolpath.plan.fronts import fronts_of, to_take
from toolpath.plan.lines import along, length_of, starting_at, stretch
from toolpath.plan.near import RIM, Cells, FieldArray, Mask, Near
from toolpath.plan.returns import Heading, way_back
from toolpath.plan.rings import polygons_of, rings_of
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
IDLE = 1.0
"""How far it goes without stock before it gives up, in radii."""
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
ROUND = 0.65
"""The last pass along the walls rounds inner corners by this, in radii."""
LEADS = (1.0, 0.5, 0.25)
"""Radii of the quarter turns on to a wall that are tried, in radii."""
SPECK = 0.5
"""Bits larger than a square with this side, in radii, are no specks."""
ROUNDS = 4
"""How often they are looked for: long ones are not gone at once."""
HAIR = 0.02
"""Along walls less than this is not looked for, mm."""
U_TURN = 0.15
"""Radius of the turn between a pass and the one back, in radii."""
PLACES = 200_000
"""Places of one way at most."""
TRIES = 600
"""How often fronts are looked for."""


class Kind(Enum):
    """What a leg is for."""

    CUT = "cut"
    WALL = "wall"
    RETURN = "return"
    LIFT = "lift"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """(n, 2) a stretch of the way; that of a lift is where it leads to."""

    kind: Kind
    points: FloatArray = field(repr=False)


@dataclass(slots=True, kw_only=True, eq=False)
class Clearing:
    """A room as it is cleared, in a frame in which climbing has the stock on its right."""

    near: Near
    depth: FieldArray = field(repr=False)
    """How far each cell lies within where the centre may be."""
    area: BaseGeometry = field(repr=False)
    bound: float
    at: Heading
    legs: list[Leg] = field(default_factory=list)
    start: FloatArray | None = None
    tries: int = 0
    _restart: Heading | None = None

    @property
    def step(self) -> float:
        """Between passes along a straight front, mm."""
        return self.near.radius * (1.0 - math.cos(self.bound))

    def run(self) -> None:
        """Everything: the room, then its walls and corners."""
        left, spare = self._left_on_walls()
        radius = self.near.radius
        soft = self.near.cells.depth(rounded(self.area, ROUND * radius, radius))
        self._clear(np.asarray(soft - left, dtype=np.float32), spare)
        self._walls()
        for _ in range(ROUNDS):
            self._specks()

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

    def _clear(self, room: FieldArray, spare: FieldArray) -> None:
        """Along all stock of a room that its centre gets to further than `spare` from its edge."""
        wanted = to_take(room, self.near.reach, spare)
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
        place = self.near.cells.of(self.at.place[None])[0]
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
            turned = self._turned(Heading.at_end(points), side)
            side, points = -side, self._pass(room, turned, -side)
            if points is None and again is not None:
                side, points = 1.0, self._pass(room, again, 1.0)
        return cut_any

    def _pass(self, room: FieldArray, begin: Heading | None, side: float) -> FloatArray | None:
        """Once along a front that lies to the right (1) or left (-1); None if there is nothing."""
        if begin is None:
            return None
        back = way_back(self.near, self.depth, self.at, begin)
        reach = self.near.reach
        way = np.array(
            [
                *(reach, self.bound - AIM, STEP * reach, LOOK * reach, SHARP / reach),
                *(IDLE * reach, IDLE * reach, BITE, side, AIM),
            ]
        )
        start = np.array([*self.near.cells.of(begin.place[None])[0], begin.angle])
        path, angle = np.empty((PLACES, 2)), np.empty(PLACES)
        _, last, first = kernels.follow_front(self.near.walked, room, start, way, RIM, path, angle)
        if first < 0:
            return None
        points = self.near.cells.back(path[:last])
        self._go_to(back, begin)
        self._take(Kind.CUT, points)
        self._restart = self._freed(_before(points, first, LEAD * self.near.radius), side)
        return points

    def _turned(self, end: Heading, side: float) -> Heading | None:
        """The other way round, beside where a pass ended, away from the stock."""
        left = side * np.array([-math.sin(end.angle), math.cos(end.angle)])
        place = end.place + 2.0 * U_TURN * self.near.radius * left
        back = Heading(x=float(place[0]), y=float(place[1]), angle=end.angle + math.pi)
        return self._freed(back, -side)

    def _freed(self, begin: Heading, side: float) -> Heading | None:
        """The same heading a little further from the stock, where the cutter touches nothing."""
        left = side * np.array([-math.sin(begin.angle), math.cos(begin.angle)])
        for aside in np.arange(0.0, ASIDE * self.near.radius, 0.5 * self.near.cells.size):
            place = begin.place + aside * left
            if self.near.clear(place[None]):
                return Heading(x=float(place[0]), y=float(place[1]), angle=begin.angle)
        return None

    def _go_to(self, back: FloatArray | None, begin: Heading) -> None:
        if math.dist(self.at.place, begin.place) < 1e-6:
            return
        if back is None:
            self.legs.append(Leg(kind=Kind.LIFT, points=begin.place[None]))
        else:
            self.legs.append(Leg(kind=Kind.RETURN, points=back))

    def _take(self, kind: Kind, points: FloatArray) -> None:
        self.legs.append(Leg(kind=kind, points=points))
        self.at = Heading.at_end(points)

    def _walls(self) -> None:
        """Once along all walls, their corners rounded, then the corners."""
        radius = ROUND * self.near.radius
        turn = sharpest(self.area)
        now = rounded(self.area, radius, self.near.radius) if turn else self.area
        loops = [
            ring.points for part in polygons_of(now) for ring in rings_of(Polygon(part), 0, 1.0)
        ]
        while loops:
            nearest = min(loops, key=lambda loop: float(_apart(loop, self.at)))
            loops = [loop for loop in loops if loop is not nearest]
            self._wall(nearest)
        arcs: list[FloatArray] = []
        for smaller in roundings(turn, radius, self.bound):
            then = rounded(self.area, smaller, self.near.radius) if smaller else self.area
            arcs += beyond(then, now, 1.0)
            now = then
        self._corners(arcs)

    def _wall(self, loop: FloatArray) -> None:
        points = self._led(loop)
        begin = Heading.at_start(points)
        back = way_back(self.near, self.depth, self.at, begin)
        self._go_to(back, begin)
        self.near.sweep(points)
        self._take(Kind.WALL, points)

    def _led(self, loop: FloatArray) -> FloatArray:
        """A loop with a quarter turn on to the wall and one away from it, begun near."""
        length = length_of(loop)
        spots = np.arange(0.0, length, max(self.near.radius / 2.0, length / 400.0))
        places = np.column_stack([np.interp(spots, along(loop), loop[:, k]) for k in (0, 1)])
        nearest = np.argsort(np.hypot(*(places - self.at.place).T), kind="stable")
        for share in LEADS:
            for row in nearest:
                begun = starting_at(loop, float(spots[row]))
                over = stretch(begun, 0.0, min(ALLOWANCES.lead_overlap, length / 4.0))[1:]
                on, off = _quarters(np.vstack([begun, over]), share * self.near.radius)
                if self._may_be(np.vstack([on, off])) and self.near.clear(on[:1]):
                    return np.vstack([on, begun[1:], over, off[1:]])
        return loop

    def _may_be(self, points: FloatArray) -> bool:
        column, row = np.round(self.near.cells.of(points)).astype(np.intp).T
        return bool((self.depth[row, column] >= -1.0).all())

    def _specks(self) -> None:
        """Over what is left where ways met: bits too small to be followed."""
        radius, size = self.near.radius, self.near.cells.size
        spare = np.full(self.depth.shape, HAIR / size, dtype=np.float32)
        stock = self.near.walked > self.near.reach
        left, count = label(stock & to_take(self.depth, self.near.reach, spare))
        if not count:
            return
        clear = (distance_transform_edt(~stock) >= self.near.reach + 1.0) & (self.depth >= 0.0)
        if not clear.any():
            return
        nearest = distance_transform_edt(~clear, return_distances=False, return_indices=True)
        inside = distance_transform_edt(
            self.depth < 0.5, return_distances=False, return_indices=True
        )
        for bit, box in enumerate(find_objects(left), start=1):
            row, column = np.nonzero(left[box] == bit)
            if len(row) < 2 or len(row) * size**2 > (SPECK * radius) ** 2:
                continue
            spot = round(row.mean()) + box[0].start, round(column.mean()) + box[1].start
            over = tuple(inside[:, spot[0], spot[1]])
            begin = tuple(nearest[:, over[0], over[1]])
            places = np.array([begin[::-1], over[::-1]], dtype=np.float64)
            self._visit(self.near.cells.back(places))

    def _visit(self, points: FloatArray) -> None:
        if math.dist(*points) < 1e-6:
            return
        begin = Heading.at_start(points)
        self._go_to(way_back(self.near, self.depth, self.at, begin), begin)
        self.near.sweep(points)
        self._take(Kind.CUT, points)
        self._take(Kind.CUT, points[::-1])

    def _corners(self, arcs: list[FloatArray]) -> None:
        """The arcs of one corner after another, each after the next larger one there."""
        left = list(arcs)
        while left:
            first = min(range(len(left)), key=lambda k: _apart(left[k], self.at))
            near = [k for k, arc in enumerate(left) if _same_corner(left[first], arc)]
            for k in near:
                arc = left[k]
                begin = Heading.at_start(arc)
                self._go_to(way_back(self.near, self.depth, self.at, begin), begin)
                self.near.sweep(arc)
                self._take(Kind.WALL, arc)
            left = [arc for k, arc in enumerate(left) if k not in set(near)]


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


def _apart(points: FloatArray, at: Heading) -> float:
    return float(np.hypot(*(points - at.place).T).min())


def _same_corner(one: FloatArray, two: FloatArray) -> bool:
    """Whether two arcs round the same corner: the shorter is no further from the longer than it
    is long."""
    gap = float(np.hypot(*(one.mean(axis=0) - two.mean(axis=0))))
    return gap <= max(length_of(one), length_of(two))


def _quarters(points: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """Quarter turns to the left that end where a way begins and begin where it ends."""
    found = []
    for at, sign in ((Heading.at_start(points), -1.0), (Heading.at_end(points), 1.0)):
        left = np.array([-math.sin(at.angle), math.cos(at.angle)])
        angle = at.angle + np.linspace(0.0, 0.5 * math.pi, 17) * sign
        centre = at.place + radius * left
        found.append(centre + radius * np.column_stack([np.sin(angle), -np.cos(angle)]))
    return found[0][::-1], found[1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bounded:
    """The way of one level through one room, the same at every level, and the way into it."""

    entry: Helix | AirEntry
    legs: tuple[Leg, ...] = field(repr=False)

    def swept(self, radius: float) -> BaseGeometry:
        """What a cutter clears that walks it."""
        lines = [leg.points for leg in self.legs if leg.kind in (Kind.CUT, Kind.WALL)]
        return swept([self.entry.foot, *lines], radius)


def bounded_way(work: Work, area: Polygon, gone: BaseGeometry, bound: float) -> Bounded | None:
    """The way through a part of where the centre may be; None where there is no way in.

    gone : what is cut already down to its floor.
    """
    turn = np.array([work.turn, 1.0])
    mirrored = shapely.transform(area, lambda xy: xy * turn)
    cells = Cells.over(mirrored, work.radius)
    near = Near.fresh(cells, work.radius, shapely.transform(gone, lambda xy: xy * turn))
    depth = cells.depth(mirrored)
    entry = _through_air(near, depth) or _helix(work, mirrored)
    if entry is None:
        return None
    near.sweep(entry.foot)
    at = Heading.at_end(np.vstack([entry.foot[0] - [0.0, 1.0], entry.foot])[-2:])
    clearing = Clearing(near=near, depth=depth, area=mirrored, bound=bound, at=at)
    clearing.run()
    legs = tuple(Leg(kind=leg.kind, points=leg.points * turn) for leg in clearing.legs)
    return Bounded(entry=entry if work.turn > 0 else _mirrored(entry), legs=legs)


def _helix(work: Work, area: Polygon) -> Helix | None:
    """A helix at the widest place."""
    widest = shapely.maximum_inscribed_circle(area, tolerance=ALLOWANCES.spare / 5.0)
    x, y = shapely.get_coordinates(widest)[0].tolist()
    diameter = work.cutter.diameter
    radius = min(ALLOWANCES.helix_most * diameter, float(widest.length))
    if radius < ALLOWANCES.helix_least * diameter:
        return None
    return Helix(centre=(x, y), radius=radius, angle=0.0, turn=1.0)


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


def _mirrored(entry: Helix | AirEntry) -> Helix | AirEntry:
    if isinstance(entry, AirEntry):
        spot = (-entry.spot[0], entry.spot[1])
        return AirEntry(spot=spot, into=spot)
    x, y = entry.centre
    return Helix(centre=(-x, y), radius=entry.radius, angle=math.pi, turn=-entry.turn)
