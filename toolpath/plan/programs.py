"""Each cut planned by its kind, and which of them run together in one program."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from toolpath.drawing.outline import Err
from toolpath.job.model import Cut, Drill, IfBlocked, Job, Pocket, Profile, Relief, Skim
from toolpath.plan.drill import plan_drill
from toolpath.plan.feeds import with_feeds
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.profile import plan_profile
from toolpath.plan.result import PlannedCut, ProgramPlan
from toolpath.plan.rings import flat_area
from toolpath.plan.skim import plan_skim
from toolpath.tolerances import TOLERANCES

_FOLLOWED = 3.0
"""A floor that rises over pieces takes about so many times as long as a level one."""


def plan_cut(job: Job, cut: Cut) -> tuple[PlannedCut, ...]:
    """The moves of one cut, in the page frame of its face: one part for each of its cutters that
    has something to take, in cutting order.

    Raises
    ------
    EntryError
        No possible way into the cut; the message names it and says what would help.
    """
    return with_feeds(job, _moves_of(job, cut))


def _moves_of(job: Job, cut: Cut) -> tuple[PlannedCut, ...]:
    if isinstance(cut, Pocket):
        return plan_pocket(job, cut)
    if isinstance(cut, Skim):
        return (plan_skim(job, cut),)
    if isinstance(cut, Relief):
        from toolpath.plan.relief import plan_relief  # loads much that is seldom wanted

        return plan_relief(job, cut)
    if isinstance(cut, Drill):
        return (plan_drill(job, cut),)
    return (plan_profile(job, cut),)


def effort(cut: Cut) -> float:
    """Roughly how long a cut takes to plan, in no unit: by the way that its cutters go."""
    if isinstance(cut, Drill):
        return 0.0
    area = flat_area(cut.outline, TOLERANCES.flatten, Err.OUTWARD)
    if isinstance(cut, Profile):
        return float(area.length)
    passes = sum(area.length + area.area / (c.diameter * c.stepover) for c in cut.cutters)
    return float(passes * (1.0 if cut.if_blocked is IfBlocked.STOP else _FOLLOWED))


def in_cutting_order(job: Job) -> tuple[Cut, ...]:
    """The cuts of a job: faces as they first come, so that the blank is turned over once, and
    those of a face in the order of the job."""
    faces = list(dict.fromkeys(cut.face for cut in job.cuts))
    return tuple(sorted(job.cuts, key=lambda cut: faces.index(cut.face)))


def unbroken_runs(planned: Iterable[PlannedCut]) -> Iterator[ProgramPlan]:
    """Unbroken runs of one cutter on one face, of parts in cutting order."""
    for _, run in groupby(planned, key=lambda each: (each.cut.face, each.cutter.name)):
        cuts = tuple(run)
        yield ProgramPlan(face=cuts[0].cut.face, cutter=cuts[0].cutter, cuts=cuts)
