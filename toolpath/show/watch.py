"""The watch list of a program: the few places where the cutter passes nearest to a piece."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.check.report import Closest
from toolpath.job.model import HARD, Job, Piece
from toolpath.show.scene import ProgramView
from toolpath.show.words import PART_WORDS, Lengths

MOST_WATCHED = 4
"""Places listed for a program."""
_NEAR = 6.0
"""Gap in mm from which on a place needs no watching."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One place to watch: what lies there, where in the numbers of the machine, what is left."""

    what: str
    hard: bool
    where: str
    left: str


def watch_list(job: Job, program: ProgramView, lengths: Lengths) -> tuple[Watch, ...]:
    """The nearest place to each piece that a program comes near to: hard pieces first, then those
    with the least room over the needed gap."""
    pieces = {piece.name: piece for piece in job.pieces}
    nearest: dict[str, Closest] = {}
    seen = [view.closest for view in program.cuts if view.closest is not None]
    for closest in [*seen, *program.report.closest_by_line.values()]:
        known = nearest.get(closest.piece)
        if closest.piece in pieces and (known is None or closest.gap < known.gap):
            nearest[closest.piece] = closest
    near = [c for c in nearest.values() if c.gap < job.need(pieces[c.piece]) + _NEAR]
    near.sort(key=lambda c: _order(job, pieces[c.piece], c))
    return tuple(_watch(job, pieces[c.piece], c, lengths) for c in near[:MOST_WATCHED])


def _order(job: Job, piece: Piece, closest: Closest) -> tuple[bool, float]:
    return piece.hardness not in HARD, closest.gap - job.need(piece)


def _watch(job: Job, piece: Piece, closest: Closest, lengths: Lengths) -> Watch:
    x, y, z = closest.at_program
    bare = lengths.bare
    line = f", line {closest.line}" if closest.line else ""
    needed = lengths.need(job.need(piece))
    return Watch(
        what=f"{piece.hardness.value}: {piece.name}",
        hard=piece.hardness in HARD,
        where=f"X {bare(x)}, Y {bare(y)}, tip at Z {bare(z)}{line}",
        left=f"{lengths.gap(closest.gap)} left ({PART_WORDS[closest.part]}), {needed} needed",
    )
