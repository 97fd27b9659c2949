"""What the check says of a case: the job and the program as files, read and judged as `keepclear
check` does."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

from proof.nouns import Job, toml
from toolpath.app.check import Run, check
from toolpath.errors import FaultsError, InternalError


@dataclass(frozen=True)
class Answer:
    """`word`: clear, refused, unread or error; `codes` of what refuses; `gap` the closest."""

    word: str
    codes: frozenset[str] = frozenset()
    gap: float | None = None
    why: str = ""


def ask(job: Job, text: str) -> Answer:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = write(job, folder)
        program = folder / "program.nc"
        program.write_text(text)
        try:
            report = check(path, Run(face=job.face, cutter="tool", program=program)).report
        except FaultsError as error:
            faults = [fault for fault in error.faults if fault.file == str(program)]
            if not faults:
                raise AssertionError(f"the job itself is taken for wrong: {error}") from error
            return Answer("unread", why=faults[0].message)
        except InternalError as error:
            return Answer("error", why=str(error))
    codes = frozenset(f.code.value for f in report.findings if f.refuses)
    gap = report.closest.gap if report.closest else None
    return Answer(report.verdict.value, codes, gap)


def write(job: Job, folder: Path) -> Path:
    """The job file and those that it names, in a folder."""
    for file, data in job.files.items():
        (folder / file).write_bytes(data)
    path = folder / "job.toml"
    path.write_text(toml(job))
    return path
