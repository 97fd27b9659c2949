"""What a maker reads about a breach: where, which part, how near, and what would clear it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.check.gap import tool_of
from toolpath.check.judge import SEARCH
from toolpath.check.mend import Scene as Scene
from toolpath.check.mend import clear_depth, clear_diameter, deepest_place
from toolpath.check.obstacles import Breaches
from toolpath.check.report import Code, Finding, Part, Point
from toolpath.motion.moves import Kind, MoveTable
from toolpath.units import Unit, show_left, show_mm, show_needed

FloatArray = NDArray[np.float64]

_MENDS = 12
"""Findings for which a mend is worked out: the worst ones; nobody mends more before a new run."""
_PART_WORDS = {
    Part.FLUTES: "the flutes",
    Part.NECK: "the neck",
    Part.SHANK: "the shank",
    Part.NUT: "the nut",
    Part.SHOE: "the dust shoe",
}
_PARTS = tuple(Part)


def point(values: FloatArray) -> Point:
    """A plain (x, y, z)."""
    return float(values[0]), float(values[1]), float(values[2])


def place_words(at: FloatArray, at_program: FloatArray, unit: Unit) -> str:
    """A place in words, in the job's unit: where on the drawing, and where in the program, with
    the numbers as they stand there."""
    x, y, _ = (float(v) / unit.mm for v in at)
    decimals = 3 if unit is Unit.MM else 4
    px, py, pz = (f"{round(float(v) / unit.mm, decimals) + 0.0:.{decimals}f}" for v in at_program)
    z = float(at_program[2])
    height = f"depth {show_mm(-z, unit)}" if z <= 0.0 else f"{show_mm(z, unit)} above the face"
    return (
        f"at x {x:.{decimals - 1}f}, y {y:.{decimals - 1}f}, {height} (program X{px} Y{py} Z{pz})"
    )


def line_words(first: int, last: int) -> str:
    """Lines in words, empty for none."""
    if not last:
        return ""
    return f", line {first}" if first == last else f", lines {first} to {last}"


def stretches(table: MoveTable) -> NDArray[np.intp]:
    """(n,) a number for each move that grows with every rapid that starts above the face, so that
    what is cut between two lifts, the lift after it included, has one number."""
    return np.cumsum((table.kind == Kind.RAPID) & (table.start[:, 2] > 0.0))


def breach_findings(scene: Scene, breaches: Breaches) -> list[Finding]:
    """One finding for each piece, part of the cutter and stretch of moves between two lifts
    above the face: its worst place. Worst first."""
    table = scene.table
    stretch = stretches(table)[breaches.row]
    bodies = tool_of(scene.cutter, scene.nut).bodies
    part = np.array([_PARTS.index(body.part) for body in bodies], dtype=np.intp)[breaches.body]
    keys = np.stack([breaches.owner, part, stretch], axis=1)
    order = np.lexsort((breaches.row, breaches.gap))
    worst: dict[tuple[int, ...], list[int]] = {}
    for index in order.tolist():
        worst.setdefault(tuple(keys[index].tolist()), []).append(index)
    return [
        _finding(scene, breaches, np.array(members), mend=number < _MENDS)
        for number, members in enumerate(worst.values())
    ]


def _finding(scene: Scene, breaches: Breaches, members: NDArray[np.int64], mend: bool) -> Finding:
    index = int(members[0])
    here = breaches.row[members]
    lines = scene.table.line[here]
    if mend:
        breaches, index = _exactly(scene, breaches, index), 0
    owner = scene.obstacles.owners[int(breaches.owner[index])]
    part = tool_of(scene.cutter, scene.nut).bodies[int(breaches.body[index])].part
    tip, gap, row = breaches.tip[index], float(breaches.gap[index]), int(breaches.row[index])
    if mend and gap <= 0.0:
        row, tip = deepest_place(scene, np.unique(here), int(breaches.owner[index])) or (row, tip)
    at = scene.frame.to_blank(tip)
    what = "clamp " if owner.code is Code.CLAMP else ""
    rapid = " of a rapid" if scene.table.kind[row] == Kind.RAPID else ""
    near = "touch it" if gap <= 0.0 else f"come to {show_left(gap, scene.unit)} of it"
    if part is not Part.FLUTES:
        near = "touches it" if gap <= 0.0 else f"comes to {show_left(gap, scene.unit)} of it"
    rows = np.unique(here)
    depth = clear_depth(scene, rows) if mend else None
    return Finding(
        code=owner.code,
        message=(
            f'{what}"{owner.name}": {_PART_WORDS[part]}{rapid} {near}, '
            f"{show_needed(owner.need, scene.unit)} are needed, {place_words(at, tip, scene.unit)}"
            f"{line_words(int(lines.min()), int(lines.max()))}"
        ),
        line=int(scene.table.line[row]),
        piece=owner.name,
        part=part,
        at=point(at),
        at_program=point(tip),
        gap=gap,
        needed=owner.need,
        mend=_mend(scene, rows, part, depth, owner.code) if mend else "",
        clear_depth=depth,
    )


def _exactly(scene: Scene, breaches: Breaches, index: int) -> Breaches:
    """One breach with its least gap found to the last."""
    row, owner = int(breaches.row[index]), int(breaches.owner[index])
    alone = scene.table.take(np.array([row]))
    tool = tool_of(scene.cutter, scene.nut)
    again = scene.obstacles.breaches(alone, tool, within=SEARCH)
    mine = np.flatnonzero(again.owner == owner)
    return Breaches(
        row=np.array([row]),
        owner=again.owner[mine],
        body=again.body[mine],
        gap=again.gap[mine],
        tip=again.tip[mine],
    )


def _mend(scene: Scene, rows: NDArray[np.intp], part: Part, depth: float | None, code: Code) -> str:
    ways = []
    if depth is not None:
        ways.append(f"raise the floor here to a depth of {show_mm(depth, scene.unit)}")
    if part is Part.FLUTES:
        diameter = clear_diameter(scene, rows)
        if diameter is not None:
            ways.append(
                f"follow this path with a cutter of at most {show_mm(diameter, scene.unit)}"
            )
    else:
        ways.append("use a cutter that sticks out further")
        ways += ["raise the dust shoe"] if part is Part.SHOE else []
    ways.append("move the clamp" if code is Code.CLAMP else "keep the cut away from this place")
    return " or ".join(ways)
