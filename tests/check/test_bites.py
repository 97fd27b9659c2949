"""Engaged width and depth against what the moves themselves say (elementary)."""

import math

import numpy as np
import pytest

from toolpath.check import chords
from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Shape, Side


def judged(kit, *lines, stock=True, **cutter):
    job = kit.job(cutter=kit.cutter(flute_length=45.0, reach=60.0, **cutter))
    tool = next(iter(job.cutters.values()))
    known = Stock.fresh(job) if stock else None
    return judge_program(
        job, side=Side.FRONT, cutter=tool, program=kit.read(*lines), stock=known
    ).report


def slots(pitch, depth=2.0, count=4):
    """Straight passes side by side, each ramped along into the cleared one before it."""
    rows = ["F600", "G0 X10 Y10 Z5", "G1 Z0", f"G1 X90 Z-{depth}", "G1 X10", "G1 X90"]
    for number in range(1, count):
        x = 10 if number % 2 else 90
        rows += [f"G1 Y{10 + number * pitch}", f"G1 X{x}"]
    return [*rows, "G0 Z5"]


@pytest.mark.parametrize("pitch", [1.2, 2.4, 3.6])
def test_side_by_side_the_cutter_is_engaged_by_the_step(kit, pitch):
    report = judged(kit, *slots(pitch))
    # The first way back is a slot; the steps aside too are wider. All others take the step.
    assert report.engaged.widest == pytest.approx(6.0, abs=0.4)
    assert 70.0 <= report.engaged.slot_length <= 80.0 + 3 * pitch + 2.0
    assert report.engaged.length >= 80.0 * 4
    # The slot is the way back, line 7, and the steps aside after it.
    assert report.engaged.slots[0].first == 7
    assert report.engaged.slots[0].length == pytest.approx(80.0, abs=2.5)


def test_a_way_through_a_cleared_slot_takes_nothing(kit):
    lines = slots(2.4, count=1)
    again = [*lines[:-1], "G1 X10", "G1 X90", "G1 X10", "G0 Z5"]
    assert judged(kit, *again).engaged.length == pytest.approx(
        judged(kit, *lines).engaged.length, abs=2.5
    )


def test_half_of_the_cutter_over_the_rim_is_half_the_width(kit):
    # The blank's lower edge is at program y 0: half the cutter runs in air.
    lines = ["F600", "G0 X-10 Y0 Z5", "G1 Z-2", "G1 X0", "G1 X120", "G0 Z5"]
    report = judged(kit, *lines)
    assert report.engaged.widest == pytest.approx(3.0, abs=0.4)
    assert report.engaged.slot_length == 0.0
    assert report.engaged.length == pytest.approx(125.0, abs=6.0)


def test_a_drill_is_not_engaged_sideways(kit):
    drill = {"name": "drill 6", "shape": Shape.DRILL, "angle": math.radians(118.0)}
    assert judged(kit, "F200", "G0 X40 Y40 Z5", "G1 Z-20", "G0 Z5", **drill).engaged is None


@pytest.mark.parametrize(("depth", "told"), [(3.0, 0), (3.04, 0), (3.2, 1), (9.0, 1)])
def test_more_than_the_stepdown_at_once_is_noted(kit, depth, told):
    # A ramp takes no more than it falls within the cutter; the way back levels its wedge.
    lines = ["F600", "G0 X-10 Y30 Z5", f"G1 Z-{depth}", "G1 X130", "G0 Z5"]
    found = [f for f in judged(kit, *lines).findings if f.code is Code.STEPDOWN]
    assert len(found) == told
    for finding in found:
        assert not finding.refuses
        assert finding.gap == pytest.approx(depth, abs=1e-3)
        assert finding.needed == 3.0
        assert finding.line == 6


def test_level_after_level_nothing_is_noted(kit):
    lines = ["F600", "G0 X-10 Y30 Z5"]
    for level, x in ((3, 130), (6, -10), (9, 130)):
        lines += [f"G1 Z-{level}", f"G1 X{x}"]
    assert not [f for f in judged(kit, *lines, "G0 Z5").findings if f.code is Code.STEPDOWN]


def test_a_last_pass_down_a_whole_wall_takes_a_sliver_and_is_not_noted(kit):
    lines = ["F600", "G0 X-10 Y30 Z5"]
    for level, x in ((3, 130), (6, -10), (9, 130)):
        lines += [f"G1 Z-{level}", f"G1 X{x}"]
    lines += ["G1 Y30.3", "G1 X-10", "G0 Z5"]
    assert not [f for f in judged(kit, *lines).findings if f.code is Code.STEPDOWN]


def test_in_a_blank_of_unknown_state_it_is_taken_as_whole(kit):
    lines = ["F600", "G0 X-10 Y30 Z5", "G1 Z-9", "G1 X130", "G0 Z5"]
    report = judged(kit, *lines, stock=False)
    assert [f.code for f in report.findings if f.code is Code.STEPDOWN]
    assert np.isfinite(report.engaged.widest)


@pytest.mark.parametrize("at_once", [1, 2, 7])
def test_what_is_taken_does_not_depend_on_how_much_is_looked_at_at_once(kit, monkeypatch, at_once):
    # Steps of 0.7 mm: stretches of 2 mm end and begin everywhere, also between parts.
    steps = [f"G1 X{10 + 0.7 * step:.1f} Y{20 + 6 * (step // 40)}" for step in range(90)]
    lines = ["F600", "G0 X10 Y20 Z5", "G1 Z-8", *steps, "G0 Z5"]
    whole = judged(kit, *lines, stepdown=2.0)
    assert whole.engaged.slots and any(each.code is Code.STEPDOWN for each in whole.findings)
    monkeypatch.setattr(chords, "_AT_ONCE", at_once)
    parts = judged(kit, *lines, stepdown=2.0)
    assert parts.engaged == whole.engaged
    assert parts.findings == whole.findings
