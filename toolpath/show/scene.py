"""What there is to show: a planned and judged job."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.check.report import Closest, Finding, Report, Verdict
from toolpath.job.model import Cutter, Job, Side
from toolpath.motion.moves import MoveTable
from toolpath.plan.result import PlannedCut


@dataclass(frozen=True, slots=True, kw_only=True)
class CutView:
    """One cut: `moves` are those read back from the emitted text, in the page frame of its face
    (x, y of the blank frame, z = height above that face); `number` counts in cutting order.

    `refusal` says why there are no moves where the planner found no way in.
    """

    number: int
    planned: PlannedCut
    moves: MoveTable
    verdict: Verdict
    closest: Closest | None
    findings: tuple[Finding, ...]
    seconds: float
    refusal: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramView:
    """One program: one unbroken run of one cutter on one face."""

    file: str
    face: Side
    cutter: Cutter
    cuts: tuple[CutView, ...]
    lines: int
    seconds: float
    report: Report


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole job as planned and judged, programs in cutting order."""

    job: Job
    programs: tuple[ProgramView, ...]
    verdict: Verdict
