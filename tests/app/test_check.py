"""Any program against the blank: names, faults, and what was cut before."""

import pytest

from toolpath.app.check import Run, check
from toolpath.check.report import Code, Verdict
from toolpath.errors import FaultsError

OPENING = "G21 G90 G17 G94\nS12000 M3\nF600\nG0 Z5\n"
# A pocket of one slot along y 20, 6 wide and 3 deep; then a rapid into it.
SLOT = OPENING + "G0 X10 Y20\nG1 Z-3 F200\nX40\nG0 Z5\nM2\n"
INTO = OPENING + "G0 X{x} Y20\nG0 Z-2\nG0 Z5\nM2\n"


@pytest.fixture
def job(write_job):
    return write_job(("tray", [10, 10, 30, 30]))


@pytest.fixture
def run(tmp_path):
    def make(text, *, face="front", cutter="flat 6", name="p.nc"):
        path = tmp_path / name
        path.write_text(text)
        return Run(face=face, cutter=cutter, program=path)

    return make


def faults_of(*words, **more):
    with pytest.raises(FaultsError) as caught:
        check(*words, **more)
    return caught.value.faults


def test_a_clear_program(job, run) -> None:
    done = check(job, run(SLOT))
    assert done.report.verdict is Verdict.CLEAR
    assert done.job.name == "clock"
    # The tip's nearest place to the pebble, whose middle is (85, 45, -15): the slot's end.
    assert done.report.closest.at == pytest.approx((40.0, 20.0, -3.0), abs=0.01)


@pytest.mark.parametrize("face", ["side", "Front", ""])
def test_a_wrong_face_is_a_fault_with_what_there_is(job, run, face) -> None:
    (fault,) = faults_of(job, run(SLOT, face=face))
    assert fault.file == "command line"
    assert f'"{face}" is not a face: write front, back or plate' in fault.message


def test_a_wrong_cutter_is_a_fault_with_what_there_is(job, run) -> None:
    (fault,) = faults_of(job, run(SLOT, cutter="flat 7"))
    assert fault.where == "--cutter"
    assert fault.message == '"flat 7" is not a cutter of clock.toml: it has "flat 6"'


@pytest.mark.parametrize("wrong", [{"face": "side"}, {"cutter": "flat 7"}])
def test_a_wrong_name_in_after_says_in_which(job, run, wrong) -> None:
    (fault,) = faults_of(job, run(SLOT), [run(SLOT), run(SLOT, **wrong)])
    assert fault.where == "--after 2"


def test_a_program_that_cannot_be_read_or_judged_is_a_fault(job, run, tmp_path) -> None:
    missing = Run(face="front", cutter="flat 6", program=tmp_path / "none.nc")
    (fault,) = faults_of(job, missing)
    assert fault.file == str(missing.program)
    (fault,) = faults_of(job, run("G21 G90\nG41 D1\nM2\n"))
    assert fault.message.startswith("line 2: ")
    (fault,) = faults_of(job, run(SLOT), [run("G21 G90 F100\nG1 Z-1\nM2\n", name="q.nc")])
    assert fault.file.endswith("q.nc")
    assert "line 2" in fault.message


def test_what_was_cut_before_changes_the_answer(job, run) -> None:
    into, aside = run(INTO.format(x=20), name="into.nc"), run(INTO.format(x=60), name="aside.nc")
    slot = run(SLOT)

    def answer(asked, after=(), **more):
        report = check(job, asked, after, **more).report
        rapids = [f for f in report.findings if f.code is Code.RAPID_IN_STOCK]
        return report.verdict, [f.refuses for f in rapids]

    assert answer(into) == (Verdict.CLEAR, [False])  # not known: a note
    assert answer(into, uncut=True) == (Verdict.REFUSED, [True])
    assert answer(into, [slot]) == (Verdict.CLEAR, [])
    assert answer(aside, [slot]) == (Verdict.REFUSED, [True])
    # Cut from the back, the front is whole.
    behind = run(SLOT, face="back", name="behind.nc")
    assert answer(into, [behind]) == (Verdict.REFUSED, [True])
    # Each goes on where the last ended.
    assert answer(into, [slot, behind]) == (Verdict.CLEAR, [])
    assert answer(into, [behind, slot]) == (Verdict.CLEAR, [])


def test_steps_are_told(job, run) -> None:
    steps: list[str] = []
    check(job, run(SLOT), [run(SLOT, name="q.nc")], progress=steps.append)
    assert steps == ["reading the job", "replaying q.nc", "judging p.nc"]
