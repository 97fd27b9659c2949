"""Programs written, read back from the disk and judged, in cutting order."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.frames import Frame
from toolpath.check.closest import closest_approach
from toolpath.check.replay import Judged, judge_program
from toolpath.check.report import Finding, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import InternalError, ProgramError
from toolpath.job.model import Job
from toolpath.motion.clock import seconds
from toolpath.plan.result import PlannedCut, ProgramPlan
from toolpath.rs274.read import Program, read_program_file
from toolpath.rs274.write import ProgramText, Section, Written, write_program
from toolpath.show.scene import CutView, ProgramView


@dataclass(frozen=True, slots=True, kw_only=True)
class Emitted:
    """A program as it lies on the disk; `number` counts in cutting order from 1."""

    plan: ProgramPlan
    number: int
    path: Path
    written: Written


def program_text(job: Job, plan: ProgramPlan, number: int, clear_height: float) -> Written:
    """The text of a program, in the program frame of its face."""
    frame = Frame.of(job, plan.face)
    machine = job.machine
    title = (
        job.name,
        f"Program {number:02d}, {plan.face.value.upper()} face up",
        f"Cutter {plan.cutter.name}",
        f"X0 Y0 {job.zero[plan.face].value} of the blank, from this face",
        "Z0 on this face before any cut",
    )
    sections = tuple(
        Section(comment=f"Cut {cut.cut.name}", moves=frame.to_program(cut.moves))
        for cut in plan.cuts
    )
    return write_program(
        ProgramText(
            title=title,
            unit=job.unit,
            decimals=machine.decimals,
            arcs=machine.arcs,
            rpm=plan.cutter.rpm,
            spindle_wait=machine.spindle_wait,
            wait_in_ms=machine.wait_in_ms,
            safe_height=clear_height,
            sections=sections,
        )
    )


def judge_emitted(
    job: Job, emitted: Emitted, stock: Stock, first_cut: int
) -> tuple[ProgramView, Stock]:
    """Read a program back from the disk, judge it on the stock that is left, and look at it
    cut by cut. Returns the view and the stock after it."""
    plan = emitted.plan
    try:
        program = read_program_file(emitted.path, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
        judged = judge_program(
            job, side=plan.face, cutter=plan.cutter, program=program, stock=stock
        )
    except ProgramError as error:
        raise InternalError(f"{emitted.path.name}, as written: {error}") from error
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
    )
    return view, judged.stock or stock


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
    )


def _verdict(findings: tuple[Finding, ...]) -> Verdict:
    return Verdict.REFUSED if any(f.refuses for f in findings) else Verdict.CLEAR
