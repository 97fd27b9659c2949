"""A job with all that can be said about it before planning."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from toolpath.blank.warn import piece_warnings
from toolpath.job.model import Job
from toolpath.job.read import read_job


def load_job(path: Path) -> Job:
    """Read a job and add the warnings about its pieces. Raises FaultsError with all faults."""
    job = read_job(path)
    return replace(job, warnings=(*job.warnings, *piece_warnings(job)))
