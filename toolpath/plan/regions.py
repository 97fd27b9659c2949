"""Where the centre of a cutter may go at each level of a tier.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top
from toolpath.blank.shadow import shadow
from toolpath.job.model import Corners as CornerKind
from toolpath.job.model import IfBlocked, Rule
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corners import SWELL, Corners, corners_of
from toolpath.plan.cover import reachable
from toolpath.plan.descend import Levels
from toolpath.plan.necks import furthest, joined, necks_of
from toolpath.plan.rings import polygons_of, wall_offset
from toolpath.plan.rise import RisingFloor
from toolpath.plan.tiers import Tier
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """Where the centre of a cutter may go at some levels of a tier."""

    tier: Tier
    levels: Levels
    centres: BaseGeometry = field(repr=False)
    """Up to the walls."""
    rough: BaseGeometry = field(repr=False)
    """As far from the walls as the finish asks."""
    tight: BaseGeometry = field(repr=False)
    """Places too narrow for `rough`: cut up to the walls at once."""
    leave: float = 0.0
    """What is left on the walls for the last pass."""
    corners: Corners = field(default_factory=Corners)
    """Those that are opened for square parts."""
    blocked: bool = False
    """Whether something in the way makes it smaller than its tier."""

    @property
    def allowed(self) -> BaseGeometry:
        """Where the centre may be on its way."""
        return self.centres.union(self.tight)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """The regions of a tier from its top down, and the floor that rises over what is in the way,
    None where nothing is or the cut does not say rise."""

    regions: tuple[Region, ...]
    rising: RisingFloor | None = None

    @property
    def centres(self) -> BaseGeometry:
        """Where the centre may go above all that is in the way."""
        return self.regions[0].centres if self.rising is None else self._open()

    def notes(self, unit: Unit) -> tuple[str, ...]:
        """What a maker should know of its corners."""
        return self.regions[0].corners.notes(unit) if self.regions else ()

    def _open(self) -> BaseGeometry:
        tier = self.regions[0].tier
        assert self.rising is not None
        return wall_offset(tier.area, self.rising.cutter.radius, outward=False)

    def risen(self) -> BaseGeometry:
        """What the cutter would reach at the floor of the tier if nothing were in its way."""
        if self.rising is None:
            return Polygon()
        radius, centres = self.rising.cutter.radius, self.centres
        free = centres.difference(self.rising.over)
        return reachable(centres, radius).difference(reachable(free, radius))


def layout_of(work: Work, tier: Tier) -> Layout:
    """The regions of a cutter in a tier: one, unless the floor rises there."""
    levels = Levels(top=tier.top, heights=tier.levels(work.cutter.stepdown))
    if work.cut.if_blocked is IfBlocked.RISE:
        rising = RisingFloor.of(work.job, work.cut, work.cutter, tier.area, tier.floor)
        if rising.any:
            whole = _region(work, tier, levels, 0.0)
            return Layout(regions=_nested(whole, rising), rising=rising)
    return Layout(regions=(_region(work, tier, levels, work.cut.finish),))


def _region(work: Work, tier: Tier, levels: Levels, finish: float) -> Region:
    radius = work.radius
    centres = wall_offset(tier.area, radius, outward=False)
    rough, tight = centres, necks_of(tier.area, centres, radius)
    if finish > 0.0:
        rough = wall_offset(tier.area, radius + finish, outward=False)
        tight = tight.union(too_tight(centres, rough, radius, finish))
    return Region(
        tier=tier,
        levels=levels,
        centres=centres,
        rough=rough,
        tight=tight,
        leave=finish,
        corners=_corners(work, tier),
    )


def _corners(work: Work, tier: Tier) -> Corners:
    """The last cutter opens the corners."""
    if work.cut.corners is CornerKind.ROUND or work.cutter is not work.cut.cutters[-1]:
        return Corners()
    swell = 0.0 if work.cut.engage is None else SWELL
    found = corners_of(tier.area, tier.outline, work.radius * (1.0 + swell))
    if work.cut.if_blocked is IfBlocked.STOP:
        return found  # the check refuses it
    return found.clear_of(_in_reach(work, tier.floor))


def _in_reach(work: Work, floor: float) -> BaseGeometry:
    """The kept pieces that a cutter at a floor comes too near to if it passes over them, grown by
    what it must keep."""
    job, face = work.job, work.cut.face
    needs = [(each, job.need(each) + TOLERANCES.planner_margin) for each in job.pieces]
    return shapely.union_all(
        [
            shadow(piece, drifted=True, grow=need)
            for piece, need in needs
            if piece.rule is Rule.KEEP and page_top(job.blank, piece, face) > floor - need
        ]
    )


def _nested(whole: Region, rising: RisingFloor) -> tuple[Region, ...]:
    """The levels above all that is in the way together, each of the others by itself."""
    free: list[float] = []
    found: list[Region] = []
    top = whole.levels.top
    for z in whole.levels.heights:
        barred = rising.blocked(z)  # not cut to the centres: that would leave spikes along walls
        if not found and not barred.intersects(whole.allowed):
            free.append(z)
            continue
        levels = Levels(top=found[-1].levels.floor if found else (free or [top])[-1], heights=(z,))
        centres, tight = whole.centres.difference(barred), whole.tight.difference(barred)
        part = replace(whole, centres=centres, rough=centres, tight=tight)
        found.append(replace(part, levels=levels, blocked=True))
    if free:
        found.insert(0, replace(whole, levels=Levels(top=top, heights=tuple(free))))
    return tuple(found)


def too_tight(
    centres: BaseGeometry, rough: BaseGeometry, radius: float, finish: float
) -> BaseGeometry:
    """Where the centre has room only without what is left for the finish, corners left out."""
    rest = centres.difference(rough.buffer(finish + ALLOWANCES.sure))
    far = max(radius, 4.0 * finish)
    parts = [
        part
        for part in polygons_of(rest)
        if rough.is_empty or furthest(part, rough, far / 4.0) > far
    ]
    return joined(shapely.union_all(parts), centres)
