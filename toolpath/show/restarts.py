"""Where a program may be begun again after it was stopped: a line for each level of each cut.

Most are lines at which the cutter stands above the face, on its way across to where it goes down
next. Every rapid across is written with both X and Y, and the first feed after it with its F, so
all that such a line needs is what the head of the program sets. Where a level begins without a
lift, the words are named that bring the cutter to where it stood: across above the face, then
straight down, by feed, to a place where its tip has been, so that nothing stands there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.found import job_of_face
from toolpath.blank.frames import Frame
from toolpath.job.model import Job
from toolpath.motion.moves import Kind, MoveTable
from toolpath.show.scene import CutView, ProgramView
from toolpath.show.words import Lengths

MOST_RESTARTS = 60
"""Lines listed for a program; of more, those with which a cut first comes deeper go first."""
LEVEL = 0.05
"""Floors further apart than this are two levels, mm."""
FLAT = 1e-4
"""Moves that rise or fall by no more than this, mm, are level: what decimals make."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restart:
    """A line to begin again at: what is cut from there, and how deep before the next lift or
    level. `words` are entered first, where no lift comes before it."""

    line: int
    cut: str
    depth: str
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restarts:
    """The lines of a program to begin again at; `head` is the last line of those that set it up
    (modes, zero, safe height, spindle), 0 where there is nothing to begin; `left_out` counts the
    lines that there was no room for."""

    head: int
    rows: tuple[Restart, ...]
    left_out: int = 0


def restarts(job: Job, program: ProgramView, lengths: Lengths) -> Restarts:
    """Where a program may be begun again: at each level of each cut."""
    step = program.cutter.stepdown
    found = [(view, start) for view in program.cuts for start in _of_cut(view.moves, step)]
    if not found:
        return Restarts(head=0, rows=())
    frame = Frame.of(job_of_face(job, program.face), program.face)
    rows = tuple(
        Restart(
            line=int(view.moves.line[start.row]),
            cut=f"{view.number} {view.planned.cut.name}",
            depth=lengths.short(start.depth),
            words="" if start.lifted else _words(program, view.moves, start.row, frame, lengths),
        )
        for view, start in _that_fit(found)
    )
    first, start = found[0]
    head = int(first.moves.line[start.row]) - 1
    return Restarts(head=head, rows=rows, left_out=len(found) - len(rows))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Start:
    """A move from which a level is cut, how deep, and whether the cutter stands above then."""

    row: int
    depth: float
    lifted: bool


_Found = tuple[CutView, _Start]


def _that_fit(found: list[_Found]) -> list[_Found]:
    """Of more lines than fit, those of new levels, and as many of the others as there is room for;
    of either every second, third and so on."""
    if len(found) <= MOST_RESTARTS:
        return found
    new = _new_levels(found)
    kept = _thinned(np.flatnonzero(new), MOST_RESTARTS)
    others = _thinned(np.flatnonzero(~new), MOST_RESTARTS - len(kept))
    return [found[row] for row in sorted([*kept, *others])]


def _new_levels(found: list[_Found]) -> NDArray[np.bool_]:
    """Whether the cut comes deeper from each line than it was before."""
    deepest: dict[int, float] = {}
    new = []
    for view, start in found:
        low = deepest.get(view.number, -np.inf)
        new.append(start.depth > low + LEVEL)
        deepest[view.number] = max(low, start.depth)
    return np.array(new)


def _thinned(rows: NDArray[np.intp], most: int) -> list[int]:
    return rows[:: -(-len(rows) // most)].tolist() if most and len(rows) else []


def _of_cut(moves: MoveTable, step: float) -> Iterator[_Start]:
    """Where the depth is another than before, or a level begins."""
    rapid = moves.kind == Kind.RAPID
    above = moves.end[:, 2] >= 0.0
    across = rapid & above & (moves.start[:, :2] != moves.end[:, :2]).any(axis=1)
    starts = np.flatnonzero(across)
    if not starts.size:
        return
    last = None
    for first, following in zip(starts, [*starts[1:], len(moves)], strict=True):
        fed = np.flatnonzero(~rapid[first:following]) + first
        if not len(fed):
            continue
        begins = [int(fed[0]), *_levels(moves, fed, step)]
        ends = [*begins[1:], int(fed[-1]) + 1]
        depths = [
            _depth(moves, fed[(fed >= a) & (fed < b)]) for a, b in zip(begins, ends, strict=True)
        ]
        if depths[0] != last:
            yield _Start(row=int(first), depth=depths[0], lifted=True)
        for row, depth in zip(begins[1:], depths[1:], strict=True):
            yield _Start(row=row, depth=depth, lifted=False)
        last = depths[-1]


def _depth(moves: MoveTable, rows: NDArray[np.intp]) -> float:
    return round(-float(moves.end[rows, 2].min()), 3)


def _levels(moves: MoveTable, fed: NDArray[np.intp], step: float) -> list[int]:
    """Rows from which levels between two lifts are cut, each deeper than all before, the first left
    out: where the cutter begins to go down to level ground; on a way that goes on falling, each
    `step` mm of it."""
    begin, end = moves.start[:, 2], moves.end[:, 2]
    across = (moves.start[:, :2] != moves.end[:, :2]).any(axis=1)
    found: list[int] = []
    low = 0.0
    mark = min(low, float(begin[fed[across[fed]]][:1].min(initial=low)))
    for row in fed.tolist():
        if across[row] and end[row] < begin[row] <= mark - step and begin[row] < low:
            found.append(row)
            low = mark = float(begin[row])
        elif abs(end[row] - begin[row]) < FLAT and end[row] < low - LEVEL:
            first = _down_to(moves, row, found[-1] if found else int(fed[0]))
            if low < 0.0 and first > (found[-1] if found else int(fed[0])):
                found.append(first)
            low = mark = float(end[row])
    return found


def _down_to(moves: MoveTable, row: int, least: int) -> int:
    """The row, not before `least`, from which the cutter only goes down to where a row begins."""
    while row > least and moves.end[row - 1, 2] < moves.start[row - 1, 2]:
        row -= 1
    return row


def _words(program: ProgramView, moves: MoveTable, row: int, frame: Frame, lengths: Lengths) -> str:
    """Words that bring the cutter from above the face to where a move begins, and its feed."""
    x, y = frame.xy_to_program(moves.start[row : row + 1, :2])[0].tolist()
    across, down = lengths.words(X=x, Y=y), lengths.words(Z=float(moves.start[row, 2]))
    plunge, feed = lengths.words(F=program.cutter.plunge), lengths.words(F=float(moves.feed[row]))
    return f"G0 {across}, G1 {down} {plunge}, {feed}"
