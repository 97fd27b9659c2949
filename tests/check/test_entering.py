import math
from dataclasses import replace

import pytest

from toolpath.check import chords
from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Neck, Nut, Shape, Shoe, Side


def codes(kit, lines, cutter=None, side=Side.FRONT, before=(), **job_words):
    tool = cutter or kit.cutter()
    job = kit.job((), cutter=tool, **job_words)
    stock = Stock.fresh(job)
    for earlier, their_side, their_lines in before:
        stock = judge_program(
            job, side=their_side, cutter=earlier, program=kit.read(*their_lines), stock=stock
        ).stock
    report = judge_program(
        job, side=side, cutter=tool, program=kit.read(*lines), stock=stock
    ).report
    return [f.code for f in report.findings if f.refuses]


SLOT = ["F600", "G0 X20 Y40 Z5", "G1 Z-3", "X60", "G0 Z5"]


def test_a_rapid_into_solid_stock_is_found(kit):
    assert codes(kit, ["G0 X20 Y40 Z5", "G0 Z-1"]) == [Code.RAPID_IN_STOCK]
    assert codes(kit, ["G0 X20 Y40 Z5", "G0 X60"]) == []
    # Outside the blank (program x from 0 to 120) there is no stock.
    assert codes(kit, ["G0 X-5 Y40 Z5", "G0 Z-10"]) == []
    assert codes(kit, ["G0 X-2.5 Y40 Z5", "G0 Z-10"]) == [Code.RAPID_IN_STOCK]


def test_a_rapid_back_into_what_was_cut_is_clear(kit):
    assert codes(kit, [*SLOT, "G0 X40", "G0 Z-3", "G0 X20"]) == []
    assert codes(kit, [*SLOT, "G0 X40", "G0 Z-3.1"]) == [Code.RAPID_IN_STOCK]
    assert codes(kit, [*SLOT, "G0 X40 Y40.1", "G0 Z-3"]) == [Code.RAPID_IN_STOCK]


def test_only_what_was_cut_before_counts(kit):
    early = ["F600", "G0 X20 Y40 Z5", "G0 Z-2", "G1 X60", "G0 Z5"]
    assert codes(kit, early) == [Code.RAPID_IN_STOCK]


def test_the_wall_between_two_vee_grooves_is_stock(kit):
    # At 60 degrees a groove 3 deep is 3.46 wide at the face: between two of them, 5 apart, a wall
    # stands whole, 1.54 wide, although both lie under the cutter's full width of 6.
    vee = kit.cutter(name="vee 60", shape=Shape.VEE, angle=math.radians(60.0))
    grooves = [*SLOT, "G0 X20 Y45 Z5", "G1 Z-3", "X60", "G0 Z5"]
    assert codes(kit, [*grooves, "G0 X40 Y42.5", "G0 Z-2.9"], vee) == [Code.RAPID_IN_STOCK]
    assert codes(kit, [*grooves, "G0 X40 Y45", "G0 Z-2.9"], vee) == []


@pytest.mark.parametrize(("depth", "expected"), [(0.6, []), (1.4, [Code.RAPID_IN_STOCK])])
def test_a_ball_beside_a_wall_is_no_cylinder(kit, depth, expected):
    # Half a millimetre out of the middle of a slot as wide as the ball, its edge is 2.5 from the
    # axis: the ball meets it 3 - sqrt(3^2 - 2.5^2) = 1.34 below the face (Pythagoras).
    ball = kit.cutter(name="ball 6", shape=Shape.BALL)
    before = [(kit.cutter(), Side.FRONT, SLOT)]
    lines = ["G0 X40 Y40.5 Z5", f"G0 Z-{depth}"]
    assert codes(kit, lines, ball, before=before) == expected
    assert codes(kit, lines, before=before) == [Code.RAPID_IN_STOCK]


def test_a_rapid_down_to_a_slope_ends_where_the_slope_was(kit):
    # From 0 at x 20 to 4 deep at x 60: half way the cutter stood 2 deep.
    slope = ["F600", "G0 X20 Y40 Z5", "G1 Z0", "X60 Z-4", "G0 Z5", "G0 X40"]
    assert codes(kit, [*slope, "G0 Z-1.95"]) == []
    assert codes(kit, [*slope, "G0 Z-2.05"]) == [Code.RAPID_IN_STOCK]


