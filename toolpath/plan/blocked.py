"""What is in the way of a pocket, asked before it is planned."""

from __future__ import annotations

from toolpath.job.model import IfBlocked, Job, Pocket
from toolpath.plan.pillar import with_pillars
from toolpath.plan.rise import RisingFloor
from toolpath.plan.tiers import Tier, tiers_of


def in_the_way(job: Job, cut: Pocket, tier: Tier) -> tuple[str, ...]:
    """The names of the kept pieces over which a tier cannot be cut to its floor, by its thinnest
    cutter; with pillars those round which a column is left."""
    if cut.if_blocked is IfBlocked.PILLAR:
        _, columns = with_pillars(job, cut, cut.cutters, tier)
        return tuple(column.piece.name for column in columns)
    rising = RisingFloor.of(job, cut, cut.cutters[-1], tier.area, tier.floor)
    return rising.pieces if rising.any else ()


def standing_above_ledge(job: Job, cut: Pocket) -> tuple[str, ...]:
    """The names of the pieces over which a cut that may rise or leave pillars leaves something
    higher than its ledge. With stop nothing is left: the check refuses."""
    if cut.ledge is None or cut.if_blocked is IfBlocked.STOP:
        return ()
    ledge = [tier for tier in tiers_of(cut) if -tier.floor <= cut.ledge.depth]
    return tuple(name for tier in ledge for name in in_the_way(job, cut, tier))
