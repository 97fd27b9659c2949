import numpy as np
import pytest

from toolpath.check import closest
from toolpath.check.closest import BY_LINE, NEAR, approach, closest_approach
from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.check.report import Part
from toolpath.job.model import Box, Clamp, Cylinder, Drift, Side, Sphere


def near(kit, job, *lines, side=Side.FRONT, cutter=None):
    table = kit.read("F600", "G0 Z5", "G0 X0 Y0", *lines).moves
    table = table.take(table.known)
    tool = tool_of(cutter or kit.cutter(), job.machine.nut)
    return approach(table, tool, Obstacles.of(job, side), frame_of(job, side))


def test_each_line_has_its_own_nearest_place(kit):
    # A ball of 10 about program (60, 40, -13): the flat bottom (radius 3) passes above it.
    job = kit.job((kit.piece(Sphere(diameter=10.0)),))
    found = near(kit, job, "G1 Z-3", "X120 Y40", "X0 Y40", "G1 Y20")
    over = found.by_line[8]
    # Straight over the middle, the bottom at -3: 10 above it, less the radius 5.
    assert over.gap == pytest.approx(5.0, abs=0.1 * 5.0)
    assert over.gap >= 5.0 - 1e-9
    assert over.piece == "cog"
    assert abs(over.at_program[0] - 60.0) < 8.0
    assert over.at == pytest.approx(np.add(over.at_program, (10.0, 20.0, 0.0)))
    # A line at X0 is 60 - 3 - 5 away, further than what is listed.
    assert NEAR < 52.0
    assert set(found.by_line) == {7, 8}
    assert found.closest.gap == pytest.approx(5.0, abs=0.001)
    assert found.by_line[found.closest.line] is found.closest
    assert not found.short


def test_the_part_that_is_nearest_is_named(kit):
    # Top at -8. The tip goes down 20 beside it, the nut (radius 11) hangs 9 above the tip.
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))
    stubby = kit.cutter(flute_length=4.0, reach=9.0, shank=6.0)
    found = near(kit, job, "G0 X60 Y0", "G1 Z-14", "Y18", cutter=stubby)
    # The shank's side is 22 - 3 - 12 = 7 away; the nut, low end at -5, 3 above the top.
    assert found.closest.part is Part.NUT
    assert found.closest.gap == pytest.approx(3.0, abs=0.001)


def test_drift_counts_and_clamps_do_not(kit):
    solid = Sphere(diameter=10.0)
    clamp = Clamp(
        name="clamp 1", face=Side.FRONT, outline=(kit.circle(70.0, 40.0, 6.0),), height=15.0
    )
    lines = ["G1 X60 Y10", "Z-13"]
    still = near(kit, kit.job((kit.piece(solid),), clamps=(clamp,)), *lines)
    assert still.closest.gap == pytest.approx(30.0 - 3.0 - 5.0, abs=0.001)
    assert still.closest.piece == "cog"
    drifting = kit.piece(solid, drift=Drift(side=2.0))
    moved = near(kit, kit.job((drifting,)), *lines)
    assert moved.closest.gap == pytest.approx(20.0, abs=0.001)
    assert near(kit, kit.job(clamps=(clamp,)), *lines).closest is None


def test_what_is_too_near_is_known_as_short(kit):
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))  # needs 1.02, top at -8
    assert not near(kit, job, "G1 X60 Y40", "Z-6.97").short
    assert near(kit, job, "G1 X60 Y40", "Z-7").short


def test_on_the_back_places_are_told_in_the_blank(kit):
    job = kit.job((kit.piece(Sphere(diameter=10.0), measured_from=Side.BACK),))
    # Turned left to right: program x = 130 - x; the ball's middle is 13 below the back.
    found = near(kit, job, "G0 X60 Y40", "G1 Z-3", side=Side.BACK).closest
    assert found.gap == pytest.approx(5.0, abs=0.001)
    assert found.at == pytest.approx((70.0, 60.0, -37.0), abs=0.01)
    assert found.at_program == pytest.approx((60.0, 40.0, -3.0), abs=0.01)


