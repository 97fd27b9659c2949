"""Pictures of a job without programs: what `keepclear preview` does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.load import require_unchanged
from toolpath.app.make import Planned
from toolpath.app.payload import of_scene
from toolpath.app.plan import default_folder, job_to_plan
from toolpath.app.progress import Progress, silent
from toolpath.errors import Fault, FaultsError
from toolpath.job.model import Job
from toolpath.show.pictures import draw_all
from toolpath.show.section_line import draw_section_line

Place = tuple[float, float]


def preview(
    job_path: Path,
    out: Path | None,
    *,
    sections: Sequence[tuple[Place, Place]] = (),
    progress: Progress = silent,
) -> Planned:
    """Plan and judge in a scratch folder, and leave nothing but the pictures.

    `sections` are lines of the blank frame, in the unit of the job, along which the blank is cut
    open. Raises FaultsError for a wrong job, or a line without length.
    """
    folder = out or default_folder(job_path)
    job = job_to_plan(job_path, folder, progress)
    lines = [_line(job, ends) for ends in sections]
    with publish.fresh(folder) as made:
        scene = draft(job, made, progress)
        drawn = list(draw_all(scene, made.pictures, progress))
        for number, line in enumerate(lines, 1):
            path = made.pictures / f"section-line-{number}.png"
            draw_section_line(scene, line, path)
            drawn.append(path)
        require_unchanged(job)
        made.publish(programs=False)
    pictures = tuple(folder / "pictures" / path.name for path in drawn)
    payload = of_scene(scene, written=False) | {"pictures": [str(path) for path in pictures]}
    return Planned(scene=scene, folder=folder, payload=payload, pictures=pictures)


def _line(job: Job, ends: tuple[Place, Place]) -> tuple[Place, Place]:
    """A line in mm."""
    (x0, y0), (x1, y1) = ends
    mm = job.unit.mm
    line = (x0 * mm, y0 * mm), (x1 * mm, y1 * mm)
    length = math.dist(*line)
    if not (math.isfinite(length) and length > 0.0):
        message = "a line needs two different places: give X0 Y0 X1 Y1"
        raise FaultsError([Fault(file="command line", where="--section", message=message)])
    return line
