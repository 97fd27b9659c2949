import math
from dataclasses import replace

import pytest

from toolpath.check.hard import hard_pieces
from toolpath.check.replay import judge_program
from toolpath.check.report import Code, Part, Verdict
from toolpath.job.model import (
    Cylinder,
    Drift,
    Drill,
    Hardness,
    Ledge,
    Pocket,
    Profile,
    ProfileSide,
    Rule,
    Shape,
    Side,
)

COG = Cylinder(diameter=12.0, height=6.0)
# The cog stands at the blank's 70, 60 (program 60, 40 on the front), 8 to 14 mm deep.
INTO = ("G0 X60 Y40 Z5", "G1 Z-11", "G0 Z5")


def cog(kit, **changes):
    given = {"rule": Rule.MAY_CUT, "hardness": Hardness.METAL}
    return kit.piece(COG, **(given | changes))


def judge(kit, job, *lines, side=Side.FRONT, cutter=None):
    judged = judge_program(
        job,
        side=side,
        cutter=cutter or kit.cutter(),
        program=kit.read("F300", *lines),
        stock=None,
    )
    return judged.report, [f for f in judged.report.findings if f.code is Code.HARD_PIECE]


def pocket(kit, **changes):
    base = Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=20.0,
        outline=(kit.rectangle(55.0, 45.0, 85.0, 75.0),),
        through_hard=True,
    )
    return replace(base, **changes)


@pytest.mark.parametrize("hardness", list(Hardness))
def test_only_hard_pieces_refuse(kit, hardness):
    report, found = judge(kit, kit.job((cog(kit, hardness=hardness),)), *INTO)
    hard = hardness in (Hardness.METAL, Hardness.STONE, Hardness.GLASS)
    assert len(found) == hard
    assert (report.verdict is Verdict.REFUSED) == hard
    assert report.closest is None
    assert report.pieces_checked == 0


def test_what_the_maker_reads(kit):
    _, (found,) = judge(kit, kit.job((cog(kit),)), *INTO)
    assert found.message.startswith('metal piece "cog" may be cut but is hard: the flutes go into')
    assert "at x 70.00, y 60.00, depth 11 mm (program X60.000 Y40.000 Z-11.000)" in found.message
    assert "lines 5 to 6" in found.message
    assert "through_hard = true" in found.mend
    assert "no deeper than 7.99 mm" in found.mend
    assert (found.piece, found.part, found.line) == ("cog", Part.FLUTES, 5)
    assert found.clear_depth == pytest.approx(7.99)


@pytest.mark.parametrize(
    ("depth", "drift", "touched"),
    [
        (7.99, Drift(), False),
        (8.01, Drift(), True),
        (7.99, Drift(rise=0.5), True),
        (7.49, Drift(rise=0.5), False),
    ],
)
def test_a_touch_is_exact_and_grown_by_drift(kit, depth, drift, touched):
    job = kit.job((cog(kit, drift=drift),))
    _, found = judge(kit, job, "G0 X60 Y40 Z5", f"G1 Z-{depth}", "G0 Z5")
    assert len(found) == touched


@pytest.mark.parametrize(
    ("x", "side", "touched"), [(50.99, 0.0, False), (51.01, 0.0, True), (50.99, 0.1, True)]
)
def test_a_touch_from_the_side(kit, x, side, touched):
    job = kit.job((cog(kit, drift=Drift(side=side)),))
    lines = (f"G0 X{x} Y20 Z5", "G1 Z-11", "G1 Y60", "G0 Z5")
    assert len(judge(kit, job, *lines)[1]) == touched


def test_a_piece_to_be_kept_is_no_concern(kit):
    kept = cog(kit, rule=Rule.KEEP)
    assert hard_pieces(kit.job((kept,))) == ()
    report, found = judge(kit, kit.job((kept,)), *INTO)
    assert not found
    assert report.findings[0].code is Code.PIECE


def test_a_cut_that_says_so_may(kit):
    job = kit.job((cog(kit),), cuts=(pocket(kit),))
    around = ("G1 Z-11", "G1 X70", "G3 X60 Y50 I-10 J0", "G0 Z5")
    report, found = judge(kit, job, "G0 X60 Y40 Z5", *around)
    assert not found
    assert report.verdict is Verdict.CLEAR
    silent = kit.job((cog(kit),), cuts=(pocket(kit, through_hard=False),))
    assert judge(kit, silent, "G0 X60 Y40 Z5", *around)[1]
    other = kit.job((cog(kit),), cuts=(pocket(kit, face=Side.BACK),))
    assert judge(kit, other, "G0 X60 Y40 Z5", *around)[1]


