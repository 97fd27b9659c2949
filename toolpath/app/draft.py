"""From a job to a judged scene: plan each cut, write each program, read it back, judge it."""

from __future__ import annotations

from dataclasses import replace

from toolpath.app.judge import Emitted, judge_emitted, program_text
from toolpath.app.names import program_name
from toolpath.app.progress import Progress
from toolpath.app.publish import Scratch
from toolpath.check.report import Code, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import EntryError, Fault, FaultsError
from toolpath.job.model import Cut, Job
from toolpath.plan.programs import clear_height, in_cutting_order, plan_cut, unbroken_runs
from toolpath.plan.result import PlannedCut, ProgramPlan
from toolpath.show.scene import CutView, ProgramView, Scene


def draft(job: Job, made: Scratch, progress: Progress) -> Scene:
    """Plan and judge a job; the programs are left as text in the scratch folder.

    Raises FaultsError where a program does not fit the machine's travel.
    """
    stock = Stock.fresh(job)
    programs: list[ProgramView] = []
    cuts_before = 0
    planned, refusals = _plan_all(job, progress)
    for number, plan in enumerate(unbroken_runs(planned), 1):
        name = program_name(number, plan.face, plan.cutter.name)
        progress(f"checking {name}")
        emitted = _emit(job, plan, number, made)
        view, stock = judge_emitted(job, emitted, stock, cuts_before + 1)
        programs.append(_with_refusals(view, refusals))
        cuts_before += len(plan.cuts)
    _require_travel(job, programs)
    verdicts = [cut.verdict for program in programs for cut in program.cuts]
    verdicts += [program.report.verdict for program in programs]
    clear = all(verdict is Verdict.CLEAR for verdict in verdicts)
    verdict = Verdict.CLEAR if clear else Verdict.REFUSED
    return Scene(job=job, programs=tuple(programs), verdict=verdict)


def _plan_all(job: Job, progress: Progress) -> tuple[list[PlannedCut], dict[str, str]]:
    """All cuts in cutting order, and why there are no moves of those that have none."""
    planned: list[PlannedCut] = []
    refusals: dict[str, str] = {}
    for cut in in_cutting_order(job):
        progress(f"planning {cut.name}")
        try:
            planned += plan_cut(job, cut)
        except EntryError as error:
            refusals[cut.name] = str(error)
            planned.append(_without_moves(cut))
    return planned, refusals


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


def _emit(job: Job, plan: ProgramPlan, number: int, made: Scratch) -> Emitted:
    written = program_text(job, plan, number, clear_height(job, plan.face))
    name = program_name(number, plan.face, plan.cutter.name)
    path = made.write(f"programs/{name}", written.text)
    return Emitted(plan=plan, number=number, path=path, written=written)


def _with_refusals(view: ProgramView, refusals: dict[str, str]) -> ProgramView:
    def refused(cut: CutView) -> CutView:
        reason = refusals.get(cut.planned.cut.name, "")
        return replace(cut, verdict=Verdict.REFUSED, refusal=reason) if reason else cut

    return replace(view, cuts=tuple(refused(cut) for cut in view.cuts))


def _require_travel(job: Job, programs: list[ProgramView]) -> None:
    faults = [
        Fault(file=job.file.name, where="machine: travel", message=f"{p.file}: {f.message}")
        for p in programs
        for f in p.report.findings
        if f.code is Code.TRAVEL
    ]
    if faults:
        raise FaultsError(faults)
