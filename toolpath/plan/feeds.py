"""A cut's finished moves with their feeds: raised where the chip is thin and the job asks for a
chip, lowered in slots and on tight curves.

Frame: page frame of the face. Nothing but feeds is changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from toolpath.job.model import Cutter, Job, Shape, Side
from toolpath.job.proposals import least_chip
from toolpath.motion.feeds import SLOT_SHARE, Engagement, FeedRules, feeds_for
from toolpath.motion.moves import MoveTable
from toolpath.plan.result import PlannedCut
from toolpath.plan.taken import Bitten, Block
from toolpath.plan.work import climb_turn
from toolpath.units import Unit

FULL = 0.9
"""Share of the diameter from which a cutter is taken to be in a slot."""
DEEP = 0.5
"""Share of the stepdown up to which a slot is not slowed: half the depth does as well (common
practice, no source)."""
_SIDEWAYS = (Shape.FLAT, Shape.BULL, Shape.BALL)
_STRAIGHT_SIDED = (Shape.FLAT, Shape.BULL)


def with_feeds(job: Job, parts: Sequence[PlannedCut]) -> tuple[PlannedCut, ...]:
    """The parts of one cut, in cutting order, with the feeds of their moves settled; what was
    slowed in slots is noted with its length."""
    cutting = [part for part in parts if part.moves and part.cutter.shape in _SIDEWAYS]
    if not cutting:
        return tuple(parts)
    tables = {id(part): MoveTable.of(part.moves) for part in cutting}
    sizes = [part.cutter.diameter for part in cutting]
    block = Block(tables.values(), (min(sizes), max(sizes)), -cutting[0].cut.below)
    return tuple(
        _settled(job, part, tables[id(part)], block) if id(part) in tables else part
        for part in parts
    )


def _settled(job: Job, part: PlannedCut, table: MoveTable, block: Block) -> PlannedCut:
    cutter = part.cutter
    bitten = block.cut(table, cutter, job.machine)
    engaged = _engagement(table, bitten, cutter, part.cut.face)
    feeds = feeds_for(table, engaged, _rules(job, cutter))
    moves = tuple(
        replace(move, feed=feed) if move.feed != feed else move
        for move, feed in zip(part.moves, feeds.tolist(), strict=True)
    )
    slowed = engaged.slot & (feeds < table.feed)
    return replace(part, moves=moves, notes=(*part.notes, *_notes(table, slowed, job.unit)))


def _rules(job: Job, cutter: Cutter) -> FeedRules:
    return FeedRules(
        diameter=cutter.diameter,
        keep_chip=cutter.chip > 0.0 and cutter.shape in _STRAIGHT_SIDED,
        most=job.machine.feed_max,
        least=least_chip(cutter.diameter) * cutter.rpm * cutter.flutes,
        plunge=cutter.plunge,
    )


def _engagement(table: MoveTable, bitten: Bitten, cutter: Cutter, face: Side) -> Engagement:
    """Widths with a cell to spare; the outside of an arc is cut where it turns away from what is
    climbed along, and in slots both sides are."""
    full = bitten.width >= FULL * cutter.diameter
    left_turn = table.sweep * climb_turn(face) > 0.0
    width = np.where(bitten.width > 0.0, bitten.width + bitten.cell, 0.0)
    return Engagement(
        width=np.minimum(width, cutter.diameter),
        slot=full & (bitten.depth > DEEP * cutter.stepdown),
        outside=left_turn | (full & (table.sweep != 0.0)),
    )


def _notes(table: MoveTable, slowed: NDArray[np.bool_], unit: Unit) -> list[str]:
    if not slowed.any():
        return []
    length = float(table.lengths()[slowed].sum())
    shown = f"{length:.0f} mm"
    if unit is Unit.INCH:
        shown = f"{length / unit.mm:.1f} in ({shown})"
    return [f"full width along {shown}: fed at {SLOT_SHARE:.0%} there"]
