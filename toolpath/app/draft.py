"""From a job to a judged scene: plan each cut, write each program, read it back, judge it; then
the same for each plate, which is a job of its own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial

from toolpath.app.emit import Emitted, emit
from toolpath.app.judge import judge_emitted, replayed
from toolpath.app.progress import Progress
from toolpath.app.publish import Scratch
from toolpath.app.rehearsal import rehearse
from toolpath.blank.found import job_of_face
from toolpath.check.report import Code, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import EntryError, Fault, FaultsError
from toolpath.job.model import Cut, Job, Plate, Warned
from toolpath.plan.order import in_order
from toolpath.plan.plates import plate_jobs, with_plates
from toolpath.plan.programs import in_cutting_order, plan_cut, unbroken_runs
from toolpath.plan.result import PlannedCut
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.side_by_side import shared


def draft(job: Job, made: Scratch, progress: Progress) -> Scene:
    """Plan and judge a job and its plates; the programs are left as text in the scratch folder,
    and where all are clear their rehearsals too.

    Raises FaultsError where a program does not fit the machine's travel, or a plate its sheet.
    """
    whole = with_plates(job)
    sheets = plate_jobs(whole)
    main = _Drafting(job=whole, made=made, progress=progress)
    main.run()
    every = [main]
    for plate, sheet in zip(whole.plates, sheets, strict=True):
        before = sum(len(each.programs) for each in every)
        each = _Drafting(job=sheet, made=made, progress=progress, plate=plate, before=before)
        each.run()
        every.append(each)
    _require_travel(job, [program for each in every for program in each.programs])
    plates = tuple(each.scene() for each in every[1:])
    scene = replace(main.scene(), plates=plates)
    if any(each.verdict is Verdict.REFUSED for each in scene.every):
        return replace(scene, verdict=Verdict.REFUSED)
    for each in every:
        each.rehearse()
    return scene


@dataclass(slots=True, kw_only=True)
class _Drafting:
    """One job, or one plate, while it is planned and judged."""

    job: Job
    made: Scratch
    progress: Progress
    plate: Plate | None = None
    before: int = 0
    """Programs that come before its first."""
    refusals: dict[str, str] = field(default_factory=dict)
    programs: list[ProgramView] = field(default_factory=list)
    emitted: list[Emitted] = field(default_factory=list)
    warnings: list[Warned] = field(default_factory=list)

    def run(self) -> None:
        """Plan all cuts, then write and judge program after program."""
        planned = self._plan()
        stock, face, cuts_before = Stock.fresh(self.job), None, 0
        for number, plan in enumerate(unbroken_runs(planned), self.before + 1):
            job = job_of_face(self.job, plan.face)
            if face not in (None, plan.face) and job is not self.job:
                stock = self._cut_so_far(job)
            face = plan.face
            each = emit(job, plan, number, self.made, plate=self.plate is not None)
            self.progress(f"checking {each.path.name}")
            view, stock = judge_emitted(job, each, stock, cuts_before + 1)
            self.programs.append(self._with_refusals(view))
            self.emitted.append(each)
            cuts_before += len(plan.cuts)

    def scene(self) -> Scene:
        """What came of it."""
        verdicts = [cut.verdict for program in self.programs for cut in program.cuts]
        verdicts += [program.report.verdict for program in self.programs]
        clear = all(verdict is Verdict.CLEAR for verdict in verdicts)
        job = replace(self.job, warnings=(*self.job.warnings, *self.warnings))
        return Scene(
            job=job,
            programs=tuple(self.programs),
            verdict=Verdict.CLEAR if clear else Verdict.REFUSED,
            plate=self.plate,
        )

    def rehearse(self) -> None:
        """The box pass and the air pass of every program."""
        pairs = list(zip(self.emitted, self.programs, strict=True))
        tasks = [
            partial(rehearse, job_of_face(self.job, view.face), each, view.report, self.made)
            for each, view in pairs
        ]
        shared(tasks, lambda place: self.progress(f"rehearsing {pairs[place][1].file}"))

    def _plan(self) -> list[PlannedCut]:
        """All cuts in cutting order; those without a way in have no moves."""
        cuts = [self._as_found(cut) for cut in in_cutting_order(self.job)]
        tasks = [partial(_parts, job_of_face(self.job, cut.face), cut) for cut in cuts]
        answers = shared(tasks, lambda place: self.progress(f"planning {cuts[place].name}"))
        planned: list[PlannedCut] = []
        for cut, (parts, refusal) in zip(cuts, answers, strict=True):
            if refusal:
                self.refusals[cut.name] = refusal
            planned += [replace(part, cut=cut) for part in parts] or [_without_moves(cut)]
        return list(in_order(self.job, planned))

    def _as_found(self, cut: Cut) -> Cut:
        """The same cut in the job of its face."""
        return job_of_face(self.job, cut.face).cuts[self.job.cuts.index(cut)]

    def _cut_so_far(self, job: Job) -> Stock:
        """The blank as found after the first face's programs. What these should not have done to
        it is done: it is said, and changes no verdict."""
        stock = Stock.fresh(job)
        for each in self.emitted:
            self.progress(f"replaying {each.path.name} on the blank as measured")
            report, stock = replayed(job, each, stock)
            self.warnings += [
                Warned(where="measured", message=f"{each.path.name}: {finding.message}")
                for finding in report.findings
                if finding.refuses
            ]
        return stock

    def _with_refusals(self, view: ProgramView) -> ProgramView:
        def refused(cut: CutView) -> CutView:
            reason = self.refusals.get(cut.planned.cut.name, "")
            return replace(cut, verdict=Verdict.REFUSED, refusal=reason) if reason else cut

        return replace(view, cuts=tuple(refused(cut) for cut in view.cuts))


def _parts(job: Job, cut: Cut) -> tuple[tuple[PlannedCut, ...], str]:
    """The parts of a cut, or why there are none."""
    try:
        return plan_cut(job, cut), ""
    except EntryError as error:
        return (), str(error)


def _without_moves(cut: Cut) -> PlannedCut:
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=(),
        floor=0.0,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=0,
    )


def _require_travel(job: Job, programs: Iterable[ProgramView]) -> None:
    faults = [
        Fault(file=job.file.name, where="machine: travel", message=f"{p.file}: {f.message}")
        for p in programs
        for f in p.report.findings
        if f.code is Code.TRAVEL
    ]
    if faults:
        raise FaultsError(faults)
