"""Any program against the blank and its pieces: what `keepclear check` does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from toolpath.app.load import load_job
from toolpath.app.progress import Progress, silent
from toolpath.check.replay import judge_program
from toolpath.check.report import Report
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
    job = load_job(job_path)
    stock = Stock.fresh(job) if after or uncut else None
    for number, run in enumerate(after, 1):
        progress(f"replaying {run.program.name}")
        _, stock = _judge(job, run, stock, f"--after {number}")
    progress(f"judging {asked.program.name}")
    report, _ = _judge(job, asked, stock, "")
    return Checked(job=job, report=report)


def _judge(job: Job, run: Run, stock: Stock | None, where: str) -> tuple[Report, Stock | None]:
    side = _side(run.face, where)
    cutter = _cutter(job, run.cutter, where)
    try:
        program = read_program_file(run.program, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
        judged = judge_program(job, side=side, cutter=cutter, program=program, stock=stock)
    except ProgramError as error:
        fault = Fault(file=str(run.program), where="", message=str(error))
        raise FaultsError([fault]) from error
    return judged.report, judged.stock


def _side(word: str, where: str) -> Side:
    try:
        return Side(word)
    except ValueError as error:
        message = f'"{word}" is not a face: write front or back'
        raise FaultsError([Fault(file="command line", where=where, message=message)]) from error


def _cutter(job: Job, name: str, where: str) -> Cutter:
    if name not in job.cutters:
        known = ", ".join(f'"{known}"' for known in job.cutters) or "none"
        message = f'"{name}" is not a cutter of {job.file.name}: it has {known}'
        raise FaultsError([Fault(file="command line", where=where or "--cutter", message=message)])
    return job.cutters[name]
