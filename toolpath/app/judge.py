"""Programs written, read back from the disk and judged, in cutting order."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.app.emit import Emitted
from toolpath.blank.frames import Frame
from toolpath.check.closest import closest_approach
from toolpath.check.may_cut import pieces_cut
from toolpath.check.replay import Judged, judge_program
from toolpath.check.report import Finding, Report, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import InternalError, ProgramError
from toolpath.job.model import Job
from toolpath.motion.clock import seconds
from toolpath.plan.result import PlannedCut
from toolpath.rs274.read import Program, read_program_file
from toolpath.show.scene import CutView, ProgramView


def judge_emitted(
    job: Job, emitted: Emitted, stock: Stock, first_cut: int
) -> tuple[ProgramView, Stock]:
    """Read a program back from the disk, judge it on the stock that is left, and look at it
    cut by cut. Returns the view and the stock after it."""
    plan = emitted.plan
    program, judged = _read_back(job, emitted, stock)
    lines = _lines_of_cuts(emitted, program.lines)
    cuts = tuple(
        _cut_view(job, planned, judged, program, lines[index], first_cut + index)
        for index, planned in enumerate(plan.cuts)
    )
    view = ProgramView(
        file=emitted.path.name,
        face=plan.face,
        cutter=plan.cutter,
        cuts=cuts,
        lines=program.lines,
        seconds=judged.report.seconds,
        report=judged.report,
        code=emitted.code,
    )
    return view, judged.stock or stock


def replayed(job: Job, emitted: Emitted, stock: Stock) -> tuple[Report, Stock]:
    """What a program that was judged before does to another stock."""
    _, judged = _read_back(job, emitted, stock)
    return judged.report, judged.stock or stock


def _read_back(job: Job, emitted: Emitted, stock: Stock) -> tuple[Program, Judged]:
    plan = emitted.plan
    try:
        program = read_program_file(emitted.path, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
        judged = judge_program(
            job, side=plan.face, cutter=plan.cutter, program=program, stock=stock
        )
    except ProgramError as error:
        raise InternalError(f"{emitted.path.name}, as written: {error}") from error
    return program, judged


def _lines_of_cuts(emitted: Emitted, last: int) -> list[tuple[int, int]]:
    """First and last line of each cut; the head goes to the first cut, the end to the last."""
    starts = [first for first, _ in emitted.written.section_lines]
    starts[0] = 0
    return list(zip(starts, [start - 1 for start in starts[1:]] + [last], strict=True))


def _cut_view(
    job: Job,
    planned: PlannedCut,
    judged: Judged,
    program: Program,
    lines: tuple[int, int],
    number: int,
) -> CutView:
    first, last = lines
    rows: NDArray[np.bool_] = (program.moves.line >= first) & (program.moves.line <= last)
    moves = program.moves.take(rows)
    findings = tuple(f for f in judged.report.findings if first <= f.line <= last)
    spent = seconds(moves, rapid=job.machine.rapid, acceleration=job.machine.acceleration)
    cut = planned.cut
    return CutView(
        number=number,
        planned=planned,
        moves=Frame.of(job, cut.face).table_to_page(moves),
        verdict=_verdict(findings),
        closest=closest_approach(job, side=cut.face, cutter=planned.cutter, moves=moves),
        findings=findings,
        seconds=float(np.nansum(spent)),
        pieces_cut=pieces_cut(job, side=cut.face, cutter=planned.cutter, moves=moves)
        if judged.report.pieces_cut
        else (),
    )


def _verdict(findings: tuple[Finding, ...]) -> Verdict:
    return Verdict.REFUSED if any(f.refuses for f in findings) else Verdict.CLEAR
