"""A cut's finished moves with their feeds: raised where the chip is thin and the job asks for a
chip, lowered in slots and on tight curves.

Frame: page frame of the face. The path stays the same; a move that is a slot, or thin, in a part of
it only is parted there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import groupby

import numpy as np

from toolpath.job.model import Cutter, Job, Pocket, Shape, Side
from toolpath.job.proposals import least_chip
from toolpath.motion.feeds import Engagement, FeedRules, feeds_for, slot_share
from toolpath.motion.moves import Move, MoveTable, Point
from toolpath.plan.result import PlannedCut
from toolpath.plan.taken import Bitten, Block
from toolpath.plan.work import climb_turn
from toolpath.units import Unit

FULL = 0.9
"""Share of the diameter from which a cutter is taken to be in a slot."""
SLIGHT = 0.15
"""Share of the stepdown up to which full width is no slot: it would be slowed by no more than what
is one F word."""
QUARTERS, NEARLY = 4.0, 0.02
"""Slots count as so many parts of the stepdown deep, a hair over one as that: few F words."""
GOING_DOWN = 0.5
"""The same for moves that go down, whose full width is shallow by nature: half the depth does as
well as less feed (common practice, no source)."""
_SIDEWAYS = (Shape.FLAT, Shape.BULL, Shape.BALL)
_STRAIGHT_SIDED = (Shape.FLAT, Shape.BULL)


class _Class(IntEnum):
    """How wide a stretch is cut; what lasts for less than a diameter counts as wide."""

    SLOT = 0
    WIDE = 1
    THIN = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """A move or a part of one, with the greatest width in it, mm, whether that is all of the
    cutter, and how deep a slot it is, in stepdowns; 0 where it is none."""

    move: Move
    width: float = 0.0
    full: bool = False
    slot: float = 0.0


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
        _settled(job, part, block.cut(tables[id(part)], part.cutter, job.machine))
        if id(part) in tables
        else part
        for part in parts
    )


def _settled(job: Job, part: PlannedCut, bitten: Bitten) -> PlannedCut:
    cutter, rules = part.cutter, _rules(job, part.cutter)
    pieces = list(_pieces(part.moves, bitten, cutter, thin=rules.keep_chip))
    table = MoveTable.of(piece.move for piece in pieces)
    engaged = _engagement(pieces, table, (cutter.diameter, bitten.cell), part.cut.face)
    feeds = feeds_for(table, engaged, rules).tolist()
    moves = tuple(
        replace(piece.move, feed=feed) if piece.move.feed != feed else piece.move
        for piece, feed in zip(pieces, feeds, strict=True)
    )
    bounded = isinstance(part.cut, Pocket) and part.cut.engage is not None
    notes = _notes(pieces, job.unit, bounded=bounded)
    return replace(part, moves=moves, notes=(*part.notes, *notes))


def _rules(job: Job, cutter: Cutter) -> FeedRules:
    return FeedRules(
        diameter=cutter.diameter,
        keep_chip=cutter.chip > 0.0 and cutter.shape in _STRAIGHT_SIDED,
        most=job.machine.feed_max,
        least=least_chip(cutter.diameter) * cutter.rpm * cutter.flutes,
        plunge=cutter.plunge,
    )


def _pieces(
    moves: Sequence[Move], bitten: Bitten, cutter: Cutter, *, thin: bool
) -> Iterator[_Piece]:
    """Each move, parted where the class of what it cuts changes."""
    ends = np.searchsorted(bitten.row, np.arange(len(moves) + 1)).tolist()
    for row, move in enumerate(moves):
        first, last = ends[row], ends[row + 1]
        if first == last:
            yield _Piece(move=move)
            continue
        stretches = list(range(first, last))
        classes = _classes(move, bitten, stretches, cutter, thin=thin)
        for _, pairs in groupby(classes, key=lambda pair: pair[1]):
            run = [i for i, _ in pairs]
            yield _piece(_part_of(move, bitten, run), bitten, run, cutter)


def _classes(
    move: Move, bitten: Bitten, stretches: list[int], cutter: Cutter, *, thin: bool
) -> list[tuple[int, _Class]]:
    """The stretches of a move with their classes."""

    def own(i: int) -> _Class:
        if _slot(move, bitten, [i], cutter):
            return _Class.SLOT
        narrow = bitten.width[i] + bitten.cell < cutter.diameter / 2.0
        return _Class.THIN if thin and narrow else _Class.WIDE

    found: list[tuple[int, _Class]] = []
    for each, run in groupby(stretches, key=own):
        members = list(run)
        length = move.length * (bitten.high[members[-1]] - bitten.low[members[0]])
        whole = len(members) == len(stretches)
        lasting = whole or length >= cutter.diameter
        found += [(i, each if lasting else _Class.WIDE) for i in members]
    return found


def _slot(move: Move, bitten: Bitten, run: list[int], cutter: Cutter) -> float:
    """How deep a slot some stretches of a move are, in stepdowns."""
    if not _is_full(bitten, run, cutter):
        return 0.0
    depth = float(bitten.depth[run].max()) / cutter.stepdown
    falls = move.end[2] < move.start[2]
    if depth <= (GOING_DOWN if falls else SLIGHT):
        return 0.0
    return math.ceil(depth * QUARTERS - NEARLY) / QUARTERS


def _is_full(bitten: Bitten, run: list[int], cutter: Cutter) -> bool:
    return float(bitten.width[run].mean()) >= FULL * cutter.diameter


def _part_of(move: Move, bitten: Bitten, run: list[int]) -> Move:
    """The part of a move that some of its stretches are."""
    low, high = float(bitten.low[run[0]]), float(bitten.high[run[-1]])
    if low <= 0.0 and high >= 1.0:
        return move
    start, end = _along(move, low), _along(move, high)
    return replace(move, start=start, end=end, sweep=move.sweep * (min(high, 1.0) - max(low, 0.0)))


def _along(move: Move, share: float) -> Point:
    if share <= 0.0 or share >= 1.0:
        return move.start if share <= 0.0 else move.end
    x, y, z = MoveTable.of([move]).at(np.zeros(1, dtype=np.intp), np.array([share]))[0].tolist()
    return x, y, z


def _piece(move: Move, bitten: Bitten, run: list[int], cutter: Cutter) -> _Piece:
    return _Piece(
        move=move,
        width=float(bitten.width[run].max()),
        full=_is_full(bitten, run, cutter),
        slot=_slot(move, bitten, run, cutter),
    )


def _engagement(
    pieces: list[_Piece], table: MoveTable, sizes: tuple[float, float], face: Side
) -> Engagement:
    """Widths with a cell to spare; the outside of an arc is cut where it turns away from what is
    climbed along, and in slots both sides are."""
    diameter, cell = sizes
    width = np.array([piece.width for piece in pieces])
    full = np.array([piece.full for piece in pieces])
    away = table.sweep * climb_turn(face) > 0.0
    return Engagement(
        width=np.minimum(np.where(width > 0.0, width + cell, 0.0), diameter),
        slot=np.array([piece.slot for piece in pieces]),
        outside=away | (full & (table.sweep != 0.0)),
    )


def _notes(pieces: list[_Piece], unit: Unit, *, bounded: bool) -> list[str]:
    """Along how much the full width is met, and how it is fed there."""
    slots = [piece for piece in pieces if piece.slot]
    if not slots:
        return []
    length = sum(piece.move.length for piece in slots)
    low, high = (
        f"{100 * float(slot_share(np.array(depth))):.0f}"
        for depth in (max(piece.slot for piece in slots), min(piece.slot for piece in slots))
    )
    where = ", where ways down end and where the bound has no room" if bounded else ""
    share = low if low == high else f"{low} to {high}"
    return [
        f"full width along {_shown(length, unit)}{where}: fed at {share} % there, less in tight "
        "curves, no slower than still cuts"
    ]


def _shown(length: float, unit: Unit) -> str:
    shown = f"{length:.0f} mm"
    return f"{length / unit.mm:.1f} in ({shown})" if unit is Unit.INCH else shown
