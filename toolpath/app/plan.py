"""The main job: what `keepclear plan` does."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.load import load_job, require_unchanged
from toolpath.app.payload import Json, of_scene, to_text
from toolpath.app.progress import Progress, silent
from toolpath.check.report import Verdict
from toolpath.collecting import seldom_collected
from toolpath.job.model import Job
from toolpath.job.read import require_cuts
from toolpath.show.pictures import draw_beside
from toolpath.show.scene import Scene
from toolpath.show.sheet import Begun, begin_sheet, make_sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A planned job and where its results lie."""

    scene: Scene
    folder: Path
    payload: Json
    pictures: tuple[Path, ...] = ()

    @property
    def clear(self) -> bool:
        """Whether every program was found clear, and so was written."""
        return self.scene.verdict is Verdict.CLEAR


def default_folder(job: Path) -> Path:
    """Where results go when nobody says: beside the job."""
    return job.parent / f"{job.stem}-plan"


def job_to_plan(path: Path, folder: Path, progress: Progress) -> Job:
    """A job that has cuts; the older set in `folder` is gone before anything is said of it."""
    publish.clear(folder)
    progress("reading the job")
    job = load_job(path)
    require_cuts(job)
    return job


def plan(
    job_path: Path, out: Path | None, *, pictures: bool = True, progress: Progress = silent
) -> Planned:
    """Read, plan, check the emitted text and write programs, pictures, sheet and plan.json.

    Whatever an older run left in the folder is gone before any other outcome; programs are
    written only when all of them are clear. Raises FaultsError for a wrong job.
    """
    folder = out or default_folder(job_path)
    job = job_to_plan(job_path, folder, progress)
    with publish.fresh(folder) as made, seldom_collected():
        scene = draft(job, made, progress)
        clear = scene.verdict is Verdict.CLEAR
        begun, drawn = _drawn(scene, made, pictures, progress)
        shown = {path.name: path.read_bytes() for path in drawn}
        progress("writing the sheet")
        made.write("sheet.html", make_sheet(begun, shown))
        payload = of_scene(scene, written=clear)
        made.write("plan.json", to_text(payload))
        require_unchanged(job)
        made.publish(programs=clear)
    at_home = tuple(folder / "pictures" / path.name for path in drawn)
    return Planned(scene=scene, folder=folder, payload=payload, pictures=at_home)


def _drawn(
    scene: Scene, made: publish.Scratch, pictures: bool, progress: Progress
) -> tuple[Begun, tuple[Path, ...]]:
    """The words of the sheet and, where they are wanted, all pictures."""
    words = partial(begin_sheet, scene, pictures=pictures)
    return draw_beside(words, scene, made.pictures, progress) if pictures else (words(), ())
