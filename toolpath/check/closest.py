"""The closest approach of a program to any piece, as a whole and line by line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.frames import Frame, frame_of
from toolpath.check.gap import Tool, tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.judge import SEARCH, Best
from toolpath.check.obstacles import ROWS, Obstacles
from toolpath.check.report import Closest
from toolpath.check.unknown import judged_moves
from toolpath.check.words import point
from toolpath.job.model import Cutter, Job, Side
from toolpath.motion.moves import LineArray, MoveTable
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
    lines: LineArray = field(default_factory=lambda: np.empty(0, dtype=np.int32))
    gaps: FloatArray = field(default_factory=lambda: np.empty(0))
    """Lines (k,) that come near, rising, and how near each was seen to come, mm."""

    def within_lines(self, first: int, last: int) -> float:
        """A gap, mm, that some line from the first to the last comes within; `NEAR` if none."""
        low, high = np.searchsorted(self.lines, np.array([first, last + 1], dtype=np.int32))
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
    within 0.1 mm or a tenth of the gap. The lines of the table rise."""
    if not len(table):
        return Approach(closest=None, by_line={})
    near_enough = max(NEAR, float(obstacles.needs.max(initial=0.0)) + 1.0)
    search = _ByBlock(
        near=_Near(table=table, tool=tool, obstacles=obstacles, frame=frame), limit=near_enough
    )
    lines, gaps, within = search.all()
    overall = _overall(table, tool, obstacles, frame, float(gaps.min(initial=NEAR)))
    needs = dict(zip((owner.name for owner in obstacles.owners), obstacles.needs, strict=True))
    short = overall is not None and bool(overall.gap < needs[overall.piece] - TOLERANCES.judge)
    return Approach(
        closest=overall,
        by_line=_ByLine(lines=lines, search=search, overall=overall),
        within=within,
        short=short,
        lines=lines,
        gaps=gaps,
    )


def _overall(
    table: MoveTable, tool: Tool, obstacles: Obstacles, frame: Frame, known: float
) -> Closest | None:
    """The nearest approach of all moves: first of those that come within a gap that is known."""
    everything = np.broadcast_to(np.intp(0), len(table))
    for limit in (known + 2.0 * SEARCH, np.inf):
        best = obstacles.closest(table, tool, everything, Best.of(np.array([limit])))
        if best.found[0]:
            near = _Near(table=table, tool=tool, obstacles=obstacles, frame=frame)
            return near.of(best, 0)
    return None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Near:
    """Moves and what they come near to."""

    table: MoveTable = field(repr=False)
    tool: Tool
    obstacles: Obstacles = field(repr=False)
    frame: Frame

    def of(self, best: Best, group: int) -> Closest:
        """The nearest approach of one group, of which something was found."""
        tip = best.tip[group]
        return Closest(
            piece=self.obstacles.owners[best.owner[group]].name,
            gap=float(best.gap[group]),
            at=point(self.frame.to_blank(tip)),
            at_program=point(tip),
            line=int(self.table.line[best.row[group]]),
            part=self.tool.bodies[best.body[group]].part,
        )

    def part(self, first: int, last: int) -> _Near:
        """The moves first up to but not last."""
        return replace(self, table=self.table.take(slice(first, last)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """The moves first up to but not last, which are those of whole lines; which of them, (n,), may
    come near; and how many spans had been looked at before them."""

    first: int
    last: int
    beside: NDArray[np.bool_]
    looked: int = 0


@dataclass(slots=True, kw_only=True, eq=False)
class _ByBlock:
    """The nearest approach of each line that comes nearer than `limit`, looked for a block at a
    time. No more than a block of them is kept: of a million lines few are asked for, and those
    are found again, to the last bit, as the search begins from the same state."""

    near: _Near
    limit: float
    _blocks: list[_Block] = field(default_factory=list)
    _lines: int = 0
    _last: tuple[int, _Lines] | None = None

    def all(self) -> tuple[LineArray, FloatArray, float]:
        """Lines (k,) that come near, rising, the gap of each, and to what these were found."""
        for first, last in _whole_lines(self.near.table.line):
            some = self.near.part(first, last)
            beside = np.zeros(last - first, dtype=np.bool_)
            beside[some.obstacles.nearby(some.table, some.tool, self.limit)] = True
            self._blocks.append(_Block(first=first, last=last, beside=beside))
            self._lines += len(np.unique(some.table.line[beside]))
        lines, gaps = [np.empty(0, dtype=np.int32)], [np.empty(0)]
        looked, within = 0, BY_LINE
        for number, block in enumerate(self._blocks):
            self._blocks[number] = replace(block, looked=looked)
            found = self.block(number)
            index = np.flatnonzero(found.best.found)
            lines.append(found.lines[index])
            gaps.append(found.best.gap[index])
            looked, within = found.best.looked, found.best.reached
        return np.concatenate(lines), np.concatenate(gaps), within

    def block(self, number: int) -> _Lines:
        """What is found of the lines of one block."""
        if self._last is None or self._last[0] != number:
            self._last = number, self._search(self._blocks[number])
        return self._last[1]

    def of(self, line: int) -> Closest:
        """The nearest approach of a line that comes near."""
        heads = self.near.table.line[[block.first for block in self._blocks]]
        number = int(np.searchsorted(heads, np.int32(line), side="right")) - 1
        found, block = self.block(number), self._blocks[number]
        near = self.near.part(block.first, block.last)
        return near.of(found.best, int(np.searchsorted(found.lines, np.int32(line))))

    def _search(self, block: _Block) -> _Lines:
        near = self.near.part(block.first, block.last)
        lines, numbers = np.unique(near.table.line[block.beside], return_inverse=True)
        group = np.zeros(len(near.table), dtype=np.intp)  # those of the others are never asked for
        group[block.beside] = numbers
        best = Best.of(np.full(len(lines), self.limit), within=BY_LINE, share=BY_LINE)
        best.looked, best.groups = block.looked, self._lines
        best = near.obstacles.closest(near.table, near.tool, group, best)
        return _Lines(lines=lines, best=best)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """Lines (g,) and the nearest approach of each, as far as any was found."""

    lines: LineArray
    best: Best


def _whole_lines(line: LineArray) -> Iterator[tuple[int, int]]:
    """All moves, some at once, those of one line together."""
    at = 0
    while at < len(line):
        end = min(at + ROWS, len(line))
        if end < len(line):
            head = int(np.searchsorted(line, line[end]))
            end = head if head > at else int(np.searchsorted(line, line[end], side="right"))
        yield at, end
        at = end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ByLine(Mapping[int, Closest]):
    """The nearest approach of each line that comes near, in order; `lines` (k,) rise."""

    lines: LineArray
    search: _ByBlock
    overall: Closest | None

    def __getitem__(self, line: int) -> Closest:
        place = int(np.searchsorted(self.lines, np.int32(line)))
        if place == len(self.lines) or self.lines[place] != line:
            raise KeyError(line)
        if self.overall is not None and self.overall.line == line:
            return self.overall
        return self.search.of(line)

    def __iter__(self) -> Iterator[int]:
        return iter(self.lines.tolist())

    def __len__(self) -> int:
        return len(self.lines)
