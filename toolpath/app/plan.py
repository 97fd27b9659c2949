"""The main job: what `keepclear plan` does."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from toolpath.app import publish
from toolpath.app.progress import Progress, silent
from toolpath.app.ready import job_beside

if TYPE_CHECKING:
    from toolpath.app.make import Planned
    from toolpath.job.model import Job

WORKS, DRAWS = "toolpath.app.make", "toolpath.show.library"
"""Modules: what works on a job once it is read, and what its pictures are drawn with."""


def default_folder(job: Path) -> Path:
    """Where results go when nobody says: beside the job."""
    return job.parent / f"{job.stem}-plan"


def job_to_plan(path: Path, folder: Path, progress: Progress, *, pictures: bool = True) -> Job:
    """A job that has cuts, and what it takes to plan it and to draw its pictures is loaded; the
    older set in `folder` is gone before anything is said of the job."""
    publish.clear(folder)
    progress("reading the job")
    return job_beside(path, [WORKS, DRAWS] if pictures else [WORKS])


def plan(
    job_path: Path, out: Path | None, *, pictures: bool = True, progress: Progress = silent
) -> Planned:
    """Read, plan, check the emitted text and write programs, pictures, sheet and plan.json.

    Whatever an older run left in the folder is gone before any other outcome; programs are
    written only when all of them are clear. Raises FaultsError for a wrong job.
    """
    folder = out or default_folder(job_path)
    job = job_to_plan(job_path, folder, progress, pictures=pictures)
    from toolpath.app.make import make

    return make(job, folder, pictures=pictures, progress=progress)
