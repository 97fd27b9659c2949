"""Which cuts run together in one program, and each cut planned by its kind."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from toolpath.job.model import Cut, Drill, Job, Pocket
from toolpath.plan.drill import plan_drill
from toolpath.plan.levels import clear_height as clear_height
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.profile import plan_profile
from toolpath.plan.result import PlannedCut


def plan_cut(job: Job, cut: Cut) -> PlannedCut:
    """The moves of one cut, in the page frame of its face.

    Raises
    ------
    EntryError
        No possible way into the cut; the message names it and says what would help.
    """
    if isinstance(cut, Pocket):
        return plan_pocket(job, cut)
    if isinstance(cut, Drill):
        return plan_drill(job, cut)
    return plan_profile(job, cut)


def unbroken_runs(job: Job) -> Iterator[tuple[Cut, ...]]:
    """Unbroken runs of one cutter on one face, in cutting order: faces as they first come, so
    that the blank is turned over once, and the cuts of a face in the order of the job."""
    faces = list(dict.fromkeys(cut.face for cut in job.cuts))
    ordered = sorted(job.cuts, key=lambda cut: faces.index(cut.face))
    for _, run in groupby(ordered, key=lambda cut: (cut.face, cut.cutter.name)):
        yield tuple(run)
