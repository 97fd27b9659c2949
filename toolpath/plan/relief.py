"""Reliefs: roughed in levels, finished by passes over the ground, cutter after cutter.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.errors import EntryError
from toolpath.field.drop import Dropping
from toolpath.job.model import Cutter, IfBlocked, Job, Relief
from toolpath.motion.moves import MoveTable
from toolpath.plan.gone import Gone
from toolpath.plan.pillar import with_pillars
from toolpath.plan.relief_finish import finish
from toolpath.plan.relief_left import Known, Left
from toolpath.plan.relief_levels import Rest, rough, roughing
from toolpath.plan.relief_reach import thick, uncut
from toolpath.plan.relief_tidy import tidy
from toolpath.plan.result import PlannedCut
from toolpath.plan.route import Route
from toolpath.plan.target import Target, dropping_of, relief_area
from toolpath.plan.tiers import Tier
from toolpath.plan.work import Work

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scene:
    """A relief while it is planned."""

    job: Job
    cut: Relief
    area: BaseGeometry = field(repr=False)
    dropping: Dropping = field(repr=False)

    def target(self, cutter: Cutter) -> Target:
        """The ground as a cutter finds it."""
        return Target.of(self.job, self.cut, cutter, self.area, self.dropping)


def plan_relief(job: Job, cut: Relief) -> tuple[PlannedCut, ...]:
    """The moves of a relief: one part for each of its cutters that has something to take.

    Raises
    ------
    EntryError
        What is in the way leaves nothing to cut.
    """
    area, notes = _area(job, cut)
    scene = _Scene(job=job, cut=cut, area=area, dropping=dropping_of(cut.ground))
    left = Left.before(cut, area)
    gone = Known(-cut.below, left)
    parts: list[PlannedCut] = []
    for cutter in cut.cutters:
        route = Route.on(job, cut, cutter)
        notes += [*_cut(route, scene, cutter, left, gone), *route.notes]
        if not route.moves:
            notes.append(f'cutter "{cutter.name}" finds nothing left to take')
            continue
        done = len(route.moves)
        if cutter in cut.finishers:
            left.after(MoveTable.of(route.moves), cutter)
        if cutter is cut.finishers[-1]:
            tidy(route, scene.target(cutter), left)
        parts.append(_part(route, cut, cutter, area))
        left.after(MoveTable.of(parts[-1].moves[done:]), cutter)
    if not parts:
        raise EntryError(f'cut "{cut.name}": nothing is left to cut: move it or make it deeper')
    area_left, words = uncut(left, scene.target(cut.finishers[-1]), job.unit)
    notes += words
    last = replace(parts[-1], uncut_area=area_left, notes=tuple(dict.fromkeys(notes)))
    return (*parts[:-1], last)


def _cut(route: Route, scene: _Scene, cutter: Cutter, left: Left, gone: Gone) -> list[str]:
    """Rough, then finish, with one cutter: all of it, or what others left."""
    cut, target = scene.cut, scene.target(cutter)
    notes: tuple[str, ...] = ()
    rest = None if cutter is cut.cutter else Rest(thick=thick(left, target, cutter), left=left)
    if rest is None or not rest.thick.is_empty:
        work = roughing(cut, Work(job=scene.job, cut=cut, cutter=cutter))
        notes = rough(route, work, target, gone, rest=rest)
    if cutter in cut.finishers:
        within = target.roam
        if cutter is not cut.finishers[0]:
            within = left.area_of(left.standing(), cutter.radius).intersection(target.roam)
        finish(route, cut, target, within, left)
    return list(notes)


def _area(job: Job, cut: Relief) -> tuple[BaseGeometry, list[str]]:
    """Where a relief is cut, and notes of the pillars left in it."""
    area = relief_area(cut)
    tier = Tier(area=area, drawn=area, outline=area, top=-cut.below, floor=-cut.depth)
    if cut.if_blocked is not IfBlocked.PILLAR:
        return area, []
    _, pillars = with_pillars(job, cut, cut.cutters, tier)
    pillars = tuple(each for each in pillars if _blocks(job, cut, each.piece.name, each.area))
    for each in pillars:
        area = area.difference(each.area)
    return area, [each.note(job.unit) for each in pillars]


def _blocks(job: Job, cut: Relief, name: str, near: BaseGeometry) -> bool:
    """Whether a piece is in the way of some tip on the ground."""
    pieces = tuple(piece for piece in job.pieces if piece.name == name)
    alone = replace(job, pieces=pieces)
    rising = replace(cut, if_blocked=IfBlocked.RISE)
    wide = near.buffer(max(cutter.radius for cutter in cut.cutters)).intersection(relief_area(cut))
    for cutter in cut.cutters:
        target = Target.of(alone, rising, cutter, relief_area(cut), dropping_of(cut.ground))
        found = target.found(_spread(wide))
        if bool((found.piece > np.maximum(found.ground, found.wall)).any()):
            return True
    return False


def _spread(area: BaseGeometry, step: float = 0.25) -> FloatArray:
    """(n, 2) places of a grid within an area."""
    x0, y0, x1, y1 = area.bounds
    grid = np.stack(np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step)), axis=-1)
    places = grid.reshape(-1, 2)
    return np.asarray(places[shapely.contains_xy(area, places[:, 0], places[:, 1])])


def _part(route: Route, cut: Relief, cutter: Cutter, area: BaseGeometry) -> PlannedCut:
    moves = route.done()
    return PlannedCut(
        cut=cut,
        cutter=cutter,
        moves=moves,
        floor=-min(move.end[2] for move in moves),
        reachable_area=float(area.area),
        uncut_area=0.0,
        lifts=route.lifts,
        pauses=tuple(route.pauses),
    )
