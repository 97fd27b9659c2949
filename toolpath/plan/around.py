"""Round a loop: down in whole turns, a flat turn at the floor, and over to the wall beside it.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from toolpath.job.model import Profile
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.away import Away
from toolpath.plan.bridges import Bridges, blend_length
from toolpath.plan.circuit import Circuit, evenly
from toolpath.plan.curves import curve_of, curves_of
from toolpath.plan.hops import Hops, walk_floor, walk_turn
from toolpath.plan.route import Route
from toolpath.plan.tabs import begun_at
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

PLACES = 400
"""How many places along a loop are looked at for its beginning."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Around:
    """A profile, its tabs, and what its loops begin away from."""

    cut: Profile
    away: Away
    bridges: Bridges

    @property
    def top(self) -> float:
        """Where the first ramp begins."""
        return -self.cut.below + ALLOWANCES.ramp_above_face


def walk_down(route: Route, around: Around, loop: Circuit) -> None:
    """Down in whole turns and one flat turn at the floor, then up."""
    _descend(route, around, *_from_start(around, loop, 0.0))
    route.lift()


def walk_wall(route: Route, around: Around, rough: Circuit, wall: Circuit) -> None:
    """Down along a loop that leaves something on the wall, over to the wall at the floor, once
    round along it and a little on, and back off it."""
    blend = min(blend_length(around.cut), rough.length / 6.0)
    overlap = min(ALLOWANCES.lead_overlap, blend / 4.0)
    rough, hops = _from_start(around, rough, 2.0 * blend)
    _descend(route, around, rough, hops)
    place = wall.nearest(rough.at(np.array([blend - overlap]))[0])
    hops = around.bridges.over(wall)
    wall, hops = wall.begun_at(place), begun_at(hops, place) if hops else None
    _blend(route, rough, wall, np.linspace(0.0, blend - overlap, 25), away=False)
    for _ in range(1 + around.cut.spring_passes):
        walk_floor(route, wall, hops, -around.cut.depth, around.cut.cutter.stepdown)
    route.along([curve_of(wall.part(0.0, overlap), closed=False)], route.at[2])
    where = wall.at(np.array([overlap]))[0]
    here = rough.nearest(where)
    _blend(route, rough, wall, np.linspace(here, here + blend - overlap, 25), away=True)
    route.lift()


def _descend(route: Route, around: Around, loop: Circuit, hops: Hops | None) -> None:
    cut, top = around.cut, around.top
    drop = top + cut.depth
    slope = ALLOWANCES.slope * math.tan(cut.cutter.ramp)
    turns = math.ceil(drop / min(cut.cutter.stepdown, loop.length * slope) - ALLOWANCES.same)
    route.cross(float(loop.edges[0, 0]), float(loop.edges[0, 1]))
    route.rapid_z(-cut.below + ALLOWANCES.rapid_above)
    route.sink(top)
    heights = [*(top - drop * i / turns for i in range(turns)), -cut.depth]
    for turn in pairwise(heights):
        walk_turn(route, loop, hops, turn)
    walk_floor(route, loop, hops, -cut.depth, cut.cutter.stepdown)


def _from_start(around: Around, loop: Circuit, run: float) -> tuple[Circuit, Hops | None]:
    """The loop from where it best begins, and its hops: not on a tab nor on the way up to one
    for the next `run`, away from pieces and clamps, where that goes straight."""
    hops = around.bridges.over(loop)
    where = evenly(loop.length, PLACES)
    if hops is not None:
        where = np.concatenate([where, hops.last + ALLOWANCES.same])
    score = 1000.0 * around.away.spare(loop.at(where))
    if hops is not None:
        for ahead in np.linspace(0.0, run, 9) if run else np.zeros(1):
            least = hops.upright.least(np.mod(where + ahead, loop.length))
            score -= 1e6 * (least > -around.cut.depth + ALLOWANCES.same)
    if run:
        score -= loop.turning(where + run) - loop.turning(where)
    place = float(where[int(score.argmax())])
    return loop.begun_at(place), begun_at(hops, place) if hops is not None else None


def _blend(route: Route, rough: Circuit, wall: Circuit, where: FloatArray, *, away: bool) -> None:
    """Smoothly from one loop to the other, at tangents to both: over to the wall or `away`."""
    beside = rough.at(where)
    along = wall.at(np.array([wall.nearest(spot) for spot in beside]))
    share = np.linspace(0.0, 1.0, len(where))
    share = share * share * (3.0 - 2.0 * share)
    share = (1.0 - share if away else share)[:, None]
    points = beside * (1.0 - share) + along * share
    points[0] = route.at[:2]
    if not away:
        points[-1] = wall.at(np.zeros(1))[0]
    route.along(curves_of(points, TOLERANCES.arc_fit), route.at[2])
