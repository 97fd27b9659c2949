"""Columns left round pieces that are in the way of a cut.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top
from toolpath.blank.shadow import shadow
from toolpath.blank.tooling import profile_of
from toolpath.job.model import Cutter, IfBlocked, Job, Piece, Pocket, Relief, Rule
from toolpath.plan.tiers import Tier
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit, show_area, show_mm, show_place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pillar:
    """A column round a piece, of what a tier would else have cleared."""

    piece: Piece
    area: BaseGeometry = field(repr=False)
    floor: float

    def note(self, unit: Unit) -> str:
        """What is left and where, in words."""
        spot = self.area.representative_point()
        return (
            f'pillar round "{self.piece.name}" at {show_place(spot.x, spot.y, unit)}: '
            f"{show_area(self.area.area, unit)} left above a depth of {show_mm(-self.floor, unit)}"
        )


def with_pillars(
    job: Job, cut: Pocket | Relief, cutters: tuple[Cutter, ...], tier: Tier
) -> tuple[Tier, tuple[Pillar, ...]]:
    """A tier without the columns round the kept pieces that are in its way, and those columns.

    Unless the cut says pillar it is the tier as it is.
    """
    if cut.if_blocked is not IfBlocked.PILLAR:
        return tier, ()
    found: list[Pillar] = []
    for piece in job.pieces:
        if piece.rule is Rule.KEEP:
            column = _column(job, cut, piece, cutters, tier)
            if column is not None:
                found.append(column)
    area, drawn = tier.area, tier.drawn
    for each in found:
        area, drawn = area.difference(each.area), drawn.difference(each.area)
    return replace(tier, area=area, drawn=drawn), tuple(found)


def _column(
    job: Job, cut: Pocket | Relief, piece: Piece, cutters: tuple[Cutter, ...], tier: Tier
) -> Pillar | None:
    """The column that a piece needs; None where the cut passes over it or beside it."""
    need = job.need(piece) + TOLERANCES.planner_margin
    top = page_top(job.blank, piece, cut.face)
    wide = max((_wider(job, cutter, tier.floor, top + need) for cutter in cutters), default=0.0)
    if top + need <= tier.floor:
        return None
    area = shadow(piece, drifted=True, grow=need + wide).intersection(tier.area)
    return Pillar(piece=piece, area=area, floor=tier.floor) if area.area > 0.0 else None


def _wider(job: Job, cutter: Cutter, floor: float, top: float) -> float:
    """How much wider than the cutter is what of its shank and nut comes down to height `top`."""
    low = [
        part.r_high - cutter.radius
        for part in profile_of(cutter, job.machine.nut).elements
        if floor + part.z_low < top
    ]
    return max([0.0, *low])
