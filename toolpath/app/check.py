"""Any program against the blank and its pieces: what `keepclear check` does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from toolpath.app.load import load_job, require_unchanged
from toolpath.app.names import PLATE
from toolpath.app.progress import Progress, silent
from toolpath.blank.found import job_of_face
from toolpath.check.replay import judge_program
from toolpath.check.report import Code, Report, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import Fault, FaultsError, ProgramError
from toolpath.job.model import Cutter, Job, Side
from toolpath.rs274.read import read_program_file


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A program as named on the command line."""

    face: str
    cutter: str
    program: Path
    plate: str = ""
    """The cut whose plate it is, where the face is `plate` and there are several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The answer to one program."""

    job: Job
    report: Report


def check(
    job_path: Path,
    asked: Run,
    after: Sequence[Run] = (),
    *,
    uncut: bool = False,
    progress: Progress = silent,
) -> Checked:
    """Judge `asked` on the stock that the programs of `after` leave.

    `uncut` says that nothing was cut before; without it and `after` the stock is unknown.
    Raises FaultsError for a wrong job or name, and for a
    program that cannot be read or judged.
    """
    progress("reading the job")
    job = _job_on_machine(_with_plates(load_job(job_path)), asked, after)
    up = job_of_face(job, _side(asked.face, ""))
    stock = Stock.fresh(up) if after or uncut else None
    for number, run in enumerate(after, 1):
        progress(f"replaying {run.program.name}")
        _, stock = _judge(up, run, stock, f"--after {number}")
    progress(f"judging {asked.program.name}")
    report, _ = _judge(up, asked, stock, "")
    require_unchanged(job)
    return Checked(job=job, report=report)


def _with_plates(job: Job) -> Job:
    """The job as its plates change it; their planner is loaded only where there are plates."""
    if not job.plates:
        return job
    from toolpath.plan.plates import with_plates

    return with_plates(job)


def _job_on_machine(job: Job, asked: Run, after: Sequence[Run]) -> Job:
    """The job itself, or that of a plate's sheet; a plate's programs follow only one another."""
    plates = {run.face == PLATE for run in (asked, *after)}
    if plates == {False}:
        if asked.plate:
            raise _wrong("--plate", "given without --face plate: leave it out")
        return job
    if len(plates) == 2:
        raise _wrong("--after", "a plate is cut from a sheet of its own: name its programs only")
    return _sheet_job(job, asked.plate)


def _sheet_job(job: Job, name: str) -> Job:
    """The job of the plate for a cut of that name, or of the only plate."""
    if not job.plates:
        raise _wrong("--face", f"{job.file.name} has no [[plate]]")
    from toolpath.plan.plates import plate_jobs

    known = dict(zip((plate.cut.name for plate in job.plates), plate_jobs(job), strict=True))
    names = ", ".join(f'"{each}"' for each in known)
    if not name and len(known) > 1:
        raise _wrong("--plate", f"missing: say which plate, by the cut that it is for: {names}")
    if name and name not in known:
        raise _wrong("--plate", f'"{name}" is not a cut with a plate: there are {names}')
    return known[name] if name else next(iter(known.values()))


def _judge(job: Job, run: Run, stock: Stock | None, where: str) -> tuple[Report, Stock | None]:
    side = _side(run.face, where)
    cutter = _cutter(job, run.cutter, where)
    try:
        program = read_program_file(run.program, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
        judged = judge_program(job, side=side, cutter=cutter, program=program, stock=stock)
    except ProgramError as error:
        fault = Fault(file=str(run.program), where="", message=str(error))
        raise FaultsError([fault]) from error
    return _tabs_noted(judged.report), judged.stock


def _tabs_noted(report: Report) -> Report:
    """What a program takes beyond the job is a note of this command, tabs too: only a plan is
    refused for them."""
    found = tuple(replace(f, refuses=f.refuses and f.code is not Code.TAB) for f in report.findings)
    verdict = Verdict.REFUSED if any(f.refuses for f in found) else Verdict.CLEAR
    return replace(report, findings=found, verdict=verdict)


def _side(word: str, where: str) -> Side:
    if word == PLATE:
        return Side.FRONT  # of its sheet
    try:
        return Side(word)
    except ValueError as error:
        message = f'"{word}" is not a face: write front, back or plate'
        raise _wrong(where, message) from error


def _cutter(job: Job, name: str, where: str) -> Cutter:
    if name not in job.cutters:
        known = ", ".join(f'"{known}"' for known in job.cutters) or "none"
        message = f'"{name}" is not a cutter of {job.file.name}: it has {known}'
        raise _wrong(where or "--cutter", message)
    return job.cutters[name]


def _wrong(where: str, message: str) -> FaultsError:
    return FaultsError([Fault(file="command line", where=where, message=message)])
