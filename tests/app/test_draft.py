"""Drafts: what is planned, what is refused, and what never gets that far."""

from dataclasses import replace

import pytest

from toolpath.app import draft as module
from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.load import load_job
from toolpath.app.progress import silent
from toolpath.check.report import Verdict
from toolpath.errors import FaultsError

LEFT = ("left", [10, 10, 30, 30])
RIGHT = ("right", [50, 10, 70, 30])
NARROW = ("slit", [40, 60, 46.2, 66.2])  # a cutter of 6 fits and could only plunge


@pytest.fixture
def drafted(tmp_path, write_job):
    def run(*cuts, progress=silent, **more):
        with publish.fresh(tmp_path / "out") as made:
            scene = draft(load_job(write_job(*cuts, **more)), made, progress)
            texts = {p.name: p.read_text() for p in (made.folder / "programs").iterdir()}
        return scene, texts

    return run


def test_programs_and_cuts_count_in_cutting_order(drafted) -> None:
    back = ("behind", [10, 50, 30, 70], 2.0, "back")
    steps: list[str] = []
    scene, texts = drafted(LEFT, back, RIGHT, progress=steps.append)
    assert scene.verdict is Verdict.CLEAR
    # The faces as they first come: both front cuts are one program.
    assert [p.file for p in scene.programs] == ["01-front-flat-6.nc", "02-back-flat-6.nc"]
    assert sorted(texts) == [p.file for p in scene.programs]
    cuts = [(c.number, c.planned.cut.name) for p in scene.programs for c in p.cuts]
    assert cuts == [(1, "left"), (2, "right"), (3, "behind")]
    # Some of it is done in a copy of the process, which says nothing; the replay never is.
    every = [
        *("planning left", "planning right", "planning behind"),
        *("checking 01-front-flat-6.nc", "checking 02-back-flat-6.nc"),
        "checking 01-front-flat-6.nc beside the pieces",
        "checking 02-back-flat-6.nc beside the pieces",
        "checking what is left",
    ]
    assert steps == [step for step in every if step in steps]
    assert set(every[3:5]) <= set(steps)
    assert steps[0].startswith("planning ")


def test_travel_is_a_fault_with_the_program_and_the_axis(drafted, head) -> None:
    short = head.replace("travel = [300, 200, 60]", "travel = [40, 200, 60]")
    # x from 13 to 67: 54 of 40.
    with pytest.raises(FaultsError) as caught:
        drafted(LEFT, RIGHT, head=short)
    (fault,) = caught.value.faults
    assert fault.where == "machine: travel"
    assert fault.message.startswith("01-front-flat-6.nc: X goes from")
    assert drafted(LEFT, head=short)[0].verdict is Verdict.CLEAR


@pytest.mark.parametrize("place", [0, 1, 2])
def test_no_way_in_refuses_that_cut_and_plans_the_others(drafted, place) -> None:
    cuts = [LEFT, RIGHT]
    cuts.insert(place, NARROW)
    scene, texts = drafted(*cuts)
    assert scene.verdict is Verdict.REFUSED
    views = {c.planned.cut.name: c for c in scene.programs[0].cuts}
    names = {c.planned.cut.name for c in scene.programs[0].cuts}
    assert names == {cut[0] for cut in cuts}
    slit = views["slit"]
    assert slit.verdict is Verdict.REFUSED
    assert slit.refusal.startswith('cut "slit": no way in at x 43.10 y 63.10')
    assert slit.planned.moves == ()
    for name in ("left", "right"):
        assert views[name].verdict is Verdict.CLEAR
        assert views[name].refusal == ""
        # Read back, they still cut to their depth: the refused one took none of their lines.
        assert views[name].moves.end[:, 2].min() == pytest.approx(-4.0)
    x = views["left"].moves.end[:, 0]
    assert x[x == x].max() < 40.0
    assert "Cut slit" in texts["01-front-flat-6.nc"]


def test_a_piece_in_the_way_refuses_its_cut_only(drafted) -> None:
    # The pebble's top is 8 below the front; 7.5 deep leaves 0.5 of 1.02.
    scene, _ = drafted(LEFT, ("deep", [70, 30, 100, 60], 7.5))
    assert scene.verdict is Verdict.REFUSED
    left, deep = scene.programs[0].cuts
    assert (left.verdict, left.findings) == (Verdict.CLEAR, ())
    assert deep.verdict is Verdict.REFUSED
    assert {f.piece for f in deep.findings if f.refuses} == {"pebble"}


def test_what_belongs_to_no_cut_still_refuses_the_whole(drafted, monkeypatch) -> None:
    real = module.program_view

    def stern(*arguments):
        view = real(*arguments)
        return replace(view, report=replace(view.report, verdict=Verdict.REFUSED))

    monkeypatch.setattr(module, "program_view", stern)
    scene, _ = drafted(LEFT)
    assert [c.verdict for c in scene.programs[0].cuts] == [Verdict.CLEAR]
    assert scene.verdict is Verdict.REFUSED


def test_the_stock_goes_from_one_program_to_the_next(drafted, monkeypatch) -> None:
    real, given, left = module.replay, [], []

    def watched(read, stock):
        done = real(read, stock)
        given.append(stock)
        left.append(done.left)
        return done

    monkeypatch.setattr(module, "replay", watched)
    drafted(LEFT, ("behind", [10, 50, 30, 70], 2.0, "back"))
    assert given[1] is left[0]
    assert given[0] is not left[0]
