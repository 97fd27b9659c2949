"""A program read back from the disk, seen cut by cut."""

from dataclasses import replace

import pytest

from toolpath.app import judge as module
from toolpath.app import publish
from toolpath.app.emit import emit
from toolpath.app.judge import judge_beside, program_view, read_back, replay, replayed
from toolpath.app.load import load_job
from toolpath.check.report import Code, Finding, Verdict
from toolpath.check.stock import Stock
from toolpath.errors import InternalError
from toolpath.plan.programs import plan_cut, unbroken_runs

CUTS = (("left", [10, 10, 30, 30]), ("middle", [40, 10, 60, 30]), ("over", [70, 30, 100, 60]))


def judge_emitted(job, emitted, stock, first_cut):
    """The view of a program, and the stock after it."""
    read = read_back(job, emitted)
    done = replay(read, stock)
    return program_view(read, judge_beside(read), done, first_cut), done.left


@pytest.fixture
def job(write_job):
    return load_job(write_job(*CUTS))


@pytest.fixture
def emitted(job, tmp_path):
    (plan,) = unbroken_runs([part for cut in job.cuts for part in plan_cut(job, cut)])
    with publish.fresh(tmp_path / "out") as made:
        yield emit(job, plan, 1, made, plate=False)


def test_findings_land_in_the_cut_whose_lines_they_are(job, emitted, monkeypatch) -> None:
    first, second, third = emitted.written.section_lines
    last = emitted.written.lines
    places = {0: 0, 1: 0, first[0] - 1: 0, first[0]: 0, second[0] - 1: 0}
    places |= {second[0]: 1, second[1]: 1, third[0] - 1: 1, third[0]: 2, last: 2}
    assert first[0] > 2
    assert last > third[1]  # there are lines of the end
    real = module.judged_in_all

    def planted(*words, **more):
        judged = real(*words, **more)
        found = tuple(
            Finding(code=Code.NOTE, message=str(line), line=line, refuses=line == second[0])
            for line in places
        )
        return replace(judged, report=replace(judged.report, findings=found))

    monkeypatch.setattr(module, "judged_in_all", planted)
    view, _ = judge_emitted(job, emitted, Stock.fresh(job), 5)
    landed = {f.line: index for index, cut in enumerate(view.cuts) for f in cut.findings}
    assert landed == places
    assert sum(len(cut.findings) for cut in view.cuts) == len(places)
    verdicts = [cut.verdict for cut in view.cuts]
    assert verdicts == [Verdict.CLEAR, Verdict.REFUSED, Verdict.CLEAR]
    assert [cut.number for cut in view.cuts] == [5, 6, 7]


def test_moves_of_all_cuts_are_those_of_the_program_once(job, emitted) -> None:
    view, _ = judge_emitted(job, emitted, Stock.fresh(job), 1)
    assert sum(len(cut.moves) for cut in view.cuts) == view.report.moves
    # The page frame: each pocket, less the radius, where the job has it.
    for cut, (_, rect) in zip(view.cuts, CUTS, strict=True):
        cutting = cut.moves.take(cut.moves.end[:, 2] < 0.0)
        low, high = cutting.end.min(axis=0), cutting.end.max(axis=0)
        assert low[:2] == pytest.approx((rect[0] + 3.0, rect[1] + 3.0), abs=0.01)
        assert high[:2] == pytest.approx((rect[2] - 3.0, rect[3] - 3.0), abs=0.01)
    # Of a cut alone the feeding and rapid time; the program has dwells besides.
    assert sum(cut.seconds for cut in view.cuts) <= view.seconds
    assert min(cut.seconds for cut in view.cuts) > 0.0
    assert view.lines == emitted.written.lines


def test_the_text_on_the_disk_is_judged_and_not_the_plan(job, emitted) -> None:
    assert judge_emitted(job, emitted, Stock.fresh(job), 1)[0].report.verdict is Verdict.CLEAR
    lines = emitted.path.read_text().splitlines()
    start = emitted.written.section_lines[2][0]
    # The pebble's top is 8 below the front: 4 deep became 7.5 in the last cut only.
    deeper = [
        line.replace("Z-4.0000", "Z-7.5000") if number >= start else line
        for number, line in enumerate(lines, 1)
    ]
    assert deeper != lines
    emitted.path.write_text("\n".join(deeper) + "\n")
    view, _ = judge_emitted(job, emitted, Stock.fresh(job), 1)
    verdicts = [cut.verdict for cut in view.cuts]
    assert verdicts == [Verdict.CLEAR, Verdict.CLEAR, Verdict.REFUSED]
    finding = next(f for f in view.cuts[2].findings if f.refuses)
    assert finding.piece == "pebble"
    assert finding.line >= start
    assert view.cuts[2].closest.gap == pytest.approx(0.5, abs=0.002)
    assert view.cuts[2].closest.piece == "pebble"


@pytest.mark.parametrize("text", ["G41 D1\n", "G1 X1 Y1 Z1\nM2\n", "G1 F100 X5 Z-1\nM2\n"])
def test_our_own_text_that_cannot_be_judged_is_our_defect(job, emitted, text) -> None:
    emitted.path.write_text(text)
    with pytest.raises(InternalError, match=r"^01-front-flat-6\.nc, as written: "):
        judge_emitted(job, emitted, Stock.fresh(job), 1)


def test_replayed_gives_what_judging_gave(job, emitted) -> None:
    view, after = judge_emitted(job, emitted, Stock.fresh(job), 1)
    report, stock = replayed(read_back(job, emitted), Stock.fresh(job))
    assert report == view.report
    for side, face in stock.faces.items():
        assert (face.upper == after.faces[side].upper).all()
