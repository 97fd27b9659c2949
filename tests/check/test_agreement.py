"""What must stop everything: two parts of the check, or check and planner, that disagree."""

import math
from dataclasses import replace

import numpy as np
import pytest

from toolpath.check import grid, replay
from toolpath.check.closest import approach
from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.check.replay import _agree, judge_program
from toolpath.check.words import Scene, breach_findings
from toolpath.errors import InternalError
from toolpath.job.model import Box, Cylinder, Drift, Side, Sphere


@pytest.fixture
def searched(kit):
    """Findings and the approach of one program that comes to 0.5 where 1.02 is needed."""
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))
    table = kit.read("F600", "G0 Z5", "G0 X0 Y0", "G0 X60 Y40", "G1 Z-7.5", "G0 Z5").moves
    table = table.take(table.known)
    obstacles, frame = Obstacles.of(job, Side.FRONT), frame_of(job, Side.FRONT)
    tool = tool_of(kit.cutter(), job.machine.nut)
    scene = Scene(
        table=table,
        obstacles=obstacles,
        frame=frame,
        cutter=kit.cutter(),
        nut=job.machine.nut,
        unit=job.unit,
    )
    found = breach_findings(scene, obstacles.breaches(table, tool))
    return found, approach(table, tool, obstacles, frame)


def test_two_searches_that_agree_pass(searched):
    found, nearest = searched
    assert [f.line for f in found] == [7]
    _agree(found, nearest)


def test_an_approach_that_misses_a_breach_is_a_defect(searched):
    found, nearest = searched
    with pytest.raises(InternalError, match="how near line 7 comes"):
        _agree(found, replace(nearest, by_line={}))


def test_an_approach_that_says_too_much_is_a_defect(searched):
    found, nearest = searched
    known = nearest.by_line[7]
    # By line a tenth of a millimetre is allowed; 0.2 is not.
    _agree(found, replace(nearest, by_line={7: replace(known, gap=known.gap + 0.09)}))
    with pytest.raises(InternalError, match='"cog"'):
        _agree(found, replace(nearest, by_line={7: replace(known, gap=known.gap + 0.2)}))


def test_a_breach_that_only_the_approach_knows_is_a_defect(searched):
    _, nearest = searched
    assert nearest.short
    with pytest.raises(InternalError, match="one of them found nothing"):
        _agree([], nearest)


@pytest.mark.parametrize(
    ("z", "wrong", "words"),
    [(-7.5, {"by_line": {}}, "how near line 7 comes"), (-5.0, {"short": True}, "nothing too near")],
)
def test_every_program_is_held_to_it(kit, monkeypatch, z, wrong, words):
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))
    program = kit.read("F600", "G0 Z5", "G0 X0 Y0", "G0 X60 Y40", f"G1 Z{z}", "G0 Z5")

    def judged():
        judge_program(job, side=Side.FRONT, cutter=kit.cutter(), program=program, stock=None)

    judged()
    monkeypatch.setattr(replay, "approach", lambda *a: replace(approach(*a), **wrong))
    with pytest.raises(InternalError, match=words):
        judged()


DRIFT = Drift(side=0.6, rise=0.4, turn=0.2)
SOLIDS = [Box(size=(20.0, 8.0, 6.0)), Cylinder(diameter=12.0, height=6.0), Sphere(diameter=9.0)]


def doctored(kit, monkeypatch, solid, **changes):
    """A job, and the height fields of one whose piece differs from its piece by `changes`."""
    job = kit.job((kit.piece(solid, turn=0.5, drift=DRIFT),))
    other = kit.job((kit.piece(solid, turn=0.5, **({"drift": DRIFT} | changes)),))
    real = grid.piece_fields
    monkeypatch.setattr(grid, "piece_fields", lambda job, side: real(other, side))
    grid.checked_obstacles.cache_clear()
    return job


def judge(kit, job, side):
    program = kit.read("F600", "G0 Z5", "G0 X2 Y2", "G1 X4")
    return judge_program(job, side=side, cutter=kit.cutter(), program=program, stock=None)


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("solid", SOLIDS, ids=lambda solid: type(solid).__name__)
def test_the_same_job_passes(kit, monkeypatch, solid, side):
    judge(kit, doctored(kit, monkeypatch, solid), side)


@pytest.mark.parametrize("solid", SOLIDS, ids=lambda solid: type(solid).__name__)
@pytest.mark.parametrize(
    ("changes", "seen_from"),
    [
        ({"depth": 8.05}, Side.FRONT),
        ({"depth": 7.95}, Side.BACK),
        ({"drift": replace(DRIFT, rise=0.0)}, Side.FRONT),
        ({"drift": replace(DRIFT, rise=0.0)}, Side.BACK),
        ({"drift": replace(DRIFT, side=0.0)}, Side.FRONT),
        ({"at": (74.0, 60.0)}, Side.FRONT),
    ],
    ids=lambda value: str(value)[:40],
)
def test_fields_of_another_piece_are_a_defect(kit, monkeypatch, solid, changes, seen_from):
    job = doctored(kit, monkeypatch, solid, **changes)
    with pytest.raises(InternalError, match='disagree about "cog"'):
        judge(kit, job, seen_from)


def test_a_box_that_turns_less_is_a_defect(kit, monkeypatch):
    job = doctored(kit, monkeypatch, SOLIDS[0], drift=replace(DRIFT, turn=0.0))
    with pytest.raises(InternalError, match='disagree about "cog"'):
        judge(kit, job, Side.FRONT)


def test_a_piece_that_the_fields_do_not_know_is_a_defect(kit, monkeypatch):
    job = doctored(kit, monkeypatch, SOLIDS[2], clearance=1.5)
    with pytest.raises(InternalError, match='know nothing of "cog"'):
        judge(kit, job, Side.FRONT)


def test_obstacles_are_compared_once_for_each_job_and_face(kit, monkeypatch):
    job, calls = kit.job((kit.piece(SOLIDS[1]),)), []
    real = grid.cross_check
    monkeypatch.setattr(grid, "cross_check", lambda *a: calls.append(a[1]) or real(*a))
    grid.checked_obstacles.cache_clear()
    for side in (Side.FRONT, Side.FRONT, Side.BACK):
        judge(kit, job, side)
    assert calls == [Side.FRONT, Side.BACK]
    assert math.isclose(grid.checked_obstacles(job, Side.FRONT).top, -8.0)
    assert np.isfinite(grid.checked_obstacles(job, Side.BACK).top)


def test_a_tenth_of_the_gap_that_is_told_is_allowed(searched):
    found, nearest = searched
    far = [replace(each, gap=3.0, needed=3.1) for each in found]
    known = nearest.by_line[7]
    # A search that stopped at 3.33 may have missed 3.0, one that stopped at 3.35 may not.
    _agree(far, replace(nearest, by_line={7: replace(known, gap=3.33)}, short=False))
    with pytest.raises(InternalError, match='"cog"'):
        _agree(far, replace(nearest, by_line={7: replace(known, gap=3.35)}, short=False))