@pytest.mark.parametrize(("shank", "expected"), [(6.0, []), (8.0, [Code.SHANK_IN_STOCK])])
def test_a_shank_in_a_deep_slot_round_a_bend(kit, shank, expected):
    # A quarter turn of radius 20 from below the blank into it, in passes of 4 down to 16; the
    # flutes are 10 long. Only on the arc does the shank go into stock first.
    bend = ["F600", "G0 X60 Y-10 Z5"]
    for depth in (4, 8, 12, 16):
        bend += ["G0 X60 Y-10", f"G1 Z-{depth}", "G3 X80 Y10 I0 J20", "G0 Z5"]
    tool = kit.cutter(flute_length=10.0, shank=shank)
    assert sorted(set(codes(kit, bend, tool)), key=str) == expected


def test_an_earlier_program_counts_and_one_of_the_other_face_does_not(kit):
    into = ["G0 X40 Y40 Z5", "G0 Z-2"]
    assert codes(kit, into, before=[(kit.cutter(), Side.FRONT, SLOT)]) == []
    # The same place from the back is x' = 120 - x.
    mirrored = ["G0 X80 Y40 Z5", "G0 Z-2"]
    found = codes(kit, mirrored, side=Side.BACK, before=[(kit.cutter(), Side.FRONT, SLOT)])
    assert found == [Code.RAPID_IN_STOCK]


def test_pecks_of_a_drill_are_clear(kit):
    drill = kit.cutter(name="drill 5", shape=Shape.DRILL, diameter=5.0, shank=5.0, angle=2.06)
    lines = ["F200", "G0 X40 Y40 Z2"]
    for depth in (4, 8, 12):
        lines += [f"G1 Z-{depth}", "G0 Z2", f"G0 Z-{depth - 0.3}"]
    assert codes(kit, lines, cutter=drill) == []
    lines[-1] = "G0 Z-12.5"
    assert codes(kit, lines, cutter=drill) == [Code.RAPID_IN_STOCK]


def test_a_link_in_a_cleared_pocket_is_clear_and_its_wander_box_counts(kit):
    pocket = ["F600", "G0 X20 Y20 Z5", "G1 Z-3"]
    for y in range(20, 42, 2):
        pocket += [f"G1 Y{y}", "X60" if y % 4 == 0 else "X20"]
    # Between its passes stand scallops of 0.17 mm at the sides: 3 - sqrt(3^2 - 1^2).
    assert codes(kit, [*pocket, "G0 X20 Y20"]) == [Code.RAPID_IN_STOCK]
    pocket += ["G1 Y20", "X20", "Y40", "X60"]
    assert codes(kit, [*pocket, "G0 X20 Y20", "G0 X60 Y40"]) == []
    # An L of two slots: the line between their ends is not cut, nor is the box.
    ell = ["F600", "G0 X20 Y20 Z5", "G1 Z-3", "X60", "Y60", "G0 X20 Y20"]
    assert codes(kit, ell) == [Code.RAPID_IN_STOCK]
    square = ["F600", "G0 X20 Y20 Z5", "G1 Z-3", "X60", "Y60", "G0 Y20", "G0 X20"]
    assert codes(kit, square) == []


@pytest.mark.parametrize(
    ("shank", "expected"), [(4.0, []), (6.0, []), (7.0, [Code.SHANK_IN_STOCK])]
)
def test_a_shank_in_a_deep_slot(kit, shank, expected):
    # Flutes 8 long in a slot cut to 12 in four levels: the shank is 4 below the face.
    cutter = kit.cutter(flute_length=8.0, shank=shank)
    lines = ["F600", "G0 X20 Y40 Z5"]
    for number, depth in enumerate((3, 6, 9, 12)):
        lines += [f"G1 Z-{depth}", "X60" if number % 2 == 0 else "X20"]
    assert codes(kit, lines, cutter=cutter) == expected


def test_a_nut_in_a_narrow_pocket(kit):
    cutter = kit.cutter(flute_length=8.0, shank=5.0, reach=11.0)
    lines = ["F600", "G0 X20 Y40 Z5", "G1 Z-6", "X60", "Z-12", "X20"]
    assert Code.NUT_IN_STOCK in codes(kit, lines, cutter=cutter)


