"""Ways of bounded engagement cut through the levels of a region.

Frame: page frame of the face, millimetres. Ways through cleared room are lifted a little off the
floor, on slopes, and never by rapid: what stands beside them is higher.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.bounded import Bounded, Kind, Leg, bounded_way
from toolpath.plan.corner_arcs import NARROW, channels
from toolpath.plan.curves import Curve, Wall, curves_of, wall_curves
from toolpath.plan.descend import Levels, cut_passes, go_down
from toolpath.plan.entry import AirEntry
from toolpath.plan.gone import Gone
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.passes import passes_of, without_specks
from toolpath.plan.regions import Region
from toolpath.plan.rings import Room, polygons_of, rooms_in
from toolpath.plan.route import Route
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES

LIFTED = 0.3
"""How far ways through cleared room are lifted off the floor, mm; less where they are short for
the cutter's ramp."""
SHORT = 2.0
"""Shorter ones than this, in radii, stay on the floor."""


STRIP = 0.4
"""Share of `TOLERANCES.area` that arcs along walls may leave: what lies between fronts counts
too."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    """A leg as lines and arcs: one part, or rise, way and fall of one that is lifted."""

    leg: Leg
    parts: tuple[tuple[Curve, ...], ...]
    lift: float = 0.0


def cut_bounded(route: Route, work: Work, region: Region, bound: float, gone: Gone) -> None:
    """All levels of a region; what is cleared is added to what is gone."""
    rough = region.rough
    reach = NARROW * work.radius
    narrow = channels(rough, reach, work.radius)
    for part in _large(work, rough.difference(narrow.buffer(-TOLERANCES.offset))):
        cut = gone.at(region.levels.floor)
        way = bounded_way(work, part, cut, bound)
        if way is None:
            narrow = narrow.union(part)
        elif way.legs:
            wall = Wall.of(part, work.radius, work.turn, share=STRIP)
            _cut_way(route, work, (way, wall), region.levels, gone)
    for room in rooms_in(narrow, radius=work.radius, step=work.step, turn=work.turn):
        cut_passes(route, work, passes_of(work, room), region.levels, gone)


def _large(work: Work, centres: BaseGeometry) -> list[Polygon]:
    rooms = tuple(Room(area=part, rings=()) for part in polygons_of(centres))
    return [room.area for room in without_specks(rooms, work.radius)]


def _cut_way(
    route: Route, work: Work, found: tuple[Bounded, Wall], levels: Levels, gone: Gone
) -> None:
    way, wall = found
    drawn = [_drawn(leg, work, wall) for leg in way.legs]
    cleared = way.swept(work.radius)
    floor = levels.top
    for z in levels.heights:
        _get_in(route, work, way, (floor, z), gone)
        for each in drawn:
            _walk(route, each, (floor, z), gone)
        gone.add(z, cleared)
        route.lift()
        floor = z


def _get_in(route: Route, work: Work, way: Bounded, step: tuple[float, float], gone: Gone) -> None:
    floor, z = step
    if isinstance(way.entry, AirEntry):
        go_down(route, way.entry.spot, z, gone)
    else:
        first = floor >= gone.top - ALLOWANCES.same
        top = floor + (ALLOWANCES.ramp_above_face if first else ALLOWANCES.ramp_above_floor)
        go_down(route, way.entry.start(work.slope, top - z), floor, gone)
        route.sink(top)
    way.entry.descend(route, work.slope, z)


def _walk(route: Route, drawn: _Drawn, step: tuple[float, float], gone: Gone) -> None:
    floor, z = step
    if drawn.leg.kind is Kind.LIFT:
        x, y = drawn.leg.points[-1].tolist()
        go_down(route, (x, y), floor, gone)
        route.sink(z)
        return
    first = drawn.parts[0][0].edges[0]
    route.straight(float(first[0]), float(first[1]), z)
    high = z + min(drawn.lift, floor - z)
    heights = (z,) if len(drawn.parts) == 1 else (high, high, z)
    for curves, height in zip(drawn.parts, heights, strict=True):
        route.along(curves, height)


def _drawn(leg: Leg, work: Work, wall: Wall) -> _Drawn:
    if leg.kind is Kind.LIFT:
        return _Drawn(leg=leg, parts=())
    pieces = [leg.points]
    length = length_of(leg.points)
    end = 0.0
    if leg.kind is Kind.RETURN and length > SHORT * work.radius:
        end = min(LIFTED / work.slope, length / 3.0)
        marks = (0.0, end, length - end, length)
        pieces = [stretch(leg.points, a, b) for a, b in pairwise(marks)]
    if leg.kind is Kind.WALL:
        return _Drawn(leg=leg, parts=(wall_curves(leg.points, wall),))
    parts = tuple(curves_of(piece, ALLOWANCES.inner_bound) for piece in pieces)
    return _Drawn(leg=leg, parts=parts, lift=min(LIFTED, end * work.slope))
