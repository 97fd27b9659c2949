"""The way of one level through a room, the same at every level, and the way into it.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.errors import EntryError
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.below import Ground
from toolpath.plan.cover import fix_up, left_standing, reachable, swept
from toolpath.plan.curves import Curve, Wall, curves_of, wall_curves
from toolpath.plan.entry import Entry, find_entry
from toolpath.plan.holes import holes_before
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.links import Run, Web, groups_of, last_ring, path_through, web_of
from toolpath.plan.rings import Ring, Room
from toolpath.plan.work import Work
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
    turn: float
    """1 where it climbs with what is kept on its right, else -1."""
    note: str = ""
    """What a maker should know of the way in."""

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

    def first(self, length: float) -> FloatArray:
        """(n, 2) so much of the path from where its entry goes down, or all of it."""
        points = np.vstack(self.lines)
        far = np.hypot(*np.diff(points, axis=0, prepend=np.inf).T) > ALLOWANCES.same
        return stretch(points[far], 0.0, min(length, length_of(points)))

    def curves(self, radius: float) -> tuple[Curve, ...]:
        """The path in lines and arcs, along the wall on the side away from it."""
        wall = Wall.of(self.web.area, radius, self.turn)
        return tuple(curve for run in self.runs for curve in _drawn(run, wall))

    def swept(self, radius: float) -> BaseGeometry:
        """What a cutter clears that walks it."""
        return swept(self.lines, radius)


def _drawn(run: Run, wall: Wall) -> tuple[Curve, ...]:
    """What joins rings, or was added to reach what they leave, may lie anywhere, also along a
    wall."""
    if run.inset == 0:
        return wall_curves(run.points, wall)
    inner = run.inset is not None and run.inset > 0
    return curves_of(run.points, ALLOWANCES.inner_fit if inner else TOLERANCES.arc_fit)


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


def passes_of(work: Work, room: Room) -> tuple[Pass, ...]:
    """The ways through a room of solid stock: one, unless its rings do not hang together.

    What they leave is visited and the way made anew, a few times. Nothing is left where a step
    is less than the radius: every place is within a step of the ring outside it.

    Raises
    ------
    EntryError
        The cutter cannot get in without a plunge.
    """
    rings: tuple[Ring, ...] = room.rings
    can = reachable(room.area, work.radius)
    found = _ways(work, room, rings)
    if work.step <= work.radius - ALLOWANCES.spare:
        return found
    for _ in range(FIX_ROUNDS):
        extra = rings_for(work, room, can, found)
        if not extra:
            break
        rings = (*rings, *extra)
        found = _ways(work, room, rings)
    return found


def rings_for(
    work: Work, room: Room, wanted: BaseGeometry, found: tuple[Pass, ...]
) -> tuple[Ring, ...]:
    """What must be visited besides, so that nothing of what is wanted is left standing."""
    cleared = shapely.union_all([each.swept(work.radius) for each in found])
    return tuple(
        ring
        for sliver in left_standing(wanted, cleared)
        for ring in fix_up(sliver, room.area, work.radius, work.turn)
    )


def _ways(work: Work, room: Room, rings: tuple[Ring, ...]) -> tuple[Pass, ...]:
    web = web_of(room.area, rings, work.step)
    return tuple(through_stock(work, room, web, group) for group in groups_of(web))


def through_stock(work: Work, room: Room, web: Web, group: tuple[int, ...]) -> Pass:
    """The way through a group of rings, begun in solid stock. Raises EntryError."""
    job, cut, cutter = work.job, work.cut, work.cutter
    way = find_entry(
        web,
        group,
        room.area,
        diameter=cutter.diameter,
        turn=work.turn,
        ground=Ground.under(job, cut, room.area, work.radius),
        holes=tuple(hole for hole in holes_before(job, cut) if hole.serves(cut, cutter)),
    )
    if way is None:
        raise EntryError(_no_way_in(work, room))
    runs = path_through(web, way.ring, way.start, last_ring(web, group))
    return Pass(web=web, entry=way.entry, runs=runs, turn=work.turn, note=way.note)


def _no_way_in(work: Work, room: Room) -> str:
    spot = room.area.representative_point()
    cutter = work.cutter
    return (
        f'cut "{work.cut.name}": no way in at x {spot.x:.2f} y {spot.y:.2f}: the '
        f'{show_mm(cutter.diameter)} cutter "{cutter.name}" has so little room there that '
        "it could only plunge: use a thinner cutter, widen the outline or drill the place first"
    )
