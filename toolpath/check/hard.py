"""Hard pieces that may be cut: whether a program goes into one that its cut does not name."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.areas import grown, hard_areas
from toolpath.check.chords import SAGITTA, chords_of
from toolpath.check.gap import Body, Tool, tool_of
from toolpath.check.judge import EQUAL
from toolpath.check.mend import Scene, clear_depth
from toolpath.check.obstacles import Breaches, Obstacles, standing_at
from toolpath.check.report import Code, Finding, Part
from toolpath.check.stock import program_area
from toolpath.check.words import line_words, place_words, point, stretches
from toolpath.job.model import HARD, Cutter, Job, Piece, Rule, Side
from toolpath.motion.moves import Arcs, Kind, MoveTable
from toolpath.units import show_mm

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_TOUCH = SAGITTA + 2.0 * EQUAL
"""What comes nearer than this touches, mm: arcs are looked at as chords. Errs to refusing."""
_MENDS = 12
"""Findings for which a clear depth is worked out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Touch:
    """A move `row` of the program that touches a piece with its tip at `tip` (3,)."""

    row: int
    piece: int
    part: Part
    tip: FloatArray


def hard_pieces(job: Job) -> tuple[Piece, ...]:
    """The pieces that may be cut but are hard."""
    return tuple(p for p in job.pieces if p.rule is Rule.MAY_CUT and p.hardness in HARD)


def hard_findings(job: Job, side: Side, scene: Scene) -> list[Finding]:
    """One finding for each hard piece, part of the cutter and stretch of moves between two lifts:
    the deepest place of those where it touches the piece, grown by its drift, anywhere but with
    its whole width inside a cut of the job that allows it, grown by a cell.

    Errs to refusing: by 0.001 mm, and where a cutter touches inside such a cut but stands out of
    it elsewhere.
    """
    pieces = hard_pieces(job)
    if not pieces:
        return []
    zone = program_area(scene.frame, grown(hard_areas(job, side), job.check.cell))
    inside = replace(scene, obstacles=_obstacles(job, side, pieces))
    touches = [
        touch
        for body in tool_of(scene.cutter, scene.nut).bodies
        for touch in _touches(inside, body, zone)
    ]
    return _findings(inside, pieces, touches)


def _obstacles(job: Job, side: Side, pieces: tuple[Piece, ...]) -> Obstacles:
    """Hard pieces as obstacles that must not be touched."""
    kept = tuple(replace(piece, rule=Rule.KEEP) for piece in pieces)
    made = Obstacles.of(replace(job, pieces=kept, clamps=()), side)
    return replace(made, owners=tuple(replace(owner, need=_TOUCH) for owner in made.owners))


def _touches(scene: Scene, body: Body, zone: BaseGeometry) -> list[_Touch]:
    tool, moves = Tool(bodies=(body,)), scene.table
    found = scene.obstacles.breaches(moves, tool)
    of_row = np.arange(len(moves))
    if not zone.is_empty and len(found.row):
        rows = np.unique(found.row)
        moves, of_part = _outside(moves.take(rows), scene.cutter, zone.buffer(-body.r_full))
        of_row = rows[of_part]
        found = scene.obstacles.breaches(moves, tool)
    tips = _deepest(scene.obstacles, moves, tool, found)
    return [
        _Touch(row=int(row), piece=int(owner), part=body.part, tip=tip)
        for row, owner, tip in zip(of_row[found.row], found.owner, tips, strict=True)
    ]


def _deepest(obstacles: Obstacles, moves: MoveTable, tool: Tool, found: Breaches) -> FloatArray:
    """(k, 3) of each breach the lower end of its move, where that touches the same piece."""
    start, end = moves.start[found.row], moves.end[found.row]
    lower = np.where((start[:, 2] < end[:, 2])[:, None], start, end)
    there = obstacles.breaches(standing_at(lower), tool)
    touching = set(zip(there.row.tolist(), there.owner.tolist(), strict=True))
    same = [pair in touching for pair in enumerate(found.owner.tolist())]
    return np.where(np.array(same, dtype=np.bool_)[:, None], lower, found.tip)


