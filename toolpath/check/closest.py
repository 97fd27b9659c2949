"""The closest approach of a program to any piece, as a whole and line by line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.check.frames import Frame, frame_of
from toolpath.check.gap import Tool, tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.judge import Best
from toolpath.check.obstacles import Obstacles
from toolpath.check.report import Closest
from toolpath.check.unknown import judged_moves
from toolpath.job.model import Cutter, Job, Side
from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES

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
    by_line: dict[int, Closest]
    within: float = BY_LINE
    """To what the gaps by line were found, mm, where a tenth of the gap is not more."""
    short: bool = False
    """Whether the overall closest approach is nearer than its piece needs."""


def closest_approach(job: Job, *, side: Side, cutter: Cutter, moves: MoveTable) -> Closest | None:
    """The nearest approach of moves in the program frame of a face to any piece grown by its
    drift, within 0.001 mm and never below the truth; None without moves or pieces. Moves that
    start where nothing is known count from their end on."""
    obstacles = checked_obstacles(job, side)
    tool = tool_of(cutter, job.machine.nut)
    return _overall(judged_moves(moves), tool, obstacles, frame_of(job, side))


def approach(table: MoveTable, tool: Tool, obstacles: Obstacles, frame: Frame) -> Approach:
    """Least gaps to the grown pieces, never below the truth: overall within 0.001 mm, by line
    within 0.1 mm or a tenth of the gap."""
    if not len(table):
        return Approach(closest=None, by_line={})
    lines, group = np.unique(table.line, return_inverse=True)
    near_enough = max(NEAR, float(obstacles.needs.max(initial=0.0)) + 1.0)
    best = Best.of(np.full(len(lines), near_enough), within=BY_LINE, share=BY_LINE)
    best = obstacles.closest(table, tool, group, best)
    near = _closest(best, np.flatnonzero(best.found), table, tool, obstacles, frame)
    overall = _overall(table, tool, obstacles, frame)
    by_line = {each.line: each for each in near}
    if overall is not None and overall.line in by_line:
        by_line[overall.line] = overall
    needs = dict(zip((owner.name for owner in obstacles.owners), obstacles.needs, strict=True))
    short = overall is not None and bool(overall.gap < needs[overall.piece] - TOLERANCES.judge)
    return Approach(closest=overall, by_line=by_line, within=best.reached, short=short)


def _overall(table: MoveTable, tool: Tool, obstacles: Obstacles, frame: Frame) -> Closest | None:
    """The nearest approach of all moves: first of those near enough to be of interest."""
    everything = np.zeros(len(table), dtype=np.intp)
    for limit in (NEAR, np.inf):
        best = obstacles.closest(table, tool, everything, Best.of(np.array([limit])))
        if best.found[0]:
            return _closest(best, np.flatnonzero(best.found), table, tool, obstacles, frame)[0]
    return None


def _closest(
    best: Best,
    index: NDArray[np.intp],
    table: MoveTable,
    tool: Tool,
    obstacles: Obstacles,
    frame: Frame,
) -> list[Closest]:
    """What was found of the groups `index` (k,)."""
    tips = best.tip[index]
    parts = [body.part for body in tool.bodies]
    columns = zip(
        best.owner[index].tolist(),
        best.gap[index].tolist(),
        map(tuple, frame.to_blank(tips).tolist()),
        map(tuple, tips.tolist()),
        table.line[best.row[index]].tolist(),
        best.body[index].tolist(),
        strict=True,
    )
    return [
        Closest(
            piece=obstacles.owners[owner].name,
            gap=gap,
            at=at,
            at_program=at_program,
            line=line,
            part=parts[body],
        )
        for owner, gap, at, at_program, line, body in columns
    ]
