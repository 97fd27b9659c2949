"""Pockets: everything inside an outline but its islands, cleared level by level.

Frame: page frame of the face. Source of the cover rule: what a disc can reach of a region is its
opening, the region shrunk and grown again by the disc's radius (mathematical morphology).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err
from toolpath.errors import EntryError
from toolpath.job.model import Cutter, Job, Pocket, Side
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.cover import fix_up, left_standing, reachable, swept
from toolpath.plan.curves import Curve, curves_of
from toolpath.plan.entry import Entry, clear_link, find_entry
from toolpath.plan.levels import clear_height, level_heights
from toolpath.plan.lines import length_of
from toolpath.plan.links import Run, Web, groups_of, last_ring, path_through, web_of
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import Ring, Room, flat_area, polygons_of, rooms_of
from toolpath.plan.route import Route
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]

FIX_ROUNDS = 3
"""How often what is left standing is looked for and visited."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pass:
    """The way of one level through one room, the same at every level, and the way into it."""

    web: Web = field(repr=False)
    entry: Entry
    runs: tuple[Run, ...] = field(repr=False)

    @property
    def end(self) -> FloatArray:
        """(2,) where it ends."""
        return self.runs[-1].points[-1] if self.runs else np.array(self.entry.end)

    @property
    def lines(self) -> list[FloatArray]:
        """All its stretches and the foot of its entry as polylines."""
        return [self.entry.foot, *(run.points for run in self.runs)]

    @property
    def length(self) -> float:
        """Length of the path, mm."""
        return sum(length_of(run.points) for run in self.runs)


def climb_turn(face: Side) -> float:
    """1 where climbing along an outer wall is counter-clockwise in the page frame, else -1.

    With a clockwise spindle the material must be on the right of travel as seen on the machine;
    the page of the back is a mirror image of that, however the blank is turned over.
    """
    return 1.0 if face is Side.FRONT else -1.0


def pocket_area(cut: Pocket) -> BaseGeometry:
    """What a pocket clears, arcs flattened so that it never grows.

    The chords of narrow pockets are finer: the strip that they leave is measured by the area.
    """
    rough = flat_area(cut.outline, TOLERANCES.flatten, Err.INWARD)
    wide = rough.area / max(rough.length, ALLOWANCES.same)
    tolerance = min(TOLERANCES.flatten, TOLERANCES.area * wide / 4.0)
    area = flat_area(cut.outline, tolerance, Err.INWARD)
    return area.difference(flat_area(cut.islands, tolerance, Err.OUTWARD)) if cut.islands else area


def plan_pocket(job: Job, cut: Pocket) -> PlannedCut:
    """The moves of a pocket.

    Raises
    ------
    EntryError
        The cutter does not fit, or cannot get into a part of the pocket without a plunge.
    """
    cutter = cut.cutter
    area = pocket_area(cut)
    rooms = rooms_of(
        area,
        radius=cutter.radius,
        step=cutter.stepover * cutter.diameter,
        turn=climb_turn(cut.face),
    )
    if not rooms:
        raise EntryError(_does_not_fit(cut, area))
    rooms = without_specks(rooms, cutter.radius)
    passes = tuple(found for room in rooms for found in _passes(cut, room))
    return _planned(job, cut, rooms, passes)


def without_specks(rooms: tuple[Room, ...], radius: float) -> tuple[Room, ...]:
    """The rooms without those too small to get into of which the others reach everything."""
    large = tuple(room for room in rooms if room.area.length >= ALLOWANCES.ring_least)
    if not large or len(large) == len(rooms):
        return rooms
    others = reachable(shapely.union_all([room.area for room in large]), radius)
    least = TOLERANCES.area * others.area
    return tuple(
        room
        for room in rooms
        if room.area.length >= ALLOWANCES.ring_least
        or reachable(room.area, radius).difference(others).area > least
    )


def _planned(
    job: Job, cut: Pocket, rooms: tuple[Room, ...], passes: tuple[Pass, ...]
) -> PlannedCut:
    cleared = swept([line for each in passes for line in each.lines], cut.cutter.radius)
    can = reachable(shapely.union_all([room.area for room in rooms]), cut.cutter.radius)
    route = _cut_all(job, cut, passes, cleared)
    left = left_standing(can, cleared)
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=tuple(route.moves),
        floor=cut.depth,
        reachable_area=float(can.area),
        uncut_area=float(can.difference(cleared).area),
        lifts=route.lifts,
        notes=tuple(_left_note(sliver) for sliver in left),
    )


