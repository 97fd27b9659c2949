"""Holes: pecks straight down where they are as wide as the cutter, else bored by helix.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math

from toolpath.job.model import Drill, Job
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.bore import bore_hole, require_room
from toolpath.plan.result import PlannedCut
from toolpath.plan.route import Route

Place = tuple[float, float]


def plan_drill(job: Job, cut: Drill) -> PlannedCut:
    """The moves of a set of holes. The tip goes deeper than `depth` by the cutter's point, and
    that is the floor that is given.

    Raises
    ------
    EntryError
        The holes are too little wider than the cutter to be bored.
    """
    floor = cut.depth + cut.cutter.point_length
    if cut.bored:
        require_room(cut)
    route = Route.on(job, cut, cut.cutter)
    for place in in_order(cut.at):
        if cut.bored:
            bore_hole(route, cut, place, floor)
        else:
            _drill_hole(route, cut, place, floor)
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=route.done(),
        floor=floor,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=route.lifts,
        pauses=tuple(route.pauses),
    )


def in_order(places: tuple[Place, ...]) -> tuple[Place, ...]:
    """Always the nearest hole next, from the lower left one (least x + y)."""
    left = list(places)
    here = min(left, key=lambda place: (place[0] + place[1], place))
    found = []
    while left:
        here = min(left, key=lambda place: (math.dist(place, here), place))
        left.remove(here)
        found.append(here)
    return tuple(found)


def _drill_hole(route: Route, cut: Drill, place: Place, floor: float) -> None:
    """Equal pecks no longer than the cut's, out of the hole after each."""
    deep = floor - cut.below
    pecks = max(1, math.ceil(deep / cut.peck - ALLOWANCES.same))
    route.cross(*place)
    for i in range(1, pecks + 1):
        bottom = -cut.below - deep * (i - 1) / pecks
        above = ALLOWANCES.peck_above if i > 1 else ALLOWANCES.rapid_above
        route.rapid_z(bottom + above)
        route.sink(-floor if i == pecks else -cut.below - deep * i / pecks)
        if i < pecks:
            route.rapid_z(-cut.below + ALLOWANCES.rapid_above)
    route.lift()
