"""From a job to a judged scene: plan each cut, write each program, read it back, judge it; then
the same for each plate, which is a job of its own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from operator import itemgetter

from toolpath.app.emit import Emitted, emit
from toolpath.app.judge import (
    Beside,
    ReadBack,
    judge_beside,
    program_view,
    read_back,
    replay,
    replayed,
)
from toolpath.app.progress import Progress
from toolpath.app.publish import Scratch
from toolpath.app.rehearsal import rehearse
from toolpath.blank.found import job_of_face
from toolpath.check.left import Spot, left_in, may_leave
from toolpath.check.left_relief import left_over_pieces, rises
from toolpath.check.replay import InStock
from toolpath.check.report import Code, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import EntryError, Fault, FaultsError
from toolpath.job.model import Cut, Job, Plate, Side, Warned
from toolpath.plan.order import in_order
from toolpath.plan.plates import plate_jobs, with_plates
from toolpath.plan.programs import effort, in_cutting_order, plan_cut, unbroken_runs
from toolpath.plan.result import PlannedCut, ProgramPlan
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.side_by_side import beside, shared


def draft(job: Job, made: Scratch, progress: Progress) -> Scene:
    """Plan and judge a job and its plates; the programs are left as text in the scratch folder,
    and the rehearsals of those that keep clear of all pieces and clamps.

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
    left: list[Spot] = field(default_factory=list)
    ends: list[tuple[Job, Side, Stock]] = field(default_factory=list)
    """Each face with its job and the stock that its last program left."""

    def run(self) -> None:
        """Plan all cuts, write all programs and judge them: they are replayed in cutting order
        while a copy of this process looks at what they do beside the pieces."""
        planned = self._plan()
        read = [
            self._written(plan, number)
            for number, plan in enumerate(unbroken_runs(planned), self.before + 1)
        ]
        self.emitted = [each.emitted for each in read]
        names = [each.path.name for each in self.emitted]
        done, found = beside(
            partial(self._replayed, read),
            [partial(_beside, each, self.made) for each in read],
            lambda place: self.progress(f"checking {names[place]} beside the pieces"),
        )
        self._look_what_is_left()
        cuts_before = 0
        for each, alone, in_stock in zip(read, found, done, strict=True):
            view = program_view(each, alone, in_stock, cuts_before + 1)
            self.programs.append(self._with_refusals(view))
            cuts_before += len(view.cuts)

    def _written(self, plan: ProgramPlan, number: int) -> ReadBack:
        """A program written, and read back from the disk."""
        job = job_of_face(self.job, plan.face)
        return read_back(job, emit(job, plan, number, self.made, plate=self.plate is not None))

    def _replayed(self, read: list[ReadBack]) -> list[InStock]:
        """What each program does on the stock that those before it left."""
        found: list[InStock] = []
        stock, face = Stock.fresh(self.job), None
        lasts = {each.emitted.plan.face: number for number, each in enumerate(read)}
        for number, each in enumerate(read):
            self.progress(f"checking {each.emitted.path.name}")
            if face not in (None, each.emitted.plan.face) and each.job is not self.job:
                stock = self._cut_so_far(each.job, read[:number])
            face = each.emitted.plan.face
            done = replay(each, stock)
            stock = done.left or stock
            found.append(replace(done, left=None))
            if lasts[face] == number:
                self.ends.append((each.job, face, stock))
        return found

    def _look_what_is_left(self) -> None:
        """What the cuts of each face leave, once all its programs ran."""
        tasks = [
            partial(left_over_pieces if rises(cut) else left_in, job, cut, stock)
            for job, face, stock in self.ends
            for cut in job.cuts
            if cut.face is face and cut.name not in self.refusals and (may_leave(cut) or rises(cut))
        ]
        self.ends.clear()
        self.progress("checking what is left")
        for spots in shared(tasks, lambda place: None):
            self.left += spots

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
            left=tuple(self.left),
        )

    def _plan(self) -> list[PlannedCut]:
        """All cuts in cutting order; those without a way in have no moves."""
        cuts = [self._as_found(cut) for cut in in_cutting_order(self.job)]
        tasks = [partial(_parts, job_of_face(self.job, cut.face), cut) for cut in cuts]
        order = sorted(range(len(cuts)), key=lambda place: -effort(cuts[place]))  # longest first
        done = shared(
            [tasks[place] for place in order],
            lambda turn: self.progress(f"planning {cuts[order[turn]].name}"),
        )
        answers = [answer for _, answer in sorted(zip(order, done, strict=True), key=itemgetter(0))]
        planned: list[PlannedCut] = []
        for cut, (parts, refusal) in zip(cuts, answers, strict=True):
            if refusal:
                self.refusals[cut.name] = refusal
            planned += [replace(part, cut=cut) for part in parts] or [_without_moves(cut)]
        return list(in_order(self.job, planned))

    def _as_found(self, cut: Cut) -> Cut:
        """The same cut in the job of its face."""
        return job_of_face(self.job, cut.face).cuts[self.job.cuts.index(cut)]

    def _cut_so_far(self, job: Job, before: list[ReadBack]) -> Stock:
        """The blank as found after the first face's programs. What these should not have done to
        it is done: it is said, and changes no verdict."""
        stock = Stock.fresh(job)
        for each in before:
            name = each.emitted.path.name
            self.progress(f"replaying {name} on the blank as measured")
            report, stock = replayed(replace(each, job=job), stock)
            self.warnings += [
                Warned(where="measured", message=f"{name}: {finding.message}")
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


def _beside(read: ReadBack, made: Scratch) -> Beside:
    """What a program does beside the pieces; and its rehearsals where that refuses nothing, since
    they meet no stock."""
    found = judge_beside(read)
    if not any(finding.refuses for finding in found.whole.found):
        rehearse(read.job, read.emitted, found.whole.bounds, made)
    return found


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