def _passes(cut: Pocket, room: Room) -> tuple[Pass, ...]:
    """The ways through a room: one, unless its rings do not hang together.

    What they leave is visited and the way made anew, a few times. Nothing is left where a step
    is less than the radius: every place is within a step of the ring outside it.
    """
    radius, turn = cut.cutter.radius, climb_turn(cut.face)
    rings: tuple[Ring, ...] = room.rings
    can = reachable(room.area, radius)
    found = _ways(cut, room, rings)
    if cut.cutter.stepover * cut.cutter.diameter <= radius - ALLOWANCES.spare:
        return found
    for _ in range(FIX_ROUNDS):
        cleared = swept([line for each in found for line in each.lines], radius)
        slivers = left_standing(can, cleared)
        if not slivers:
            break
        extra = [ring for sliver in slivers for ring in fix_up(sliver, room.area, radius, turn)]
        rings = (*rings, *extra)
        found = _ways(cut, room, rings)
    return found


def _ways(cut: Pocket, room: Room, rings: tuple[Ring, ...]) -> tuple[Pass, ...]:
    web = web_of(room.area, rings, cut.cutter.stepover * cut.cutter.diameter)
    return tuple(_way(cut, room, web, group) for group in groups_of(web))


def _way(cut: Pocket, room: Room, web: Web, group: tuple[int, ...]) -> Pass:
    way = find_entry(web, group, room.area, diameter=cut.cutter.diameter, turn=climb_turn(cut.face))
    if way is None:
        raise EntryError(_no_way_in(cut, room))
    runs = path_through(web, way.ring, way.start, last_ring(web, group))
    return Pass(web=web, entry=way.entry, runs=runs)


def _curves(runs: tuple[Run, ...]) -> tuple[Curve, ...]:
    """The path in lines and arcs, closer along the wall than elsewhere."""
    fits = [TOLERANCES.arc_fit if run.inset == 0 else ALLOWANCES.inner_fit for run in runs]
    return tuple(
        curve for run, fit in zip(runs, fits, strict=True) for curve in curves_of(run.points, fit)
    )


def _cut_all(job: Job, cut: Pocket, passes: tuple[Pass, ...], cleared: BaseGeometry) -> Route:
    """Pass by pass through all levels."""
    slope = ALLOWANCES.slope * math.tan(cut.cutter.ramp)
    levels = level_heights(cut.depth, cut.cutter.stepdown)
    drop = ALLOWANCES.ramp_above_face - levels[0]
    route = Route(
        cutter=cut.cutter,
        machine=job.machine,
        safe=clear_height(job, cut.face),
        start=passes[0].entry.start(slope, drop),
    )
    for each in passes:
        floor, curves = 0.0, _curves(each.runs)
        for z in levels:
            _get_to_start(route, each, slope, (floor, z), cleared)
            each.entry.descend(route, slope, z)
            if curves:
                x, y, _ = curves[0].edges[0]
                route.straight(x, y, z)
                route.along(curves, z)
            floor = z
        route.lift()
    return route


def _get_to_start(
    route: Route, each: Pass, slope: float, step: tuple[float, float], cleared: BaseGeometry
) -> None:
    """To where the descent from one floor to the next begins, staying down where it can."""
    floor, z = step
    first = floor >= 0.0
    top = floor + (ALLOWANCES.ramp_above_face if first else ALLOWANCES.ramp_above_floor)
    x, y = each.entry.start(slope, top - z)
    if not first and _may_stay_down(each, (x, y), route.cutter):
        route.straight(x, y, top)
        return
    route.lift()
    route.over(x, y)
    air = Point(x, y).buffer(route.cutter.radius + ALLOWANCES.beside)
    deep = not first and cleared.covers(air)
    route.rapid_z((floor if deep else 0.0) + ALLOWANCES.rapid_above)
    route.sink(top)


def _may_stay_down(each: Pass, start: tuple[float, float], cutter: Cutter) -> bool:
    x, y = each.end
    length = math.hypot(start[0] - x, start[1] - y)
    most = min(
        ALLOWANCES.link_most * cutter.diameter,
        max(cutter.diameter, ALLOWANCES.link_share * each.length),
    )
    return length <= most and clear_link(each.web, (float(x), float(y)), start)


def _does_not_fit(cut: Pocket, area: BaseGeometry) -> str:
    widest = max((_width(part) for part in polygons_of(area)), default=0.0)
    return (
        f'cut "{cut.name}": the {show_mm(cut.cutter.diameter)} cutter "{cut.cutter.name}" does not '
        f"fit: the widest place is {show_mm(widest)}: use a thinner cutter or widen the outline"
    )


def _width(part: Polygon) -> float:
    return 2.0 * float(shapely.maximum_inscribed_circle(part, tolerance=0.01).length)


def _no_way_in(cut: Pocket, room: Room) -> str:
    spot = room.area.representative_point()
    return (
        f'cut "{cut.name}": no way in at x {spot.x:.2f} y {spot.y:.2f}: the '
        f'{show_mm(cut.cutter.diameter)} cutter "{cut.cutter.name}" has so little room there that '
        "it could only plunge: use a thinner cutter, widen the outline or drill the place first"
    )


def _left_note(sliver: Polygon) -> str:
    spot = sliver.representative_point()
    return f"left standing at x {spot.x:.2f} y {spot.y:.2f}: {sliver.area:.4f} mm²"
