"""Programs as they are written: the code in line 1, and the same moves in the air."""

import pytest

from toolpath.app import publish
from toolpath.app.emit import emit, lifted
from toolpath.app.load import load_job
from toolpath.app.names import short_code
from toolpath.plan.programs import plan_cut, unbroken_runs
from toolpath.rs274.read import read_program
from toolpath.rs274.write import write_program
from toolpath.units import Unit


@pytest.fixture
def made(tmp_path, write_job):
    job = load_job(write_job(("left", [10, 10, 30, 30]), ("right", [50, 10, 70, 30])))
    (plan,) = unbroken_runs([part for cut in job.cuts for part in plan_cut(job, cut)])

    def write(plate: bool = False):
        with publish.fresh(tmp_path / "out") as scratch:
            emitted = emit(job, plan, 3, scratch, plate=plate)
            return emitted, emitted.path.read_text()

    return write


def test_line_1_holds_a_code_of_all_the_rest(made) -> None:
    emitted, text = made()
    first, rest = text.split("\n", 1)
    assert first == f"(Code {emitted.code})"
    assert emitted.code == short_code(rest)
    assert text == emitted.written.text


def test_sections_know_their_lines(made) -> None:
    emitted, text = made()
    lines = text.splitlines()
    starts = [lines[first - 1] for first, _ in emitted.written.section_lines]
    assert starts == ["(Cut left)", "(Cut right)"]
    assert len(lines) == emitted.written.lines


def test_a_plate_says_so(made) -> None:
    emitted, text = made(plate=True)
    assert emitted.path.name == "03-plate-flat-6.nc"
    assert "(Program 03, PLATE up)" in text
    assert "(X0 Y0 lower-left of the sheet)" in text
    assert "(X0 Y0 lower-left of the blank, from this face)" in made()[1]


def test_lifted_is_the_same_way_higher_with_the_spindle_off(made) -> None:
    emitted, text = made()
    low = read_program(text, unit=Unit.MM)
    high_text = write_program(lifted(emitted.spec, 12.5)).text
    high = read_program(high_text, unit=Unit.MM)
    assert not any(line.split()[0] in ("M3", "M4") for line in high_text.splitlines())
    assert len(low.moves) == len(high.moves)
    lifts = high.moves.end[:, 2] - low.moves.end[:, 2]
    assert lifts == pytest.approx(12.5)
    known = low.moves.end[:, 0] == low.moves.end[:, 0]
    assert high.moves.end[known, :2] == pytest.approx(low.moves.end[known, :2])
