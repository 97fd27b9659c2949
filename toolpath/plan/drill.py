"""Drilled holes: pecks straight down, the full diameter to the depth.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math

from toolpath.job.model import Drill, Job
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.levels import clear_height
from toolpath.plan.result import PlannedCut
from toolpath.plan.route import Route

Place = tuple[float, float]


def plan_drill(job: Job, cut: Drill) -> PlannedCut:
    """The moves of a set of holes. The tip goes deeper than `depth` by the cutter's point, and
    that is the floor that is given."""
    floor = cut.depth + cut.cutter.point_length
    places = in_order(cut.at)
    route = Route(
        cutter=cut.cutter,
        machine=job.machine,
        safe=clear_height(job, cut.face),
        start=places[0],
    )
    for place in places:
        _drill_hole(route, place, floor, cut.peck)
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=tuple(route.moves),
        floor=floor,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=route.lifts,
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


def _drill_hole(route: Route, place: Place, floor: float, peck: float) -> None:
    """Equal pecks no longer than `peck`, out of the hole after each."""
    pecks = max(1, math.ceil(floor / peck - ALLOWANCES.same))
    route.lift()
    route.over(*place)
    for i in range(1, pecks + 1):
        bottom = -floor * (i - 1) / pecks
        above = ALLOWANCES.peck_above if i > 1 else ALLOWANCES.rapid_above
        route.rapid_z(bottom + above)
        route.sink(-floor if i == pecks else -floor * i / pecks)
        if i < pecks:
            route.rapid_z(ALLOWANCES.rapid_above)
    route.lift()