def _outside(table: MoveTable, cutter: Cutter, allowed: BaseGeometry) -> tuple[MoveTable, IntArray]:
    """What of moves lies outside an area in plan, feeds as chords, and the row that each part
    is of. Rapids stay whole unless the area holds them with all of their box."""
    shapely.prepare(allowed)
    chords = chords_of(table, cutter, SAGITTA)
    start, end, row = _cut_short(chords.start, chords.end, chords.row, allowed)
    low, high = np.minimum(table.start, table.end), np.maximum(table.start, table.end)
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    flat = (low[:, :2] == high[:, :2]).any(axis=1)
    lines = shapely.linestrings(np.stack([low[:, :2], high[:, :2]], axis=1))
    held = np.where(flat, shapely.covers(allowed, lines), shapely.covers(allowed, boxes))
    held |= shapely.intersects_xy(allowed, *low[:, :2].T) & (low[:, :2] == high[:, :2]).all(axis=1)
    rapid = np.flatnonzero((table.kind == Kind.RAPID) & ~held)
    every = np.concatenate([rapid, row])
    kind = np.where(np.arange(len(every)) < len(rapid), Kind.RAPID, Kind.LINE)
    parts = replace(
        table.take(every),
        kind=kind.astype(np.int8),
        start=np.concatenate([table.start[rapid], start]),
        end=np.concatenate([table.end[rapid], end]),
        arcs=Arcs.none(),
    )
    return parts, every


def _cut_short(
    start: FloatArray, end: FloatArray, row: IntArray, allowed: BaseGeometry
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Segments (n, 3) less what of them lies inside an area in plan."""
    along = end[:, :2] - start[:, :2]
    square = np.einsum("ij,ij->i", along, along)
    still = square <= EQUAL**2
    lines = np.asarray(shapely.linestrings(np.stack([start[:, :2], end[:, :2]], axis=1)))
    free = np.where(still, ~shapely.intersects_xy(allowed, *end[:, :2].T), False)
    free |= ~still & shapely.disjoint(allowed, lines)
    crossing = np.flatnonzero(~free & ~still & ~shapely.covers(allowed, lines))
    rest = shapely.difference(lines[crossing], allowed)
    parts, of = shapely.get_parts(rest, return_index=True)
    some = ~shapely.is_empty(parts)
    ends = np.stack([shapely.get_coordinates(parts[some])[i::2] for i in (0, 1)], axis=1)
    index = crossing[of[some]]
    share = np.einsum("kei,ki->ke", ends - start[index, None, :2], along[index])
    share = share / square[index, None]
    cut = start[index, None] + (end - start)[index, None] * share[..., None]
    whole = np.flatnonzero(free)
    return (
        np.concatenate([start[whole], cut[:, 0]]),
        np.concatenate([end[whole], cut[:, 1]]),
        np.concatenate([row[whole], row[index]]),
    )


def _findings(scene: Scene, pieces: tuple[Piece, ...], touches: list[_Touch]) -> list[Finding]:
    stretch = stretches(scene.table)
    groups: dict[tuple[int, str, int], list[_Touch]] = {}
    for touch in touches:
        key = (touch.piece, touch.part.value, int(stretch[touch.row]))
        groups.setdefault(key, []).append(touch)
    return [
        _finding(scene, pieces[key[0]], group, mend=number < _MENDS)
        for number, (key, group) in enumerate(groups.items())
    ]


def _finding(scene: Scene, piece: Piece, touches: list[_Touch], *, mend: bool) -> Finding:
    worst = min(touches, key=lambda touch: float(touch.tip[2]))
    rows = np.unique([touch.row for touch in touches])
    lines = scene.table.line[rows]
    at = scene.frame.to_blank(worst.tip)
    part = "the flutes go" if worst.part is Part.FLUTES else f"the {worst.part.value} goes"
    depth = clear_depth(scene, rows) if mend else None
    less = "cut less deep"
    if depth is not None:
        less = f"cut no deeper than {show_mm(depth, scene.unit)} here"
    return Finding(
        code=Code.HARD_PIECE,
        message=(
            f'{piece.hardness.value} piece "{piece.name}" may be cut but is hard: {part} into it '
            f"{place_words(at, worst.tip, scene.unit)}"
            f"{line_words(int(lines.min()), int(lines.max()))}"
        ),
        line=int(scene.table.line[worst.row]),
        piece=piece.name,
        part=worst.part,
        at=point(at),
        at_program=point(worst.tip),
        gap=0.0,
        mend=f"say through_hard = true on the cut, {less}, or keep the cut away from this place",
        clear_depth=depth,
    )
