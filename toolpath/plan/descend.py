"""Passes cut one after another through their levels: how the cutter gets to each.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from toolpath.job.model import Cutter
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.entry import AirEntry, ToAndFro, clear_link
from toolpath.plan.gone import Gone
from toolpath.plan.passes import Pass
from toolpath.plan.route import Route
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES

_TOUCH = 0.02
"""Straight down no more is taken than this, mm."""
_LEG = 0.2
"""Shorter paths are no way down, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Heights of the passes of a region, deepest last, and the height above which it is gone."""

    top: float
    heights: tuple[float, ...]

    @property
    def floor(self) -> float:
        """The deepest."""
        return self.heights[-1]


def cut_passes(
    route: Route, work: Work, passes: Iterable[Pass], levels: Levels, gone: Gone
) -> None:
    """Each pass through all its levels; what they clear is added to what is gone. One too short
    to go down along is left out where it could only be plunged into."""
    for each in passes:
        if _is_speck(each, levels.floor, route.cutter, gone):
            continue
        route.note(each.note)
        curves = each.curves(work.radius)
        cleared = each.swept(work.radius)
        floor, done = levels.top, len(route.moves)
        for z in levels.heights:
            _get_in(route, work, each, (floor, z), gone)
            if curves:
                x, y, _ = curves[0].edges[0]
                if math.dist((x, y), route.at[:2]) > TOLERANCES.arc_fit:
                    route.straight(x, y, z)
                route.along((curves[0].begun_at(route.at[:2]), *curves[1:]), z)
            floor = z
            gone.add(z, cleared)
        gone.took(route.moves[done:], route.cutter)
        route.lift()


def go_down(route: Route, spot: tuple[float, float], z: float, gone: Gone) -> None:
    """From the safe height over a place towards height `z`: by rapid where there is air all
    round, else only to above what is known to be gone; the rest of the way is left to feed."""
    route.lift()
    route.over(*spot)
    wide = route.cutter.radius + ALLOWANCES.beside
    route.rapid_z(gone.rapid_to(spot, wide, z))


def _is_speck(each: Pass, z: float, cutter: Cutter, gone: Gone) -> bool:
    return each.length < _LEG and _touches(each, z, cutter, gone)


def _touches(each: Pass, z: float, cutter: Cutter, gone: Gone) -> bool:
    """Whether more than a hair stands over a height where the way in is taken for air."""
    entry = each.entry
    return isinstance(entry, AirEntry) and gone.touched(entry.spot, cutter) > z + _TOUCH


def _get_in(route: Route, work: Work, each: Pass, step: tuple[float, float], gone: Gone) -> None:
    """From one floor to where the path of the next begins."""
    if _touches(each, step[1], route.cutter, gone):
        _ramp_in(route, work, each, step[1], gone)
        return
    _get_to_start(route, work, each, step, gone)
    each.entry.descend(route, work.slope, step[1])


def _ramp_in(route: Route, work: Work, each: Pass, z: float, gone: Gone) -> None:
    """What counts as clear at a height may still stand a little over it, above all under a round
    end: from above that down to and fro along the first of the path."""
    spot, _ = each.entry.foot.tolist()
    above = ALLOWANCES.ramp_above_floor
    line = each.first((gone.touched(tuple(spot), route.cutter) + above - z) / work.slope)
    ramp = ToAndFro.along(line)
    top = above + max(gone.touched((x, y), route.cutter) for x, y in line[[0, -1]].tolist())
    go_down(route, ramp.start(work.slope, top - z), top, gone)
    route.sink(top)
    ramp.descend(route, work.slope, z)


def _get_to_start(
    route: Route, work: Work, each: Pass, step: tuple[float, float], gone: Gone
) -> None:
    """To where the descent from one floor to the next begins, staying down where it can."""
    floor, z = step
    if isinstance(each.entry, AirEntry):
        _get_into_air(route, each, each.entry, z, gone)
        return
    first = floor >= gone.top - ALLOWANCES.same
    top = floor + (ALLOWANCES.ramp_above_face if first else ALLOWANCES.ramp_above_floor)
    x, y = each.entry.start(work.slope, top - z)
    if _may_stay_down(route, each, (x, y), floor):
        route.straight(x, y, top)
        return
    go_down(route, (x, y), floor if first else top, gone)
    route.sink(top)


def _get_into_air(route: Route, each: Pass, entry: AirEntry, z: float, gone: Gone) -> None:
    floor = route.at[2]
    if not _may_stay_down(route, each, entry.spot, floor):
        go_down(route, entry.spot, z, gone)
        return
    route.straight(*entry.spot, floor)
    low = gone.rapid_to(entry.spot, route.cutter.radius + ALLOWANCES.beside, z)
    if low < floor:
        route.rapid_z(low)


def _may_stay_down(route: Route, each: Pass, start: tuple[float, float], floor: float) -> bool:
    """Whether the pass was just walked one level up and its start is near its end."""
    x, y = each.end
    here = math.dist(route.at, (x, y, floor)) <= ALLOWANCES.same
    if not here or floor >= route.low or route.due:
        return False
    diameter = route.cutter.diameter
    least = 0.0 if isinstance(each.entry, AirEntry) else diameter
    most = min(ALLOWANCES.link_most * diameter, max(least, ALLOWANCES.link_share * each.length))
    length = math.hypot(start[0] - x, start[1] - y)
    return length <= most and clear_link(each.web, (float(x), float(y)), start)
