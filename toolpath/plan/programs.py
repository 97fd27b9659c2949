"""From a job to programs: every cut planned, cuts of one cutter on one face run together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby

from toolpath.job.model import Cut, Drill, Job, Pocket
from toolpath.motion.moves import Kind, Move
from toolpath.plan.drill import plan_drill
from toolpath.plan.levels import clear_height as clear_height
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.profile import plan_profile
from toolpath.plan.result import PlannedCut, ProgramPlan


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


def plan_programs(job: Job, on_cut: Callable[[Cut], None] | None = None) -> tuple[ProgramPlan, ...]:
    """The programs of a job: faces in the order of their first cut, cuts in job order.

    Parameters
    ----------
    on_cut : called with each cut before it is planned.

    Raises
    ------
    EntryError
        No possible way into one of the cuts.
    """
    faces = list(dict.fromkeys(cut.face for cut in job.cuts))
    ordered = sorted(job.cuts, key=lambda cut: faces.index(cut.face))
    programs = []
    for (face, _), cuts in groupby(ordered, key=lambda cut: (cut.face, cut.cutter.name)):
        run = list(cuts)
        planned = [_planned(job, cut, on_cut) for cut in run]
        programs.append(ProgramPlan(face=face, cutter=run[0].cutter, cuts=_joined(planned)))
    return tuple(programs)


def _planned(job: Job, cut: Cut, on_cut: Callable[[Cut], None] | None) -> PlannedCut:
    if on_cut is not None:
        on_cut(cut)
    return plan_cut(job, cut)


def _joined(cuts: list[PlannedCut]) -> tuple[PlannedCut, ...]:
    """The cuts of a program with a rapid from the end of each to the start of the next."""
    found = cuts[:1]
    for cut in cuts[1:]:
        start, end = found[-1].moves[-1].end, cut.moves[0].start
        across = Move(kind=Kind.RAPID, start=start, end=end)
        found.append(replace(cut, moves=(across, *cut.moves) if start != end else cut.moves))
    return tuple(found)
