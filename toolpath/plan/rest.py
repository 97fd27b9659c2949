"""What is left of a region when other passes were made: where it lies and the ways through it.

Frame: page frame of the face, millimetres. The ways begin and end in room that is clear already,
wherever there is some, and are cut off where nothing is left to take.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corners import Corners
from toolpath.plan.cover import left_standing, reachable, swept
from toolpath.plan.entry import AirEntry
from toolpath.plan.gone import Gone
from toolpath.plan.lines import straight
from toolpath.plan.links import Run, Web, groups_of, last_ring, path_through, web_of
from toolpath.plan.passes import FIX_ROUNDS, Pass, rings_for, through_stock
from toolpath.plan.rings import Ring, Room, rooms_in
from toolpath.plan.useful import Remains, useful
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

NONE = Corners()
"""No corner is opened."""
DENSE = 0.1
"""Places along a path at which it is asked whether there is something to take, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rest:
    """What is left of what a cutter can reach, and where its centre may go."""

    work: Work
    centres: BaseGeometry = field(repr=False)
    """Where the centre may be: whatever it sweeps from there is to be cleared."""
    stock: BaseGeometry = field(repr=False)
    """What is left to take."""
    corners: Corners = field(repr=False)
    """Those that are opened for square parts, as far as that is left to take."""
    air: BaseGeometry = field(repr=False)
    """Where the centre may go down by rapid."""

    def thicker(self, least: float) -> Rest | None:
        """Only the places that are somewhere thicker than `least`; None where there are none."""
        places = shapely.get_parts(self.stock)
        thick = [place for place in places if not thick_of(place, least).is_empty]
        return replace(self, stock=shapely.union_all(thick)) if thick else None

    def thinner(self, most: float) -> Rest | None:
        """Only the places that are nowhere thicker than `most`; None where there are none."""
        places = shapely.get_parts(self.stock)
        thin = [place for place in places if thick_of(place, most).is_empty]
        return replace(self, stock=shapely.union_all(thin)) if thin else None

    def clear_of(self, spots: FloatArray) -> FloatArray:
        """How far what is left stays from the cutter's rim at each of (n, 2) places, mm."""
        return np.asarray(shapely.distance(self.stock, shapely.points(spots)) - self.work.radius)


def rest_of(
    work: Work,
    centres: BaseGeometry,
    allowed: BaseGeometry,
    z: float,
    gone: Gone,
    corners: Corners = NONE,
) -> Rest | None:
    """What is left at a height of what the cutter reaches from `centres` and of the `corners`
    that it opens; None if nothing is.

    `allowed` is where its centre may be on the way there.
    """
    cut = gone.at(z)
    can = reachable(centres, work.radius)
    if corners.open:
        can = can.union(corners.area)
    stock = thick_of(can.difference(cut))
    if stock.is_empty:
        return None
    shapely.prepare(stock)
    room = work.radius + ALLOWANCES.beside + ALLOWANCES.sure
    grown = allowed.buffer(TOLERANCES.offset, quad_segs=2)
    air = cut.buffer(TOLERANCES.cover).buffer(-room - TOLERANCES.cover).intersection(grown)
    return Rest(work=work, centres=grown, stock=stock, corners=corners, air=air)


def thick_of(stock: BaseGeometry, least: float = TOLERANCES.cover) -> BaseGeometry:
    """Stock without what of it is thinner than `least`, tails included."""
    half = least / 2.0
    return stock.buffer(-half, quad_segs=2).buffer(half, quad_segs=2)


def rest_passes(rest: Rest, centres: BaseGeometry) -> tuple[Pass, ...]:
    """The ways through what is left, within a region of the cutter's centre.

    Raises
    ------
    EntryError
        There is no way in without a plunge.
    """
    work = rest.work
    near = work.radius + ALLOWANCES.rest_near
    around = rest.stock.buffer(near, quad_segs=16).simplify(TOLERANCES.cover)
    region = centres.intersection(around)
    rooms = rooms_in(region, radius=work.radius, step=work.step, turn=work.turn)
    rooms = rest.corners.of_rooms(rooms)
    return tuple(found for room in rooms for found in _through(rest, room))


def _through(rest: Rest, room: Room) -> tuple[Pass, ...]:
    wanted = reachable(room.area, rest.work.radius).intersection(rest.stock)
    if not left_standing(_taken_in(rest, room), Point()):
        return ()
    rings: tuple[Ring, ...] = room.rings
    found = _ways(rest, room, rings)
    for _ in range(FIX_ROUNDS):
        extra = rings_for(rest.work, room, wanted, found)
        if not extra:
            break
        rings = (*rings, *extra)
        found = _ways(rest, room, rings)
    return found


