"""Where a program may be begun again after it was stopped: lines at which the cutter stands above
the face, on its way across to where it goes down next.

Every rapid across is written with both X and Y, and the first feed after it with its F, so all
that such a line needs is what the head of the program sets.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from toolpath.motion.moves import Kind
from toolpath.show.scene import CutView, ProgramView
from toolpath.show.words import Lengths

MOST_RESTARTS = 24
"""Lines listed for a program; of more every second, third and so on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restart:
    """A line to begin again at: what is cut from there, and how deep before the next lift."""

    line: int
    cut: str
    depth: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Restarts:
    """The lines of a program to begin again at; `head` is the last line of those that set it up
    (modes, zero, safe height, spindle), 0 where there is nothing to begin."""

    head: int
    rows: tuple[Restart, ...]


def restarts(program: ProgramView, lengths: Lengths) -> Restarts:
    """Where a program may be begun again: at each level or group of levels of each cut."""
    found = [row for view in program.cuts for row in _of_cut(view)]
    if not found:
        return Restarts(head=0, rows=())
    every = -(-len(found) // MOST_RESTARTS)
    rows = tuple(
        Restart(line=line, cut=name, depth=lengths.short(depth))
        for line, name, depth in found[::every]
    )
    return Restarts(head=found[0][0] - 1, rows=rows)


def _of_cut(view: CutView) -> Iterator[tuple[int, str, float]]:
    """Line, name of the cut and depth from there to the next rapid across: where the depth is
    another than before."""
    moves = view.moves
    rapid = moves.kind == Kind.RAPID
    above = moves.end[:, 2] >= 0.0
    across = rapid & above & (moves.start[:, :2] != moves.end[:, :2]).any(axis=1)
    starts = np.flatnonzero(across)
    if not starts.size:
        return
    last = None
    for first, following in zip(starts, [*starts[1:], len(moves)], strict=True):
        part = slice(first, following)
        fed = moves.end[part][~rapid[part], 2]
        if not len(fed):
            continue
        depth = round(-float(fed.min()), 3)
        if depth != last:
            yield int(moves.line[first]), f"{view.number} {view.planned.cut.name}", depth
        last = depth
