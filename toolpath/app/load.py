"""A job with all that can be said about it before planning, and whether it still stands after."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from toolpath.blank.warn import piece_warnings
from toolpath.errors import Fault, FaultsError
from toolpath.job.files import digest_of
from toolpath.job.model import Job
from toolpath.job.read import read_job


def load_job(path: Path) -> Job:
    """Read a job and add the warnings about its pieces. Raises FaultsError with all faults."""
    job = read_job(path)
    return replace(job, warnings=(*job.warnings, *piece_warnings(job)))


def require_unchanged(job: Job) -> None:
    """Raises FaultsError where a file that the job was read from is no longer what it was then:
    what was found would answer for a job that is gone."""
    changed = [path for path, digest in job.sources.items() if not _is_still(path, digest)]
    if changed:
        message = "changed or went away while this ran, so there is no answer for it: run it again"
        raise FaultsError([Fault(file=str(path), where="", message=message) for path in changed])


def _is_still(path: Path, digest: str) -> bool:
    try:
        return digest_of(path) == digest
    except OSError:
        return False
