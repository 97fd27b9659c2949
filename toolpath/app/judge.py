"""Programs written, read back from the disk and judged.

What a program does beside the pieces asks nothing of the stock, so it may be looked at in another
process while the programs before it are replayed; both halves judge the one text that was read.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.app.emit import Emitted
from toolpath.blank.frames import Frame
from toolpath.check.closest import closest_approach
from toolpath.check.may_cut import pieces_cut
from toolpath.check.replay import (
    BesidePieces,
    InStock,
    judge_beside_pieces,
    judge_in_stock,
    judge_program,
    judged_in_all,
)
from toolpath.check.report import Closest, Finding, PieceCut, Report, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import InternalError, ProgramError
from toolpath.job.model import Job
from toolpath.motion.clock import seconds
from toolpath.motion.moves import MoveTable
from toolpath.plan.result import PlannedCut
from toolpath.rs274.read import Program, read_program_file
from toolpath.show.scene import CutView, ProgramView


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadBack:
    """A program as it was read back from the disk, and the job of its face."""

    job: Job
    emitted: Emitted
    program: Program


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutBeside:
    """What a cut was found to do whatever is left of the blank; moves in the program frame."""

    moves: MoveTable
    closest: Closest | None
    pieces_cut: tuple[PieceCut, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beside:
    """What a program was found to do whatever is left of the blank, as a whole and cut by cut."""

    whole: BesidePieces
    cuts: tuple[CutBeside, ...]


def read_back(job: Job, emitted: Emitted) -> ReadBack:
    """Read a program from the disk; what cannot be read of it is our defect."""
    with _as_written(emitted):
        program = read_program_file(emitted.path, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
    return ReadBack(job=job, emitted=emitted, program=program)


def judge_beside(read: ReadBack) -> Beside:
    """What a program does beside the pieces, whatever is left of the blank."""
    plan, program = read.emitted.plan, read.program
    with _as_written(read.emitted):
        whole = judge_beside_pieces(read.job, side=plan.face, cutter=plan.cutter, program=program)
    cuts = tuple(
        _cut_beside(read, planned, whole, lines)
        for planned, lines in zip(plan.cuts, _lines_of_cuts(read), strict=True)
    )
    return Beside(whole=whole, cuts=cuts)


def replay(read: ReadBack, stock: Stock) -> InStock:
    """What a program does on the stock that is left; the answer has the stock after it."""
    plan = read.emitted.plan
    with _as_written(read.emitted):
        return judge_in_stock(
            read.job, side=plan.face, cutter=plan.cutter, program=read.program, stock=stock
        )


def program_view(read: ReadBack, beside: Beside, done: InStock, first_cut: int) -> ProgramView:
    """A program and its cuts, from what was found beside the pieces and in the stock."""
    plan, program = read.emitted.plan, read.program
    report = judged_in_all(read.job, program, beside.whole, done).report
    cuts = tuple(
        _cut_view(read.job, planned, report, each, (lines, first_cut + index))
        for index, (planned, each, lines) in enumerate(
            zip(plan.cuts, beside.cuts, _lines_of_cuts(read), strict=True)
        )
    )
    return ProgramView(
        file=read.emitted.path.name,
        face=plan.face,
        cutter=plan.cutter,
        cuts=cuts,
        lines=program.lines,
        seconds=report.seconds,
        report=report,
        code=read.emitted.code,
    )


def replayed(read: ReadBack, stock: Stock) -> tuple[Report, Stock]:
    """What a program that was judged before does to another stock, all of it looked at anew."""
    plan = read.emitted.plan
    with _as_written(read.emitted):
        judged = judge_program(
            read.job, side=plan.face, cutter=plan.cutter, program=read.program, stock=stock
        )
    return judged.report, judged.stock or stock


@contextmanager
def _as_written(emitted: Emitted) -> Iterator[None]:
    try:
        yield
    except ProgramError as error:
        raise InternalError(f"{emitted.path.name}, as written: {error}") from error


def _lines_of_cuts(read: ReadBack) -> list[tuple[int, int]]:
    """First and last line of each cut; the head goes to the first cut, the end to the last."""
    starts = [first for first, _ in read.emitted.written.section_lines]
    starts[0] = 0
    ends = [*(start - 1 for start in starts[1:]), read.program.lines]
    return list(zip(starts, ends, strict=True))


def _cut_beside(
    read: ReadBack, planned: PlannedCut, whole: BesidePieces, lines: tuple[int, int]
) -> CutBeside:
    job, table, (first, last) = read.job, read.program.moves, lines
    rows: NDArray[np.bool_] = (table.line >= first) & (table.line <= last)
    moves, side, cutter = table.take(rows), planned.cut.face, planned.cutter
    cut = pieces_cut(job, side=side, cutter=cutter, moves=moves) if whole.pieces_cut else ()
    return CutBeside(
        moves=moves,
        closest=_closest_in(read, planned, whole, lines),
        pieces_cut=cut,
    )


def _closest_in(
    read: ReadBack, planned: PlannedCut, whole: BesidePieces, lines: tuple[int, int]
) -> Closest | None:
    """The closest approach of the lines of a cut; that of the program where it is in them."""
    (first, last), nearest = lines, whole.nearest
    if nearest.closest is not None and first <= nearest.closest.line <= last:
        return nearest.closest
    table = read.program.moves
    return closest_approach(
        read.job,
        side=planned.cut.face,
        cutter=planned.cutter,
        moves=table.take((table.line >= first) & (table.line <= last)),
        known=nearest.within_lines(first, last),
    )


def _cut_view(
    job: Job,
    planned: PlannedCut,
    report: Report,
    beside: CutBeside,
    place: tuple[tuple[int, int], int],
) -> CutView:
    """`place`: the cut's first and last line, and its number."""
    (first, last), number = place
    findings = tuple(f for f in report.findings if first <= f.line <= last)
    moves, machine = beside.moves, job.machine
    spent = seconds(moves, rapid=machine.rapid, acceleration=machine.acceleration)
    return CutView(
        number=number,
        planned=planned,
        moves=Frame.of(job, planned.cut.face).table_to_page(moves),
        verdict=_verdict(findings),
        closest=beside.closest,
        findings=findings,
        seconds=float(np.nansum(spent)),
        pieces_cut=beside.pieces_cut,
    )


def _verdict(findings: tuple[Finding, ...]) -> Verdict:
    return Verdict.REFUSED if any(f.refuses for f in findings) else Verdict.CLEAR
