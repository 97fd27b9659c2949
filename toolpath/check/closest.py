"""The closest approach of a program to any piece, as a whole and line by line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.check.frames import Frame, frame_of
from toolpath.check.gap import Tool, tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.judge import SEARCH, Best
from toolpath.check.obstacles import Obstacles
from toolpath.check.report import Closest
from toolpath.check.unknown import judged_moves
from toolpath.check.words import point
from toolpath.job.model import Cutter, Job, Side
from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

NEAR = 25.0
"""Lines that stay further than this from every piece, mm, are not listed."""
BY_LINE = 0.1
"""The gap of a line is found to within this, mm, or this share of it where that is more, on the
upper side: better is only looked for in the nearest of all, as a fine mesh costs ten times as
much for it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Approach:
    """The nearest approach of all moves (None without pieces) and of each line that comes near."""

    closest: Closest | None
    by_line: Mapping[int, Closest]
    within: float = BY_LINE
    """To what the gaps by line were found, mm, where a tenth of the gap is not more."""
    short: bool = False
    """Whether the overall closest approach is nearer than its piece needs."""
    lines: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    gaps: FloatArray = field(default_factory=lambda: np.empty(0))
    """Lines (k,) that come near, rising, and how near each was seen to come, mm."""

    def within_lines(self, first: int, last: int) -> float:
        """A gap, mm, that some line from the first to the last comes within; `NEAR` if none."""
        low, high = np.searchsorted(self.lines, [first, last + 1])
        return float(self.gaps[low:high].min(initial=NEAR))


def closest_approach(
    job: Job, *, side: Side, cutter: Cutter, moves: MoveTable, known: float = NEAR
) -> Closest | None:
    """The nearest approach of moves in the program frame of a face to any piece grown by its
    drift, within 0.001 mm and never below the truth; None without moves or pieces. Moves that
    start where nothing is known count from their end on. `known` is a gap, mm, that some of them
    are known to come within, if any is: it only saves time."""
    obstacles = checked_obstacles(job, side)
    tool = tool_of(cutter, job.machine.nut)
    return _overall(judged_moves(moves), tool, obstacles, frame_of(job, side), known)


def approach(table: MoveTable, tool: Tool, obstacles: Obstacles, frame: Frame) -> Approach:
    """Least gaps to the grown pieces, never below the truth: overall within 0.001 mm, by line
    within 0.1 mm or a tenth of the gap."""
    if not len(table):
        return Approach(closest=None, by_line={})
    near_enough = max(NEAR, float(obstacles.needs.max(initial=0.0)) + 1.0)
    beside = obstacles.nearby(table, tool, near_enough)
    lines, numbers = np.unique(table.line[beside], return_inverse=True)
    group = np.zeros(len(table), dtype=np.intp)  # those of the others are never asked for
    group[beside] = numbers
    best = Best.of(np.full(len(lines), near_enough), within=BY_LINE, share=BY_LINE)
    best = obstacles.closest(table, tool, group, best)
    near = _Found(best=best, table=table, tool=tool, obstacles=obstacles, frame=frame)
    overall = _overall(table, tool, obstacles, frame, float(best.gap.min(initial=NEAR)))
    index = np.flatnonzero(best.found)
    by_line = _ByLine(lines=lines[index], group=index, found=near, overall=overall)
    needs = dict(zip((owner.name for owner in obstacles.owners), obstacles.needs, strict=True))
    short = overall is not None and bool(overall.gap < needs[overall.piece] - TOLERANCES.judge)
    return Approach(
        closest=overall,
        by_line=by_line,
        within=best.reached,
        short=short,
        lines=by_line.lines,
        gaps=best.gap[index],
    )


def _overall(
    table: MoveTable, tool: Tool, obstacles: Obstacles, frame: Frame, known: float
) -> Closest | None:
    """The nearest approach of all moves: first of those that come within a gap that is known."""
    everything = np.zeros(len(table), dtype=np.intp)
    for limit in (known + 2.0 * SEARCH, np.inf):
        best = obstacles.closest(table, tool, everything, Best.of(np.array([limit])))
        if best.found[0]:
            found = _Found(best=best, table=table, tool=tool, obstacles=obstacles, frame=frame)
            return found.of(0)
    return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """The nearest approach of each group, as columns until someone asks for one."""

    best: Best = field(repr=False)
    table: MoveTable = field(repr=False)
    tool: Tool
    obstacles: Obstacles = field(repr=False)
    frame: Frame

    def of(self, group: int) -> Closest:
        """That of one group, of which something was found."""
        best, tip = self.best, self.best.tip[group]
        return Closest(
            piece=self.obstacles.owners[best.owner[group]].name,
            gap=float(best.gap[group]),
            at=point(self.frame.to_blank(tip)),
            at_program=point(tip),
            line=int(self.table.line[best.row[group]]),
            part=self.tool.bodies[best.body[group]].part,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ByLine(Mapping[int, Closest]):
    """The nearest approach of each line that comes near, in order: `lines` (k,) rising, and the
    `group` (k,) of each. A program of a million lines has a million, of which few are asked for."""

    lines: NDArray[np.int64]
    group: NDArray[np.intp]
    found: _Found
    overall: Closest | None

    def __getitem__(self, line: int) -> Closest:
        place = int(np.searchsorted(self.lines, line))
        if place == len(self.lines) or self.lines[place] != line:
            raise KeyError(line)
        if self.overall is not None and self.overall.line == line:
            return self.overall
        return self.found.of(int(self.group[place]))

    def __iter__(self) -> Iterator[int]:
        return iter(self.lines.tolist())

    def __len__(self) -> int:
        return len(self.lines)
