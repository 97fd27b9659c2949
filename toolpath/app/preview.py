"""Pictures of a job without programs: what `keepclear preview` does."""

from __future__ import annotations

from pathlib import Path

from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.payload import of_scene
from toolpath.app.plan import Planned, default_folder, job_to_plan
from toolpath.app.progress import Progress, silent
from toolpath.show.pictures import draw_all


def preview(job_path: Path, out: Path | None, *, progress: Progress = silent) -> Planned:
    """Plan and judge in a scratch folder, and leave nothing but the pictures."""
    folder = out or default_folder(job_path)
    job = job_to_plan(job_path, folder, progress)
    with publish.fresh(folder) as made:
        scene = draft(job, made, progress)
        drawn = draw_all(scene, made.pictures, progress)
        made.publish(programs=False)
    pictures = tuple(folder / "pictures" / path.name for path in drawn)
    payload = of_scene(scene, written=False) | {"pictures": [str(path) for path in pictures]}
    return Planned(scene=scene, folder=folder, payload=payload, pictures=pictures)
