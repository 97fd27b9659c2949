"""What there is to show: a planned and judged job."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.blank.found import found_job, job_of_face
from toolpath.check.left import Spot
from toolpath.check.report import Closest, Finding, PieceCut, Report, Verdict
from toolpath.job.model import Cutter, Job, Plate, Side
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
    pieces_cut: tuple[PieceCut, ...] = ()


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
    code: str = ""
    """The short code in line 1 of its text, which the sheet shows too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole job as planned and judged, programs in cutting order.

    A plate is a scene of its own (`plate` says which): its job is that of the sheet that it is
    cut from, its one face the front of that sheet, which is the outer side of the plate.
    """

    job: Job
    programs: tuple[ProgramView, ...]
    verdict: Verdict
    plate: Plate | None = None
    plates: tuple[Scene, ...] = ()
    left: tuple[Spot, ...] = ()
    """What the cuts leave in their cavities, cut by cut."""

    @property
    def every(self) -> tuple[Scene, ...]:
        """This scene and those of its plates."""
        return (self, *self.plates)

    def job_of(self, side: Side) -> Job:
        """The job by which a face was planned; the second of a measured blank follows that."""
        return job_of_face(self.job, side)

    @property
    def final(self) -> Job:
        """The job on the blank as it is at the end."""
        return found_job(self.job)
