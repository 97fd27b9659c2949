"""The check of one program: what was read from its text, judged move by move."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from toolpath.check.against import overcut_notes, uncut_notes
from toolpath.check.begun import begun_below
from toolpath.check.bites import bites_of, engaged, stepdown_notes
from toolpath.check.chords import Feeds
from toolpath.check.closest import BY_LINE, Approach, approach
from toolpath.check.cover import cover_findings
from toolpath.check.entering import Replay, entering
from toolpath.check.floors import floor_findings
from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.grid import checked_obstacles
from toolpath.check.hard import hard_findings
from toolpath.check.limits import in_air, notes, straight_plunges, travel_findings
from toolpath.check.may_cut import cut_notes, pieces_cut
from toolpath.check.report import Bounds, Code, Engaged, Finding, PieceCut, Report, Verdict
from toolpath.check.stock import Stock, writable
from toolpath.check.tabs import tab_findings
from toolpath.check.through import Cutting, break_through
from toolpath.check.unknown import judged_moves, note, unknown_notes
from toolpath.check.walls import wall_findings
from toolpath.check.words import Scene, breach_findings, line_words, point
from toolpath.errors import InternalError
from toolpath.job.model import Cutter, Job, Rule, Side
from toolpath.motion.clock import seconds
from toolpath.motion.moves import Kind, MoveTable
from toolpath.rs274.read import Program
from toolpath.tolerances import TOLERANCES

_PLUNGES = 200
"""Straight plunges looked at for stock: they only make a note."""
_LOOKS = (
    break_through,
    floor_findings,
    wall_findings,
    cover_findings,
    tab_findings,
    overcut_notes,
    uncut_notes,
)
"""What is asked of the stock before a program, the stock after it, and the program."""
_WORST_FIRST = {code: place for place, code in enumerate(Code)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """The answer to a program, and the stock that it leaves; None where none was given."""

    report: Report
    stock: Stock | None


def judge_program(
    job: Job,
    *,
    side: Side,
    cutter: Cutter,
    program: Program,
    stock: Stock | None,
) -> Judged:
    """Judge a program of a face: pieces, clamps, travel and, where the stock is known, rapids,
    shank and nut in stock and break-through. Pieces that may be cut block nothing, but hard ones
    refuse where they are touched.

    Parameters
    ----------
    program
        In the program frame of `side`, as read from the emitted text.
    stock
        What is left of the blank before it; it is not changed. None: not known, which is noted:
        rapids, shank and nut in stock are then notes, as found in a whole blank, while
        break-through still refuses, since earlier cuts only take more away. A program that stays
        above the face, a rehearsal, says nothing of it, nor of feeds with the spindle off.

    Raises ProgramError for a feed move that cannot be judged, InternalError where the check's
    solids and the planner's height fields disagree.
    """
    way = _way(job, program)
    asked = _Asked.of(job, side, cutter, program)
    return judged_in_all(job, program, _beside_pieces(asked, way), _in_stock(asked, stock))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asked:
    """A program that is asked about, and those of its moves that can be judged."""

    job: Job
    side: Side
    cutter: Cutter
    program: Program
    table: MoveTable

    @classmethod
    def of(cls, job: Job, side: Side, cutter: Cutter, program: Program) -> _Asked:
        table = judged_moves(program.moves)
        return cls(job=job, side=side, cutter=cutter, program=program, table=table)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """How far the tip goes in feed moves and in rapids, mm, and how long all of it takes, s."""

    feed: float
    rapid: float
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BesidePieces:
    """What a program was found to do whatever is left of the blank."""

    found: list[Finding]
    nearest: Approach
    pieces_cut: tuple[PieceCut, ...]
    bounds: Bounds | None
    """Of the tip in all feed moves."""
    way: Way


def judge_beside_pieces(job: Job, *, side: Side, cutter: Cutter, program: Program) -> BesidePieces:
    """The half of `judge_program` that asks nothing of the stock, so that programs can be looked at
    in any order. Raises as that does."""
    return _beside_pieces(_Asked.of(job, side, cutter, program), _way(job, program))


def _beside_pieces(asked: _Asked, way: Way) -> BesidePieces:
    job, side, cutter, program = asked.job, asked.side, asked.cutter, asked.program
    table, frame = asked.table, frame_of(job, side)
    obstacles = checked_obstacles(job, side).wider(program.chord_error)
    scene = Scene(
        table=table,
        obstacles=obstacles,
        frame=frame,
        cutter=cutter,
        nut=job.machine.nut,
        unit=job.unit,
    )
    tool = tool_of(cutter, job.machine.nut)
    breaches = breach_findings(scene, obstacles.breaches(table, tool))
    nearest = approach(table, tool, obstacles, frame)
    _agree(breaches, nearest)
    found = [*breaches, *travel_findings(job, program.moves), *notes(job, cutter, program, side)]
    found += unknown_notes(program.moves)
    found += hard_findings(job, side, scene)
    cut = pieces_cut(job, side=side, cutter=cutter, moves=program.moves)
    return BesidePieces(
        found=found + cut_notes(job, cut),
        nearest=nearest,
        pieces_cut=cut,
        bounds=_bounds(program.moves),
        way=way,
    )


def judge_in_stock(
    job: Job, *, side: Side, cutter: Cutter, program: Program, stock: Stock | None
) -> InStock:
    """The other half of `judge_program`: what a program does in its stock. Raises as that does."""
    return _in_stock(_Asked.of(job, side, cutter, program), stock)


def _in_stock(asked: _Asked, stock: Stock | None) -> InStock:
    done = _replay(asked, stock or Stock.fresh(asked.job))
    known = stock is not None or in_air(asked.program.moves)
    found = done.found if known else _supposed(done.found)
    return replace(done, found=found, left=done.left if stock is not None else None)


def judged_in_all(job: Job, program: Program, beside: BesidePieces, done: InStock) -> Judged:
    """The answer to a program from its two halves."""
    report = _report(job, program, beside, done)
    return Judged(report=report, stock=done.left)


def judge_rehearsal(
    job: Job, *, side: Side, cutter: Cutter, program: Program
) -> tuple[Finding, ...]:
    """What refuses a program that stays above the face: pieces, clamps, travel. It meets no stock.

    Raises ProgramError for a feed move that cannot be judged, InternalError for a program that
    goes below the face.
    """
    if not in_air(program.moves):
        raise InternalError("a rehearsal that goes below the face")
    table = judged_moves(program.moves)
    obstacles = checked_obstacles(job, side).wider(program.chord_error)
    scene = Scene(
        table=table,
        obstacles=obstacles,
        frame=frame_of(job, side),
        cutter=cutter,
        nut=job.machine.nut,
        unit=job.unit,
    )
    breaches = obstacles.breaches(table, tool_of(cutter, job.machine.nut))
    found = [*breach_findings(scene, breaches), *travel_findings(job, program.moves)]
    return tuple(finding for finding in found if finding.refuses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InStock:
    """What a program does in its stock, the stock after it (None where none was given), and how
    wide it was engaged."""

    left: Stock | None
    found: list[Finding] = field(default_factory=list)
    engaged: Engaged | None = None


def _replay(asked: _Asked, stock: Stock) -> InStock:
    job, side, table, cutter = asked.job, asked.side, asked.table, asked.cutter
    if not any(bool((ends[:, 2] < 0.0).any()) for ends in (table.start, table.end)):
        return InStock(left=stock)  # all of it in the air
    frame, feeds = frame_of(job, side), Feeds.of(table, cutter)
    replay = Replay(
        stock=stock,
        face=writable(stock.faces[side]),
        feeds=feeds,
        nut=job.machine.nut,
        frame=frame,
        unit=job.unit,
        begun=begun_below(job, side, cutter),
    )
    plunges = straight_plunges(table, cutter)[:_PLUNGES].tolist()
    found, sunk = entering(replay, plunges)
    found += _plunge_notes(table, sunk)
    left = stock.with_face(side, replace(replay.face, cut=(*replay.face.cut, feeds)))
    cutting = Cutting(job=job, side=side, feeds=feeds, frame=frame)
    for look in _LOOKS:
        found += look(stock, left, cutting)
    bites = bites_of(stock, side, replay.coarse, frame, job)
    found += stepdown_notes(bites, frame, job)
    return InStock(left=left, found=found, engaged=engaged(bites, frame))


def _plunge_notes(table: MoveTable, rows: list[int]) -> list[Finding]:
    if not rows:
        return []
    lines = table.line[rows]
    where = line_words(int(lines.min()), int(lines.max()))
    plunges = "1 straight plunge" if len(rows) == 1 else f"{len(rows)} straight plunges"
    text = f"{plunges} into stock with a cutter that is no drill{where}"
    return [note(text, int(lines[0]))]


def _supposed(found: list[Finding]) -> list[Finding]:
    """What was found in a whole blank, where nobody said what was cut before: only what no
    earlier cut could have changed still refuses."""
    unknown = note(
        "what was cut before is not known (--after or --uncut says it): rapids, shank and nut in "
        "stock are notes, looked for in a whole blank"
    )
    return [unknown, *(_softened(each) for each in found)]


def _softened(finding: Finding) -> Finding:
    if finding.code in (Code.BREAK_THROUGH, Code.FLOOR, Code.TAB):
        return finding
    return replace(finding, refuses=False)


def _agree(breaches: list[Finding], nearest: Approach) -> None:
    """Both searches looked at the same moves: the closest approach must know every breach, and a
    closest approach that is too near must be a breach."""
    for each in breaches:
        if each.code is not Code.PIECE or each.gap is None:
            continue
        known = nearest.by_line.get(each.line)
        if known is None or known.gap - _untold(nearest, known.gap) > each.gap:
            raise InternalError(
                f'two searches disagree about how near line {each.line} comes to "{each.piece}"'
            )
    if nearest.short and not breaches:
        raise InternalError("two searches disagree: one of them found nothing too near")


def _untold(nearest: Approach, gap: float) -> float:
    """By how much less than the gap told of a line, mm, its least gap may be."""
    return max(nearest.within, BY_LINE * gap) + TOLERANCES.judge


def _report(job: Job, program: Program, beside: BesidePieces, done: InStock) -> Report:
    table = program.moves
    ordered = sorted(
        [*beside.found, *done.found],
        key=lambda f: (_WORST_FIRST[f.code], f.gap if f.gap is not None else 0.0, f.line),
    )
    refused = any(finding.refuses for finding in ordered)
    return Report(
        verdict=Verdict.REFUSED if refused else Verdict.CLEAR,
        findings=tuple(ordered),
        closest=beside.nearest.closest,
        closest_by_line=beside.nearest.by_line,
        bounds=beside.bounds,
        feed_length=beside.way.feed,
        rapid_length=beside.way.rapid,
        arcs=int((table.kind == Kind.ARC).sum()) + program.arcs_in_chords,
        moves=len(table) - program.chords + program.arcs_in_chords,
        seconds=beside.way.seconds + program.dwell_seconds,
        pieces_checked=sum(piece.rule is Rule.KEEP for piece in job.pieces),
        pieces_cut=beside.pieces_cut,
        engaged=done.engaged,
    )


def _way(job: Job, program: Program) -> Way:
    table, machine = program.moves, job.machine
    feeding = table.kind != Kind.RAPID
    spent = float(np.nansum(seconds(table, rapid=machine.rapid, acceleration=machine.acceleration)))
    lengths = np.nan_to_num(table.lengths(), copy=False)
    return Way(
        feed=float(lengths[feeding].sum()), rapid=float(lengths[~feeding].sum()), seconds=spent
    )


def _bounds(table: MoveTable) -> Bounds | None:
    """Those of the tip in all feed moves."""
    feeds = (part.take(part.kind != Kind.RAPID) for part in table.parts())
    found = [each.bounds() for each in feeds if len(each)]
    if not found:
        return None
    low, high = np.fmin.reduce(found)[0], np.fmax.reduce(found)[1]
    return point(low), point(high)
