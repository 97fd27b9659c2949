"""Rehearsals of a drafted job, read back from the text."""

import pytest

from toolpath.app import publish
from toolpath.app.draft import draft
from toolpath.app.load import load_job
from toolpath.app.progress import silent
from toolpath.motion.moves import Kind
from toolpath.rs274.read import read_program
from toolpath.units import Unit

CLAMP = """
[[clamp]]
face = "front"
outline = { rect = [-10, 35, 15, 60] }
height = 16
"""


@pytest.fixture
def rehearsed(tmp_path, write_job):
    def run(*cuts, **more):
        with publish.fresh(tmp_path / "out") as made:
            scene = draft(load_job(write_job(*cuts, **more)), made, silent)
            folder = made.folder / "rehearsal"
            texts = {p.name: p.read_text() for p in folder.iterdir()} if folder.exists() else {}
        return scene, texts

    return run


def test_the_box_is_that_of_the_cuts_at_the_height_of_rapids(rehearsed) -> None:
    _, texts = rehearsed(("left", [20, 10, 40, 30]), pieces=CLAMP)
    box = read_program(texts["01-front-flat-6-box.nc"], unit=Unit.MM).moves
    feeds = box.take(box.kind != Kind.RAPID)
    # A cutter of 6 in a pocket from 20 to 40: its middle runs from 23 to 37.
    assert feeds.end[:, 0].min() == pytest.approx(23.0, abs=0.01)
    assert feeds.end[:, 0].max() == pytest.approx(37.0, abs=0.01)
    assert feeds.end[:, 1].min() == pytest.approx(13.0, abs=0.01)
    # Over a clamp of 16, by more than the clearance of 1.
    assert (feeds.end[:, 2] > 17.0).all()
    assert feeds.lengths().sum() == pytest.approx(2 * (14.0 + 14.0), abs=0.1)


def test_the_air_pass_stays_above_the_face(rehearsed) -> None:
    scene, texts = rehearsed(("left", [20, 10, 40, 30], 6.0))
    air = read_program(texts["01-front-flat-6-air.nc"], unit=Unit.MM).moves
    cut = scene.programs[0].cuts[0].moves
    assert air.end[:, 2].min() == pytest.approx(5.0)
    feeds = air.take(air.kind != Kind.RAPID)
    assert feeds.lengths().sum() == pytest.approx(
        cut.take(cut.kind != Kind.RAPID).lengths().sum(), rel=1e-6
    )


def test_both_run_with_the_spindle_off_and_name_their_program(rehearsed) -> None:
    scene, texts = rehearsed(("left", [20, 10, 40, 30]))
    assert sorted(texts) == ["01-front-flat-6-air.nc", "01-front-flat-6-box.nc"]
    for kind in ("air", "box"):
        lines = texts[f"01-front-flat-6-{kind}.nc"].splitlines()
        assert lines[0] == f"({kind} pass of code {scene.programs[0].code})"
        assert not any(line.split()[0] == "M3" for line in lines)
        assert "M5" in lines


def test_a_refused_job_is_not_rehearsed(rehearsed) -> None:
    # The pebble's top is 8 below the front; 7.5 deep leaves 0.5 of 1.02.
    _, texts = rehearsed(("left", [20, 10, 40, 30]), ("deep", [70, 30, 100, 60], 7.5))
    assert texts == {}


def test_a_rehearsal_that_would_hit_something_is_our_defect(rehearsed, monkeypatch) -> None:
    from toolpath.app import rehearsal
    from toolpath.check.report import Code, Finding
    from toolpath.errors import InternalError

    hit = Finding(code=Code.CLAMP, message="planted")
    monkeypatch.setattr(rehearsal, "judge_rehearsal", lambda *words, **more: (hit,))
    with pytest.raises(InternalError, match=r"01-front-flat-6-box\.nc is not clear"):
        rehearsed(("left", [20, 10, 40, 30]))
