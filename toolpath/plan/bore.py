"""Holes wider than the cutter, bored by helix.

Frame: page frame of the face, millimetres. Climbing, as along the wall of any hole; no turn is
deeper than a stepdown nor steeper than the cutter's ramp, and a flat turn ends each helix. A hole
too wide for one helix is opened by one after another, a stepover wider each, so that no post
stays. Between them the cutter rises in the middle, never along the wall.
"""

from __future__ import annotations

import math

from toolpath.errors import EntryError
from toolpath.job.model import Cutter, Drill
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.route import Route
from toolpath.plan.work import climb_turn
from toolpath.units import show_mm

Place = tuple[float, float]

LEAST_RADIUS = 0.05
"""A helix tighter than this is a plunge: its numbers are rounded to a share of itself."""


def helix_radii(diameter: float, cutter: Cutter) -> tuple[float, ...]:
    """Radii of the helices of the cutter's centre that open a hole, the wall's last.

    The first is at most `ALLOWANCES.helix_most` diameters, the others are equal steps of at most
    the cutter's stepover.
    """
    wall = (diameter - cutter.diameter) / 2.0
    first = ALLOWANCES.helix_most * cutter.diameter
    if wall <= first + ALLOWANCES.same:
        return (wall,)
    step = cutter.stepover * cutter.diameter
    count = math.ceil((wall - first) / step - ALLOWANCES.same)
    return (*(first + (wall - first) * i / count for i in range(count)), wall)


def require_room(cut: Drill) -> None:
    """Raises EntryError where the holes are too little wider than the cutter for a helix."""
    if (cut.diameter - cut.cutter.diameter) / 2.0 >= LEAST_RADIUS:
        return
    least = cut.cutter.diameter + 2.0 * LEAST_RADIUS
    raise EntryError(
        f'cut "{cut.name}": holes of {show_mm(cut.diameter)} are too narrow to be bored by helix '
        f'with the {show_mm(cut.cutter.diameter)} cutter "{cut.cutter.name}", which needs '
        f"{show_mm(least)}: use a thinner cutter, or drill them"
    )


def bore_hole(route: Route, cut: Drill, middle: Place, floor: float) -> None:
    """One hole, from above the middle down to the depth `floor` of the tip."""
    turn = climb_turn(cut.face)
    top = -cut.below + ALLOWANCES.ramp_above_face
    route.cross(*middle)
    for radius in helix_radii(cut.diameter, cut.cutter):
        route.rapid_z(-cut.below + ALLOWANCES.rapid_above)
        route.sink(top)
        _half_turn(route, middle, radius, turn)
        turns = _turns(cut.cutter, radius, top + floor)
        route.turn(middle, turn * 2.0 * math.pi * turns, -floor)
        route.turn(middle, turn * 2.0 * math.pi, -floor)
        _half_turn(route, middle, radius, turn)
    route.lift()


def _turns(cutter: Cutter, radius: float, drop: float) -> int:
    """Whole turns of a helix, as many as ramp and stepdown need."""
    slope = ALLOWANCES.slope * math.tan(cutter.ramp)
    bite = min(cutter.stepdown, slope * 2.0 * math.pi * radius)
    return max(1, math.ceil(drop / bite - ALLOWANCES.same))


def _half_turn(route: Route, middle: Place, radius: float, turn: float) -> None:
    """Level from the middle on to the circle, or back from it: half a turn that meets the circle
    at a tangent."""
    x, y = middle
    route.turn((x + radius / 2.0, y), turn * math.pi, route.at[2])