def _ways(rest: Rest, room: Room, rings: tuple[Ring, ...]) -> tuple[Pass, ...]:
    web = web_of(room.area, rings, rest.work.step)
    found: list[Pass] = []
    for group in groups_of(web):
        runs = _from_air(rest, web, group)
        if runs is None:
            found.append(through_stock(rest.work, room, web, group))
        else:
            found += _passes(rest, room, web, runs)
    return tuple(each for each in found if each.length > 0.0)


def _taken_in(rest: Rest, room: Room) -> BaseGeometry:
    """What of the stock the rings of a room take."""
    can = reachable(room.area, rest.work.radius)
    if rest.corners.open:
        near = room.area.buffer(TOLERANCES.cover)
        lines = [each.line for each in rest.corners.open if near.intersects(Point(each.turn))]
        can = can.union(swept(lines, rest.work.radius))
    return rest.stock.intersection(can)


def _passes(rest: Rest, room: Room, web: Web, runs: tuple[Run, ...]) -> list[Pass]:
    """The stretches of a path that take something, each with a way in of its own."""
    remains = Remains(_taken_in(rest, room), rest.work.radius)
    return [
        Pass(
            web=web,
            entry=air_entry(rest, kept[0].points[0]),
            runs=kept,
            turn=rest.work.turn,
        )
        for kept in useful(remains, runs, ALLOWANCES.air_most * rest.work.cutter.diameter)
    ]


def _from_air(rest: Rest, web: Web, group: tuple[int, ...]) -> tuple[Run, ...] | None:
    """The path through a group of rings, begun where nothing is left; None where there is no
    such place."""
    walls = [i for i in group if web.rings[i].inset <= 0 and len(web.rings[i].points) > 1]
    places = _free_places(rest, [web.rings[i] for i in walls])
    if not len(places):
        return None
    inner = sorted(set(group) - set(walls), key=lambda i: -web.rings[i].inset)
    for ring in inner:
        near = shapely.shortest_line(shapely.MultiPoint(places), web.rings[ring].geometry)
        begin, start = shapely.get_coordinates(near)
        if web.allows(begin, start):
            runs = path_through(web, ring, start, last_ring(web, group))
            return (Run(points=straight(begin, start)), *runs)
    return _along_walls(rest, web, walls, group)


def _along_walls(rest: Rest, web: Web, walls: list[int], group: tuple[int, ...]) -> tuple[Run, ...]:
    """Begun on the ring that gets furthest away from what is left, there."""
    begins = {i: _furthest(rest, web.rings[i]) for i in walls}
    ring = max(walls, key=lambda i: float(rest.clear_of(begins[i][None])[0]))
    return path_through(web, ring, begins[ring], last_ring(web, group))


def air_entry(rest: Rest, begin: FloatArray) -> AirEntry:
    """The way to a place where nothing is left: from a rapid nearby if there is room for one."""
    into = (float(begin[0]), float(begin[1]))
    if not rest.air.is_empty:
        spot = shapely.get_coordinates(shapely.shortest_line(rest.air, Point(begin)))[0]
        short = np.hypot(*(spot - begin)) <= 2.0 * rest.work.cutter.diameter
        if short and rest.centres.covers(shapely.linestrings(straight(spot, begin))):
            return AirEntry(spot=(float(spot[0]), float(spot[1])), into=into)
    return AirEntry(spot=into, into=into)


def _free_places(rest: Rest, rings: list[Ring]) -> FloatArray:
    """(n, 2) places on rings where the cutter touches nothing that is left."""
    dense = [_dense(ring.points) for ring in rings]
    spots = np.concatenate(dense) if dense else np.empty((0, 2))
    near = shapely.dwithin(rest.stock, shapely.points(spots), rest.work.radius + ALLOWANCES.sure)
    return spots[~np.asarray(near, dtype=np.bool_)]


def _furthest(rest: Rest, ring: Ring) -> FloatArray:
    spots = _dense(ring.points)
    return np.asarray(spots[int(np.argmax(rest.clear_of(spots)))])


def _dense(points: FloatArray) -> FloatArray:
    if len(points) < 2:
        return points
    return shapely.get_coordinates(shapely.segmentize(shapely.linestrings(points), DENSE))
