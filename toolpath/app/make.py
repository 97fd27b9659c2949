"""From a job that was read to all its results in their folder."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.load import require_unchanged
from toolpath.app.payload import Json, of_scene, to_text
from toolpath.app.progress import Progress
from toolpath.check.report import Verdict
from toolpath.collecting import seldom_collected
from toolpath.job.model import Job
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


def make(job: Job, folder: Path, *, pictures: bool, progress: Progress) -> Planned:
    """Plan, check the emitted text and write programs, pictures, sheet and plan.json.

    Programs are written only when all of them are clear. Raises FaultsError where a program does
    not fit the machine, or a file of the job changed meanwhile.
    """
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
