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
from toolpath.plan.circuit import Circuit, backward, evenly
from toolpath.plan.curves import curve_of, curves_of
from toolpath.plan.finish import takes_whole_wall
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
    """Down along a loop that leaves something on the wall, then over to the wall, once round along
    it and a little on, and back off it: at the floor, or level by level where the cutter bends."""
    blend = min(blend_length(around.cut), rough.length / 6.0)
    overlap = min(ALLOWANCES.lead_overlap, blend / 4.0)
    rough, hops = _from_start(around, rough, 2.0 * blend)
    _descend(route, around, rough, hops)
    place = wall.nearest(rough.at(np.array([blend - overlap]))[0])
    hops = around.bridges.over(wall)
    wall, hops = wall.begun_at(place), begun_at(hops, place) if hops else None
    beside = _Beside(rough=rough, wall=wall, hops=hops, run=blend - overlap, overlap=overlap)
    for i, z in enumerate(_last_heights(around)):
        if i:
            _back(route, around, beside, z)
        else:
            route.rapid_z(z)
        _round_wall(route, around, beside, z)
    route.lift()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Beside:
    """A rough loop and the loop along the wall, with its hops: over to it on the first `run` of
    the rough one, and off it again after `overlap` of it once more."""

    rough: Circuit
    wall: Circuit
    hops: Hops | None
    run: float
    overlap: float

    @property
    def off(self) -> float:
        """Where on the rough loop it is left for the wall's end, and the way off begins."""
        return self.rough.nearest(self.wall.at(np.array([self.overlap]))[0])


def _last_heights(around: Around) -> list[float]:
    """The heights of the last pass, the floor last: it alone, or a stepdown apart at most."""
    cut = around.cut
    drop = cut.depth - cut.below
    whole = takes_whole_wall(cut.cutter, drop)
    count = 1 if whole else math.ceil(drop / cut.cutter.stepdown - ALLOWANCES.same)
    return [*(-cut.below - drop * i / count for i in range(1, count)), -cut.depth]


def _round_wall(route: Route, around: Around, beside: _Beside, z: float) -> None:
    """From the start of the rough loop over to the wall, round it at one height, and off it."""
    wall, run = beside.wall, beside.run
    hops = beside.hops if beside.hops is not None and beside.hops.top > z else None
    _blend(route, beside, np.linspace(0.0, run, 25))
    for _ in range(1 + around.cut.spring_passes):
        walk_floor(route, wall, hops, z, around.cut.cutter.stepdown)
    route.along([curve_of(wall.part(0.0, beside.overlap), closed=False)], z)
    _blend(route, beside, np.linspace(beside.off, beside.off + run, 25), away=True)


def _back(route: Route, around: Around, beside: _Beside, z: float) -> None:
    """Down to the next height and back to the start of the rough loop, through what it cut; past
    the safe height if chips are to be cleared."""
    way = beside.rough.part(0.0, beside.off + beside.run)
    if route.due:
        route.cross(*way[-1, :2].tolist())
        route.rapid_z(-around.cut.below + ALLOWANCES.rapid_above)
    route.sink(z + ALLOWANCES.ramp_above_floor)
    route.along([curve_of(backward(way), closed=False)], z)


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


def _blend(route: Route, beside: _Beside, where: FloatArray, *, away: bool = False) -> None:
    """Smoothly from one loop to the other, at tangents to both: over to the wall or `away`."""
    rough, wall = beside.rough.at(where), beside.wall
    along = wall.at(np.array([wall.nearest(spot) for spot in rough]))
    share = np.linspace(0.0, 1.0, len(where))
    share = share * share * (3.0 - 2.0 * share)
    share = (1.0 - share if away else share)[:, None]
    points = rough * (1.0 - share) + along * share
    points[0] = route.at[:2]
    if not away:
        points[-1] = wall.at(np.zeros(1))[0]
    route.along(curves_of(points, TOLERANCES.arc_fit), route.at[2])
