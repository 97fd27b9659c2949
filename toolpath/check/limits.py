"""Travel, which refuses, and what is only noted: feeds, speeds, plunges, depth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.lying import thickness_up
from toolpath.check.frames import bounding_box, frame_of
from toolpath.check.report import Code, Finding
from toolpath.check.unknown import note
from toolpath.job.model import Cutter, Drill, Job, Shape, Side
from toolpath.motion.moves import Kind, MoveTable
from toolpath.rs274.read import Program
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

_FEED_SLACK = 0.01
"""Feeds may be over their limit by this, mm/min, for the rounding of their words."""


SPINDLE_OFF = "a feed move with the spindle off"
"""What the interpreter notes of a feed without spindle: meant so where nothing is cut."""


def in_air(table: MoveTable) -> bool:
    """Whether every place that a program names is above the face: a rehearsal cuts nothing."""
    heights = table.start[:, 2], table.end[:, 2]
    known = any(bool(np.isfinite(each).any()) for each in heights)
    return known and not any(bool((each <= 0.0).any()) for each in heights)


def travel_findings(job: Job, table: MoveTable) -> list[Finding]:
    """One finding for each axis on which the moves span more than the machine travels."""
    low, high = table.bounds()
    found = []
    for axis, least, most, travel in zip("XYZ", low, high, job.machine.travel, strict=True):
        span = most - least
        if span > travel + TOLERANCES.judge:
            found.append(
                Finding(
                    code=Code.TRAVEL,
                    message=(
                        f"{axis} goes from {show_mm(least, job.unit)} to "
                        f"{show_mm(most, job.unit)}: {show_mm(span, job.unit)}, "
                        f"the machine travels {show_mm(travel, job.unit)}"
                    ),
                    needed=None,
                    mend="look for a wrong number or unit; else turn the blank or use two set-ups",
                )
            )
    return found


def notes(job: Job, cutter: Cutter, program: Program, side: Side | None = None) -> list[Finding]:
    """What the maker should know of feeds and speeds and that changes nothing. `side` is the face
    that is up: holes for register pins may go as deep into the spoilboard as the job says."""
    table = program.moves
    feeding = table.kind != Kind.RAPID
    air = in_air(table)
    found = [
        note(each.message, each.line)
        for each in program.notes
        if not (air and each.message == SPINDLE_OFF)
    ]
    if cutter.chip == 0.0:  # else it may rise to keep the chip
        found += _over(table, feeding, cutter.feed, f'the feed of cutter "{cutter.name}"')
    found += _over(table, feeding, job.machine.feed_max, "the machine's greatest feed")
    low, high = job.machine.spindle
    for speed in program.speeds:
        if speed.rpm > 0.0 and not low <= speed.rpm <= high:
            text = f"spindle {speed.rpm:g} rev/min: the machine has {low:g} to {high:g}"
            found.append(note(text, speed.line))
        elif speed.rpm > 0.0 and abs(speed.rpm - cutter.rpm) > 0.5:
            text = f"spindle {speed.rpm:g} rev/min: the job has {cutter.rpm:g} for this cutter"
            found.append(note(text, speed.line))
    declared = _in_pin_holes(job, side, table) if side is not None else np.zeros_like(feeding)
    found += [] if air else _low_rapids(job, table)
    if side is not None:
        found += _off_the_blank(job, side, cutter, table)
    return found + _deep(job, table, feeding & ~declared, side)


def _off_the_blank(job: Job, side: Side, cutter: Cutter, table: MoveTable) -> list[Finding]:
    """A note where all that a program cuts below the face lies beside the blank."""
    x0, y0, x1, y1 = bounding_box(job.blank.outline.outer)
    corners = frame_of(job, side).to_program(np.array([[x0, y0, 0.0], [x1, y1, 0.0]]))[:, :2]
    bounds, line = [], 0
    for part in table.parts():  # some at once: a million moves are not held twice
        low = np.minimum(part.start[:, 2], part.end[:, 2]) < 0.0
        below = part.take((part.kind != Kind.RAPID) & low)
        if len(below):
            bounds.append(below.bounds()[:, :2])
            line = line or int(below.line[0])
    if not bounds:
        return []
    low, high = np.fmin.reduce(bounds)[0], np.fmax.reduce(bounds)[1]
    radius = cutter.diameter / 2.0
    beside = (low - radius > corners.max(axis=0)) | (high + radius < corners.min(axis=0))
    if not beside.any():
        return []
    text = (
        "no move below the face comes over the blank: look whether this is the face that is up, "
        "its zero, and the job that the program was written for"
    )
    return [note(text, line)]


def _over(table: MoveTable, feeding: NDArray[np.bool_], limit: float, what: str) -> list[Finding]:
    rows = np.flatnonzero(feeding & (table.feed > limit + _FEED_SLACK))
    if not rows.size:
        return []
    worst = float(table.feed[rows].max())
    text = f"{rows.size} moves feed faster than {what}: up to {worst:g} mm/min, limit {limit:g}"
    return [note(text, int(table.line[rows[0]]))]


def _deep(
    job: Job, table: MoveTable, feeding: NDArray[np.bool_], side: Side | None
) -> list[Finding]:
    """A note where feed moves go deeper than the spoilboard allows."""
    whole = job.blank.thickness if side is None else thickness_up(job, side)
    allowed = whole + job.blank.thickness_within + job.machine.spoilboard
    depth = np.where(feeding, -table.end[:, 2], -np.inf)
    deepest = int(np.nan_to_num(depth, nan=-np.inf).argmax()) if len(depth) else 0
    if not len(depth) or not depth[deepest] > allowed + TOLERANCES.judge:
        return []
    thinnest = whole - job.blank.thickness_within  # the tip then goes furthest
    into = float(depth[deepest]) - thinnest
    text = (
        f"{show_mm(float(depth[deepest]), job.unit)} deep: the tip goes up to "
        f"{show_mm(into, job.unit)} into the spoilboard, the job allows "
        f"{show_mm(job.machine.spoilboard, job.unit)}: have that much board under the blank"
    )
    return [note(text, int(table.line[deepest]), Code.SPOILBOARD)]


def _rapids(count: int) -> str:
    return "1 rapid crosses" if count == 1 else f"{count} rapids cross"


def _low_rapids(job: Job, table: MoveTable) -> list[Finding]:
    """A note where rapids cross above the face lower than the safe height."""
    low = np.minimum(table.start[:, 2], table.end[:, 2])
    across = (table.start[:, :2] != table.end[:, :2]).any(axis=1)
    rows = np.flatnonzero(
        (table.kind == Kind.RAPID)
        & across
        & (low >= 0.0)
        & (low < job.machine.safe_height - TOLERANCES.judge)
    )
    if not rows.size:
        return []
    lowest = float(low[rows].min())
    text = (
        f"{_rapids(rows.size)} the face at heights down to {show_mm(lowest, job.unit)}: the "
        f"job's safe height is {show_mm(job.machine.safe_height, job.unit)}"
    )
    return [note(text, int(table.line[rows[0]]), Code.LOW_RAPID)]


def _in_pin_holes(job: Job, side: Side, table: MoveTable) -> NDArray[np.bool_]:
    """Which moves end inside a hole for a register pin, no deeper than it is declared."""
    found = np.zeros(len(table), dtype=np.bool_)
    pins = [cut for cut in job.cuts if isinstance(cut, Drill) and cut.pins and cut.face is side]
    for cut in pins:
        at = frame_of(job, side).to_blank(table.end)[:, :2]
        off = at[:, None, :] - np.array(cut.at)
        radius = cut.diameter / 2.0 + job.check.cell
        near = (np.hypot(off[..., 0], off[..., 1]) <= radius).any(axis=1)
        deepest = cut.depth + max(tool.point_length for tool in cut.cutters)
        found |= near & (-table.end[:, 2] <= deepest + TOLERANCES.judge)
    return found


def straight_plunges(table: MoveTable, cutter: Cutter) -> NDArray[np.intp]:
    """Rows of feed moves that only go down, to below the face, with a cutter that is no drill."""
    down = table.end[:, 2] < table.start[:, 2]
    still = (table.start[:, :2] == table.end[:, :2]).all(axis=1)
    below = table.end[:, 2] < 0.0
    plunging = (table.kind == Kind.LINE) & down & still & below
    return np.flatnonzero(plunging if cutter.shape is not Shape.DRILL else np.zeros_like(plunging))