def test_moves_from_nowhere_count_from_their_end_and_none_is_none(kit):
    job = kit.job((kit.piece(Sphere(diameter=10.0)),))
    moves = kit.read("F600", "G1 X60 Y40 Z-2").moves
    found = closest_approach(job, side=Side.FRONT, cutter=kit.cutter(), moves=moves)
    assert found.gap == pytest.approx(6.0, abs=0.001)
    none = moves.take(np.zeros(1, dtype=bool))
    assert closest_approach(job, side=Side.FRONT, cutter=kit.cutter(), moves=none) is None
    empty = approach(none, tool_of(kit.cutter(), job.machine.nut), Obstacles.of(job, Side.FRONT), 0)
    assert empty.closest is None
    assert empty.by_line == {}


def test_by_line_errs_upward_and_by_a_tenth_at_most(kit):
    rng = np.random.default_rng(5)
    job = kit.job((kit.piece(Sphere(diameter=10.0)),))
    lines = [
        f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}"
        for x, y, z in rng.uniform((30, 10, -20), (90, 70, 0), (40, 3))
    ]
    found = near(kit, job, *lines)
    moves = kit.read("F600", "G0 Z5", "G0 X0 Y0", *lines).moves
    for line, each in found.by_line.items():
        only = moves.take(moves.line == line)
        exact = closest_approach(job, side=Side.FRONT, cutter=kit.cutter(), moves=only)
        assert exact.gap - 0.001 <= each.gap <= exact.gap + 0.001 + max(BY_LINE, 0.1 * each.gap)
    assert len(found.by_line) > 30


def test_what_is_known_already_changes_no_answer(kit):
    # Over the middle of a ball of 10 whose top is 8 below the face: 5 above it at Z-3.
    job = kit.job((kit.piece(Sphere(diameter=10.0)),))
    lines = ("F600", "G0 Z5", "G0 X0 Y0", "G1 Z-3", "X120 Y40", "X0 Y40", "G1 Y20")
    table = kit.read(*lines).moves
    found = near(kit, job, *lines[3:])
    assert 5.0 - 1e-9 <= found.within_lines(8, 8) <= 5.0 * (1.0 + BY_LINE)
    assert found.within_lines(1, 5) == NEAR
    seen = {"side": Side.FRONT, "cutter": kit.cutter(), "moves": table}
    plain = closest_approach(job, **seen)
    assert plain.gap == pytest.approx(5.0, abs=0.001)
    for known in (found.within_lines(1, 99), plain.gap, 0.0):  # too little is looked for anew
        assert closest_approach(job, **seen, known=known).gap == pytest.approx(plain.gap, abs=1e-3)


def test_lines_found_some_at_a_time_are_found_again_the_same(kit, monkeypatch):
    # An arc out of the plane is many moves of one line, more than are looked at together here.
    rng = np.random.default_rng(8)
    job = kit.job((kit.piece(Sphere(diameter=10.0)), kit.piece(Box(size=(9.0, 9.0, 6.0)))))
    lines = [f"G1 X{x:.2f} Y{y:.2f} Z-4" for x, y in rng.uniform((0, 0), (120, 80), (30, 2))]
    lines[11:11] = ["G18", "G3 X60 Y40 Z-4 R200", "G17"]
    whole = near(kit, job, *lines)
    monkeypatch.setattr(closest, "ROWS", 4)
    parts = near(kit, job, *lines)
    assert list(parts.by_line) == list(whole.by_line) == parts.lines.tolist()
    assert len(parts.by_line) > 20
    for line, each in whole.by_line.items():
        told = max(BY_LINE, 0.1 * each.gap)
        assert parts.by_line[line].gap == pytest.approx(each.gap, abs=told)
        assert parts.by_line[line].line == line
    assert parts.closest.gap == pytest.approx(whole.closest.gap, abs=0.001)
    first = dict(parts.by_line)
    for line in rng.permutation(list(first)).tolist():
        assert parts.by_line[line] == first[line]
        near_line = np.searchsorted(parts.lines, line)
        assert line == parts.closest.line or first[line].gap == parts.gaps[near_line]
    for line in (0, max(first) + 1):
        assert parts.by_line.get(line) is None
