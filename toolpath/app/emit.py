"""Planned moves as the text of a program, with the short code that its sheet shows too."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from toolpath.app.names import PLATE, face_word, program_name, short_code
from toolpath.app.publish import Scratch
from toolpath.blank.frames import Frame
from toolpath.job.model import Job
from toolpath.plan.levels import clear_height
from toolpath.plan.result import ProgramPlan
from toolpath.rs274.write import ProgramText, Section, Written, with_first_line, write_program


@dataclass(frozen=True, slots=True, kw_only=True)
class Emitted:
    """A program as it lies on the disk; `number` counts in cutting order from 1."""

    plan: ProgramPlan
    number: int
    path: Path
    written: Written
    code: str
    spec: ProgramText


def emit(job: Job, plan: ProgramPlan, number: int, made: Scratch, *, plate: bool) -> Emitted:
    """Write a program into the scratch folder."""
    face = face_word(plan.face, plate=plate)
    spec = program_spec(job, plan, number, face)
    bare = write_program(spec)
    code = short_code(bare.text)
    written = with_first_line(bare, f"Code {code}")
    path = made.write(f"programs/{program_name(number, face, plan.cutter.name)}", written.text)
    return Emitted(plan=plan, number=number, path=path, written=written, code=code, spec=spec)


def program_spec(job: Job, plan: ProgramPlan, number: int, face: str) -> ProgramText:
    """What a program is made of, in the program frame of its face."""
    frame = Frame.of(job, plan.face)
    machine = job.machine
    lying = "sheet" if face == PLATE else "blank, from this face"
    title = (
        job.name,
        f"Program {number:02d}, {face.upper()} up",
        f"Cutter {plan.cutter.name}",
        f"X0 Y0 {job.zero[plan.face].value} of the {lying}",
        "Z0 on this face before any cut",
    )
    sections = tuple(
        Section(
            comment=f"Cut {part.cut.name}",
            moves=frame.to_program(part.moves),
            pauses=part.pauses,
        )
        for part in plan.cuts
    )
    return ProgramText(
        title=title,
        unit=job.unit,
        decimals=machine.decimals,
        arcs=machine.arcs,
        rpm=plan.cutter.rpm,
        spindle_wait=machine.spindle_wait,
        wait_in_ms=machine.wait_in_ms,
        safe_height=clear_height(job, plan.face),
        sections=sections,
    )


def lifted(spec: ProgramText, lift: float) -> ProgramText:
    """The same moves that much higher, with the spindle off."""
    up = tuple(
        replace(
            section,
            moves=tuple(
                replace(
                    move,
                    start=(*move.start[:2], move.start[2] + lift),
                    end=(*move.end[:2], move.end[2] + lift),
                )
                for move in section.moves
            ),
        )
        for section in spec.sections
    )
    return replace(spec, rpm=None, safe_height=spec.safe_height + lift, sections=up)
