"""Ways of bounded engagement cut through the levels of a region.

Frame: page frame of the face, millimetres. Ways through cleared room are lifted a little off the
floor, on slopes, and never by rapid: what stands beside them is higher.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.bounded import Bounded, Room, bounded_way
from toolpath.plan.corner_arcs import NARROW, channels
from toolpath.plan.corners import SWELL
from toolpath.plan.curves import Curve, Wall, curves_of, wall_curves
from toolpath.plan.descend import Levels, cut_passes, go_down
from toolpath.plan.entry import AirEntry
from toolpath.plan.finish import last_heights
from toolpath.plan.gone import Gone
from toolpath.plan.legs import Kind, Leg
from toolpath.plan.levels import level_heights
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.passes import passes_of, without_specks
from toolpath.plan.regions import Region
from toolpath.plan.rings import Room as Ringed
from toolpath.plan.rings import polygons_of, rooms_in
from toolpath.plan.route import Route
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES

LIFTED = 0.3
"""How far ways through cleared room are lifted off the floor, mm; less where they are short for
the cutter's ramp."""
SLOT = 0.5
"""Levels of slots lie no further apart than this, in diameters (common practice, no source)."""
OPENED = 0.002
"""So much of a channel belongs to the wide place that it opens into, mm."""
AROUND = 2.0
"""So far round a narrow place it is looked for where to come down beside it, in radii."""
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


def cut_bounded(route: Route, work: Work, region: Region, gone: Gone, *, rest: bool) -> None:
    """All levels of a region; what is cleared is added to what is gone. `rest` says whether an
    earlier cutter left only some of it."""
    rough = region.rough
    reach = NARROW * work.radius
    narrow = channels(rough, reach, work.radius).intersection(rough)
    for part in _large(work, _without(rough, narrow)):
        room = replace(_room(work, region, part, gone), rest=rest, mouths=narrow)
        way = bounded_way(work, room)
        if way is None:
            narrow = narrow.union(part)
        elif way.legs:
            wall = Wall.of(part, work.radius, work.turn, share=STRIP)
            _cut_way(route, work, (way, wall), region.levels, gone)
    cut_narrow(route, work, region, narrow, gone, rest=rest)


def cut_narrow(
    route: Route, work: Work, region: Region, narrow: BaseGeometry, gone: Gone, *, rest: bool
) -> None:
    """Narrow places: those that join what was cleared are opened in loops from there, and entered
    there; the others are slots, with ways in of their own."""
    left: list[Polygon] = []
    for part in polygons_of(narrow):
        around = _with_room(work, region, part)
        room = replace(_room(work, region, around, gone), rest=rest, narrow=True)
        way = bounded_way(work, room) if _joins(work, room) else None
        if way is None:
            left.append(part)
        elif way.legs:
            wall = Wall.of(around, work.radius, work.turn, share=STRIP)
            _cut_way(route, work, (way, wall), region.levels, gone)
    cut_slots(route, work, MultiPolygon(left), region.levels, gone)


def _with_room(work: Work, region: Region, part: Polygon) -> Polygon:
    """A narrow place with what it opens into, as far as the cutter needs to come down there."""
    near = part.buffer(AROUND * work.radius, quad_segs=8)
    for parts in polygons_of(region.rough.union(part).intersection(near)):
        if parts.intersects(part):
            return parts
    return part


def _joins(work: Work, room: Room) -> bool:
    """Whether the cutter stands in air somewhere in it, at the floor."""
    air = room.gone.buffer(-work.radius - ALLOWANCES.beside - ALLOWANCES.sure)
    return not air.intersection(room.area).is_empty


def _without(rough: BaseGeometry, narrow: BaseGeometry) -> BaseGeometry:
    """The wide places by themselves, each with a little of the channels that open into it."""
    if narrow.is_empty:
        return rough
    parts = (part.buffer(OPENED) for part in polygons_of(rough.difference(narrow)))
    return MultiPolygon([each for part in parts for each in polygons_of(part.intersection(rough))])


def cut_slots(route: Route, work: Work, narrow: BaseGeometry, levels: Levels, gone: Gone) -> None:
    """Channels in which no bound can be kept: down in ramps, and never deep at once."""
    slots = shallow(work, levels)
    for room in rooms_in(narrow, radius=work.radius, step=work.step, turn=work.turn):
        cut_passes(route, work, passes_of(work, room), slots, gone)


def shallow(work: Work, levels: Levels) -> Levels:
    """The same levels with others between, for slots."""
    most = min(work.cutter.stepdown, SLOT * work.cutter.diameter)
    heights: list[float] = []
    for above, z in pairwise((levels.top, *levels.heights)):
        heights += level_heights(-z, most, -above)
    return Levels(top=levels.top, heights=tuple(heights))


def finish_bounded(route: Route, work: Work, region: Region, gone: Gone, *, rest: bool) -> None:
    """The last pass along the walls of a region from which something is left to take, its corners
    thinned as the rest of the way is."""
    heights = last_heights(work, region.levels)
    levels = Levels(top=region.levels.top, heights=heights)
    for part in _large(work, region.centres):
        room = replace(_room(work, region, part, gone, skin=True), rest=rest)
        way = bounded_way(work, room)
        if way is not None and way.legs:
            wall = Wall.of(part, work.radius, work.turn, share=STRIP)
            for _ in range(1 + work.cut.spring_passes):
                _cut_way(route, work, (way, wall), levels, gone)


def _room(work: Work, region: Region, part: Polygon, gone: Gone, *, skin: bool = False) -> Room:
    """A part of a region as it is to be cleared. Corners are opened by the last pass."""
    near = part.buffer(TOLERANCES.offset)
    lines = [corner.line for corner in region.corners.open]
    last = skin or region.leave == 0.0
    assert work.cut.engage is not None
    return Room(
        area=part,
        bound=work.cut.engage,
        gone=gone.at(region.levels.floor),
        ears=tuple(line for line in lines if last and near.intersects(Point(line[0]))),
        swell=SWELL * work.radius,
        skin=skin,
    )


def _large(work: Work, centres: BaseGeometry) -> list[Polygon]:
    rooms = tuple(Ringed(area=part, rings=()) for part in polygons_of(centres))
    return [room.area for room in without_specks(rooms, work.radius)]


def _cut_way(
    route: Route, work: Work, found: tuple[Bounded, Wall], levels: Levels, gone: Gone
) -> None:
    way, wall = found
    route.note(way.note)
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
        (x, y), (into_x, into_y) = drawn.leg.points.tolist()
        _come_down(route, (x, y), step, gone)
        route.straight(into_x, into_y, z)
        return
    first = drawn.parts[0][0].edges[0]
    route.straight(float(first[0]), float(first[1]), z)
    high = z + min(drawn.lift, floor - z)
    heights = (z,) if len(drawn.parts) == 1 else (high, high, z)
    for curves, height in zip(drawn.parts, heights, strict=True):
        route.along(curves, height)


def _come_down(
    route: Route, spot: tuple[float, float], step: tuple[float, float], gone: Gone
) -> None:
    """Over a place that this way cleared, or an earlier cutter: by rapid as far as that is known
    to be gone."""
    wide = route.cutter.radius + ALLOWANCES.beside
    route.lift()
    route.over(*spot)
    route.rapid_z(min(gone.rapid_to(spot, wide, z) for z in step))
    route.sink(step[1])


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
