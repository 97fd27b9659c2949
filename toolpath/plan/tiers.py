"""The depth ranges of a pocket: its ledge, then the pocket itself.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, Outline
from toolpath.job.model import Pocket
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.levels import level_heights
from toolpath.plan.rings import flat_area
from toolpath.tolerances import TOLERANCES


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tier:
    """One area, cut from `top` down to `floor` (heights, negative).

    `area` is what is planned, arcs flattened so that it never grows; `drawn` the same with much
    finer chords, by which it is measured what is left.
    """

    area: BaseGeometry = field(repr=False)
    drawn: BaseGeometry = field(repr=False)
    outline: BaseGeometry = field(repr=False)
    """The same with what stands on islands."""
    top: float
    floor: float
    leave: float = 0.0
    """What is left on the floor for one last level."""

    def levels(self, stepdown: float) -> tuple[float, ...]:
        """Heights of its passes, the last its floor exactly."""
        rough = -self.floor - self.leave
        if self.leave > 0.0 and rough > -self.top + TOLERANCES.equal:
            return (*level_heights(rough, stepdown, -self.top), self.floor)
        return level_heights(-self.floor, stepdown, -self.top)


def tiers_of(cut: Pocket) -> tuple[Tier, ...]:
    """The tiers of a pocket, top first: what lies inside the ledge down to its depth, then what
    lies inside the outline from there down."""
    top = cut.below
    found: list[Tier] = []
    ledge = cut.ledge
    if ledge is not None and ledge.depth > top + TOLERANCES.equal:
        found.append(_tier(cut, ledge.outline, (top, ledge.depth)))
        top = ledge.depth
    if cut.depth > top + TOLERANCES.equal:
        found.append(_tier(cut, cut.outline, (top, cut.depth)))
    return tuple(found)


def _tier(cut: Pocket, outline: Outline, depths: tuple[float, float]) -> Tier:
    return Tier(
        area=planned_area(outline, cut.islands),
        drawn=area_within(outline, cut.islands, ALLOWANCES.measured),
        outline=planned_area(outline, ()),
        top=-depths[0],
        floor=-depths[1],
        leave=cut.finish_floor,
    )


def planned_area(outline: Outline, islands: Outline) -> BaseGeometry:
    """What an outline holds beside islands, arcs flattened so that it never grows.

    The chords of narrow outlines are finer: the strip that they leave is measured by the area.
    """
    rough = flat_area(outline, TOLERANCES.flatten, Err.INWARD)
    wide = rough.area / max(rough.length, ALLOWANCES.same)
    return area_within(outline, islands, min(TOLERANCES.flatten, TOLERANCES.area * wide / 4.0))


def area_within(outline: Outline, islands: Outline, tolerance: float) -> BaseGeometry:
    """The same with chords of a given tolerance."""
    area = flat_area(outline, tolerance, Err.INWARD)
    return area.difference(flat_area(islands, tolerance, Err.OUTWARD)) if islands else area
