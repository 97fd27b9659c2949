"""Profiles: a cut along an outline, outside it, inside it or on it.

Frame: page frame of the face, millimetres. Each loop is a descending spiral of whole turns, none
deeper than a stepdown nor steeper than the cutter's ramp, and one flat turn at the floor; where it
has tabs, both go over them. What is left on a wall is taken by one last turn at the full depth,
or level by level with a cutter that bends.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing

from toolpath.drawing.outline import Err, Loop
from toolpath.errors import EntryError
from toolpath.job.model import Job, Profile, ProfileSide
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.around import Around, walk_down, walk_wall
from toolpath.plan.bridges import Bridges
from toolpath.plan.circuit import Circuit
from toolpath.plan.curves import Wall, wall_edges
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import flat_area, polygons_of, wall_offset
from toolpath.plan.route import Route
from toolpath.plan.work import climb_turn
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]


def plan_profile(job: Job, cut: Profile) -> PlannedCut:
    """The moves of a profile: holes of the outline first, its outside last.

    Raises
    ------
    EntryError
        A loop vanishes because the cutter does not fit, or is too short to ramp along; or no tab
        fits on one.
    """
    walls = _circuits(cut, 0.0)
    if not walls or min(wall.length for wall in walls) < ALLOWANCES.ring_least:
        raise EntryError(_does_not_fit(cut))
    bridges = Bridges.on(job, cut, walls)
    around = Around(cut=cut, away=bridges.away, bridges=bridges)
    route = Route.on(job, cut, cut.cutter)
    if _leave(cut) > 0.0:
        _rough_and_finish(route, around, walls)
    else:
        for wall in walls:
            walk_down(route, around, wall)
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=route.done(),
        floor=cut.depth,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=route.lifts,
        pauses=tuple(route.pauses),
        notes=bridges.notes,
        tabs=bridges.middles,
    )


def profile_loops(cut: Profile, leave: float = 0.0) -> tuple[FloatArray, ...]:
    """The loops of the cutter's centre in cutting order, (k, 3) x, y, bulge, climbing, where
    `leave` is left on the wall (nothing where it runs on the line).

    What is kept lies on the right of travel as seen on the machine: outside an outline
    clockwise, inside it counter-clockwise (front). On the line the inside counts as kept.
    """
    turn = climb_turn(cut.face)
    if cut.side is ProfileSide.CENTRE:
        loops = [_turned(loop, turn) for region in cut.outline for loop in region.holes]
        return (*loops, *(_turned(region.outer, -turn) for region in cut.outline))
    outward = cut.side is ProfileSide.OUTER
    area = flat_area(cut.outline, TOLERANCES.flatten, Err.OUTWARD if outward else Err.INWARD)
    parts = polygons_of(wall_offset(area, cut.cutter.radius + leave, outward=outward))
    kept_inside = -turn if outward else turn
    ways = [(loop, -kept_inside, part) for part in parts for loop in part.interiors]
    ways += [(part.exterior, kept_inside, part) for part in parts]
    walls = [replace(Wall.of(part, cut.cutter.radius, turn), centres=None) for _, _, part in ways]
    return tuple(_fitted(loop, way, wall) for (loop, way, _), wall in zip(ways, walls, strict=True))


def _rough_and_finish(route: Route, around: Around, walls: tuple[Circuit, ...]) -> None:
    """Each loop beside its wall, then on to it. Where they do not run side by side all round, the
    rough loops first, and each wall by a spiral of its own."""
    cut = around.cut
    every = _circuits(cut, cut.finish)
    roughs = [loop for loop in every if loop.length >= ALLOWANCES.ring_least]
    sides = [[rough for rough in roughs if _beside(wall, rough, cut.finish)] for wall in walls]
    single = [side[0] if len(side) == 1 else None for side in sides]
    for rough in roughs:
        if not any(rough is each for each in single):
            walk_down(route, around, rough)
    for wall, partner in zip(walls, single, strict=True):
        if partner is None:
            walk_down(route, around, wall)
        else:
            walk_wall(route, around, partner, wall)


def _beside(wall: Circuit, rough: Circuit, leave: float) -> bool:
    """Whether two loops run beside each other all round; at sharp corners they are further apart
    than on straight runs."""
    first, second = (LinearRing(loop.points(1.0)) for loop in (wall, rough))
    apart = float(shapely.hausdorff_distance(first, second))
    return apart <= 3.0 * leave + ALLOWANCES.beside


def _leave(cut: Profile) -> float:
    """What is left for the last pass: on the line there is no wall."""
    return 0.0 if cut.side is ProfileSide.CENTRE else cut.finish


def _circuits(cut: Profile, leave: float) -> tuple[Circuit, ...]:
    return tuple(Circuit(edges) for edges in profile_loops(cut, leave))


def _turned(loop: Loop, turn: float) -> FloatArray:
    """The loop's own lines and arcs, counter-clockwise for `turn` 1."""
    return (loop if loop.area * turn > 0 else loop.reversed()).points


def _fitted(line: shapely.LinearRing, turn: float, wall: Wall) -> FloatArray:
    """A loop of chords along a wall as lines and arcs, counter-clockwise for `turn` 1."""
    points = shapely.get_coordinates(line)[:-1]
    if shapely.is_ccw(line) != (turn > 0):
        points = points[::-1]
    return wall_edges(points, wall, closed=True)


def _does_not_fit(cut: Profile) -> str:
    return (
        f'cut "{cut.name}": the {show_mm(cut.cutter.diameter)} cutter "{cut.cutter.name}" does not '
        "fit inside the outline with room to ramp down: use a thinner cutter or widen the outline"
    )