@pytest.mark.parametrize(("drop", "expected"), [(3.0, [Code.SHOE_IN_STOCK]), (2.0, [])])
def test_a_dust_shoe_lower_than_the_face(kit, drop, expected):
    # 40 - 38 = 2 are left under the nut in a slot 38 deep: a shoe that hangs 3 rubs, one that
    # hangs 2 just slides on the face.
    lines = ["F600", "G0 X20 Y40 Z5"]
    for number in range(20):
        lines += [f"G1 Z-{min(2 * (number + 1), 38)}", "X60" if number % 2 == 0 else "X20"]
    job = kit.job(())
    nut = Nut(shoe=Shoe(diameter=80.0, drop=drop))
    job = replace(job, machine=replace(job.machine, nut=nut))
    report = judge_program(
        job,
        side=Side.FRONT,
        cutter=kit.cutter(shank=5.0),
        program=kit.read(*lines),
        stock=Stock.fresh(job),
    ).report
    assert [f.code for f in report.findings if f.refuses] == expected


def test_a_neck_thinner_than_its_slot_and_the_shank_above_it(kit):
    # Flutes of 6 to 8, neck of 5 to 11: in a slot 12 deep the shank of 7 is 1 below the face.
    lines = ["F600", "G0 X20 Y40 Z5"]
    for number, depth in enumerate((3, 6, 9, 12)):
        lines += [f"G1 Z-{depth}", "X60" if number % 2 == 0 else "X20"]
    for length, expected in ((12.0, []), (11.0, [Code.SHANK_IN_STOCK])):
        cutter = kit.cutter(flute_length=8.0, shank=7.0, neck=Neck(diameter=5.0, length=length))
        assert codes(kit, lines, cutter=cutter) == expected


def test_an_arc_clears_stock_too(kit):
    # A bore of radius 5 + 3 by a full circle; a rapid anywhere within 5 of the middle is clear.
    bore = ["F600", "G0 X45 Y40 Z5", "G1 Z-3", "G3 X45 Y40 I-5 J0", "G1 X40", "G0 X43 Y42"]
    assert codes(kit, bore) == []
    bore[-1] = "G0 X44.5 Y44.5"
    assert codes(kit, bore) == [Code.RAPID_IN_STOCK]


def test_a_round_blank_has_no_corners(kit):
    outline = kit.circle(70.0, 60.0, 40.0)
    # Program zero is (30, 20): the corner (2, 2) is outside the disc, (40, 10) inside.
    assert codes(kit, ["G0 X2 Y2 Z5", "G0 Z-3"], outline=outline) == []
    assert codes(kit, ["G0 X40 Y10 Z5", "G0 Z-3"], outline=outline) == [Code.RAPID_IN_STOCK]


def test_one_finding_for_one_stretch(kit):
    lines = ["G0 X20 Y40 Z5", "G0 Z-1", *(f"G0 X{x}" for x in range(21, 60))]
    job = kit.job(())
    report = judge_program(
        job, side=Side.FRONT, cutter=kit.cutter(), program=kit.read(*lines), stock=Stock.fresh(job)
    ).report
    found = [f for f in report.findings if f.refuses]
    assert len(found) == 1
    assert found[0].line == 4
    assert found[0].at == pytest.approx((30.0, 60.0, -1.0))
    assert math.isclose(found[0].at_program[2], -1.0)


def test_what_was_cut_is_found_however_the_cuts_are_grouped(kit, monkeypatch):
    """A program of some hundred short moves, with rapids back into it: in its groove and beside."""
    lines = ["F600", "G0 X20 Y40 Z5", "G1 Z-3"]
    lines += [f"X{20 + step / 4:.2f} Y{40 + 3 * math.sin(step / 9):.3f}" for step in range(300)]
    for step in (5, 150, 290):
        y = 40 + 3 * math.sin(step / 9)
        lines += ["G0 Z5", f"X{20 + step / 4:.2f} Y{y:.3f}", "Z-3", "Z5", f"Y{y + 0.6:.3f}", "Z-3"]
    found = {}
    for run in (3, 64, 100_000):
        monkeypatch.setattr(chords, "_RUN", run)
        found[run] = codes(kit, lines)
    assert found[3] == found[64] == found[100_000] == [Code.RAPID_IN_STOCK] * 3