def test_only_inside_its_area(kit):
    # The cavity ends at the blank's x 72, so its cutter's middle may go to 69 (program 59).
    half = pocket(kit, outline=(kit.rectangle(40.0, 45.0, 72.0, 75.0),))
    job = kit.job((cog(kit),), cuts=(half,))
    inside = ("G0 X40 Y40 Z5", "G1 Z-11", "G1 X59", "G0 Z5")
    beyond = ("G0 X40 Y40 Z5", "G1 Z-11", "G1 X60", "G0 Z5")
    assert not judge(kit, job, *inside)[1]
    (found,) = judge(kit, job, *beyond)[1]
    # A cell, 0.5 mm, is granted: refused from the blank's 69.5 on.
    assert 69.49 <= found.at[0] <= 70.01


def test_ledges_holes_and_profiles(kit):
    ledge = Ledge(outline=(kit.rectangle(55.0, 45.0, 85.0, 75.0),), depth=12.0)
    small = pocket(kit, outline=(kit.rectangle(76.5, 66.5, 84.0, 74.0),), ledge=ledge)
    assert not judge(kit, kit.job((cog(kit),), cuts=(small,)), *INTO)[1]
    hole = Drill(
        name="hole",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=20.0,
        at=((70.0, 60.0),),
        peck=5.0,
        diameter=10.0,
        through_hard=True,
    )
    bore = ("G0 X62 Y40 Z5", "G1 Z-11", "G3 X62 Y40 I-2 J0", "G0 Z5")
    assert not judge(kit, kit.job((cog(kit),), cuts=(hole,)), *bore)[1]
    narrow = replace(hole, diameter=6.0)
    assert judge(kit, kit.job((cog(kit),), cuts=(narrow,)), *bore)[1]
    line = Profile(
        name="edge",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=20.0,
        outline=(kit.rectangle(67.0, 30.0, 100.0, 90.0),),
        side=ProfileSide.OUTER,
        through_hard=True,
    )
    along = ("G0 X54 Y15 Z5", "G1 Z-11", "G1 Y65", "G0 Z5")
    assert not judge(kit, kit.job((cog(kit),), cuts=(line,)), *along)[1]


def test_a_rapid_into_it_refuses_too(kit):
    job = kit.job((cog(kit),), cuts=(pocket(kit, outline=(kit.rectangle(60, 50, 73, 63),)),))
    lines = ("G0 X30 Y40 Z5", "G0 Z-11", "G0 X80 Y41", "G0 Z5")
    assert judge(kit, job, *lines)[1]


def test_shank_and_nut_are_looked_at(kit):
    short = kit.cutter(flute_length=5.0, reach=12.0, shank=4.0)
    job = kit.job((cog(kit, depth=1.0),), cutter=short)
    # Beside the cog by 0.5 mm with the cutter, into it with the nut of 11 mm radius.
    lines = ("G0 X69.5 Y40 Z13", "G1 Z-15", "G0 Z13")
    _, found = judge(kit, job, *lines, cutter=short)
    assert [f.part for f in found] == [Part.NUT]
    assert "the nut goes into it" in found[0].message


def test_a_drill_on_the_back(kit):
    drill = kit.cutter(shape=Shape.DRILL, diameter=5.0, angle=math.radians(118.0))
    job = kit.job((cog(kit),), cutter=drill)
    # Seen from the back the cog stands at program 60, 40 as well, 26 to 32 mm deep.
    point = 2.5 / math.tan(math.radians(59.0))
    for depth, touched in ((25.9, False), (26.1, True), (26.0 - point, False)):
        lines = ("G0 X60 Y40 Z5", f"G1 Z-{depth:.3f}", "G0 Z5")
        assert len(judge(kit, job, *lines, side=Side.BACK, cutter=drill)[1]) == touched


@pytest.mark.parametrize(("x", "touched"), [(80, False), (85.9, False), (86.1, True)])
def test_a_move_that_leaves_its_area_is_judged_where_it_is_outside(kit, x, touched):
    # The cut that says so ends at x 85 of the blank (75 of the program); the cog begins at 99 (89).
    job = kit.job((cog(kit, at=(105.0, 60.0)),), cuts=(pocket(kit),))
    lines = ("G0 X60 Y40 Z5", "G1 Z-11", f"G1 X{x}", "G1 X60", "G0 Z5")
    assert len(judge(kit, job, *lines)[1]) == touched
