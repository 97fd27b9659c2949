"""Profiles: a cut along an outline, outside it, inside it or on it.

Frame: page frame of the face, millimetres. Each loop is a descending spiral of whole turns, none
deeper than a stepdown nor steeper than the cutter's ramp, and one flat turn at the floor.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.drawing.outline import Err, Loop
from toolpath.errors import EntryError
from toolpath.job.model import Job, Profile, ProfileSide
from toolpath.motion.arcfit import fit_arcs
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.curves import Curve, curve_of
from toolpath.plan.levels import clear_height
from toolpath.plan.pocket import climb_turn
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import flat_area, polygons_of, wall_offset
from toolpath.plan.route import Route
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]


def plan_profile(job: Job, cut: Profile) -> PlannedCut:
    """The moves of a profile: holes of the outline first, its outside last.

    Raises
    ------
    EntryError
        A loop vanishes because the cutter does not fit, or is too short to ramp along.
    """
    loops = [curve_of(edges, closed=True) for edges in profile_loops(cut)]
    if not loops or min(loop.length for loop in loops) < ALLOWANCES.ring_least:
        raise EntryError(_does_not_fit(cut))
    route = Route(
        cutter=cut.cutter,
        machine=job.machine,
        safe=clear_height(job, cut.face),
        start=(float(loops[0].edges[0, 0]), float(loops[0].edges[0, 1])),
    )
    for loop in loops:
        _cut_loop(route, loop, cut)
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=tuple(route.moves),
        floor=cut.depth,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=route.lifts,
    )


def profile_loops(cut: Profile) -> tuple[FloatArray, ...]:
    """The loops of the cutter's centre in cutting order, (k, 3) x, y, bulge, climbing.

    What is kept lies on the right of travel as seen on the machine: outside an outline
    clockwise, inside it counter-clockwise (front). On the line the inside counts as kept.
    """
    turn = climb_turn(cut.face)
    if cut.side is ProfileSide.CENTRE:
        loops = [_turned(loop, turn) for region in cut.outline for loop in region.holes]
        return (*loops, *(_turned(region.outer, -turn) for region in cut.outline))
    outward = cut.side is ProfileSide.OUTER
    area = flat_area(cut.outline, TOLERANCES.flatten, Err.OUTWARD if outward else Err.INWARD)
    parts = polygons_of(wall_offset(area, cut.cutter.radius, outward=outward))
    kept_inside = -turn if outward else turn
    inner = [_fitted(loop, -kept_inside) for part in parts for loop in part.interiors]
    return (*inner, *(_fitted(part.exterior, kept_inside) for part in parts))


def _cut_loop(route: Route, loop: Curve, cut: Profile) -> None:
    """Down in whole turns, and one flat turn at the floor."""
    top = ALLOWANCES.ramp_above_face
    bite = min(cut.cutter.stepdown, loop.length * ALLOWANCES.slope * math.tan(cut.cutter.ramp))
    turns = math.ceil((top + cut.depth) / bite - ALLOWANCES.same)
    route.lift()
    route.over(loop.edges[0, 0], loop.edges[0, 1])
    route.rapid_z(ALLOWANCES.rapid_above)
    route.sink(top)
    for i in range(1, turns):
        route.along([loop], top - (top + cut.depth) * i / turns)
    route.along([loop], -cut.depth)
    route.along([loop], -cut.depth)
    route.lift()


def _turned(loop: Loop, turn: float) -> FloatArray:
    """The loop's own lines and arcs, counter-clockwise for `turn` 1."""
    return (loop if loop.area * turn > 0 else loop.reversed()).points


def _fitted(line: shapely.LinearRing, turn: float) -> FloatArray:
    """A loop of chords as lines and arcs, counter-clockwise for `turn` 1."""
    points = shapely.get_coordinates(line)[:-1]
    if shapely.is_ccw(line) != (turn > 0):
        points = points[::-1]
    return fit_arcs(points, closed=True, tolerance=TOLERANCES.arc_fit)


def _does_not_fit(cut: Profile) -> str:
    return (
        f'cut "{cut.name}": the {show_mm(cut.cutter.diameter)} cutter "{cut.cutter.name}" does not '
        "fit inside the outline with room to ramp down: use a thinner cutter or widen the outline"
    )
