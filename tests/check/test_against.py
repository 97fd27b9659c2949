"""What is cut too much and too little against areas by hand (elementary)."""

import math
from dataclasses import replace

import pytest

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Drill, IfBlocked, Pocket, Profile, ProfileSide, Side, Tabs


def lane(y, x0=30.0, x1=90.0, depth=5.0):
    """A straight way of the cutter, 6 mm wide, in program places: zero is (10, 20)."""
    return ["F600", f"G0 X{x0} Y{y} Z5", f"G1 Z-{depth}", f"G1 X{x1}", "G0 Z5"]


def notes(kit, job, lines, code, side=Side.FRONT):
    tool = next(iter(job.cutters.values()))
    program = kit.read(*lines)
    report = judge_program(job, side=side, cutter=tool, program=program, stock=Stock.fresh(job))
    found = [f for f in report.report.findings if f.code is code]
    assert not any(f.refuses for f in found)
    return found


@pytest.fixture
def channel(kit):
    """A channel of the blank from (37, 57) to (103, 63), round ends left to the corners."""
    tool = kit.cutter(flute_length=45.0, reach=60.0)
    cut = Pocket(
        name="channel",
        face=Side.FRONT,
        cutter=tool,
        depth=5.0,
        outline=(kit.rectangle(37.0, 57.0, 103.0, 63.0),),
    )
    job = kit.job(cutter=tool, cuts=(cut,))
    return replace(job, check=replace(job.check, cell=0.2))


def test_what_is_cut_as_drawn_is_neither(kit, channel):
    for code in (Code.OVERCUT, Code.UNCUT):
        assert notes(kit, channel, lane(40), code) == []


def test_cut_beside_the_cut_is_too_much(kit, channel):
    (found,) = notes(kit, channel, lane(45), Code.OVERCUT)
    # 5 mm aside: a strip of 60 x 5 lies outside, and about 13 mm² of the round ends; a cell of
    # 0.2 mm is granted all round.
    assert found.gap == pytest.approx(60.0 * 5.0 + 13.0, rel=0.08)
    assert found.message.startswith("overcut: ")
    assert "by up to 5 mm" in found.message


def test_cut_deeper_than_the_cut_is_too_much(kit, channel):
    (found,) = notes(kit, channel, lane(40, depth=5.4), Code.OVERCUT)
    assert "deeper than the cuts there, by up to 0.4 mm" in found.message
    assert found.gap == pytest.approx(60.0 * 6.0 + math.pi * 9.0, rel=0.1)


def test_on_a_face_without_cuts_nothing_is_said(kit, channel):
    assert notes(kit, channel, lane(40), Code.OVERCUT, Side.BACK) == []


def test_half_of_the_way_leaves_half_uncut(kit, channel):
    (found,) = notes(kit, channel, lane(40, x1=60.0), Code.UNCUT)
    # 30 mm of 5.4 mm without the rim of a cell and a half on either side.
    assert found.gap == pytest.approx(30.0 * 5.4, rel=0.08)
    assert '"channel"' in found.message


def test_less_deep_leaves_all_of_it_uncut(kit, channel):
    (found,) = notes(kit, channel, lane(40, depth=4.8), Code.UNCUT)
    assert found.gap == pytest.approx(60.0 * 5.4 + math.pi * 2.7**2, rel=0.06)


def test_what_another_cut_explains_is_no_beginning(kit, channel):
    # A rim 2 deep lies over the channel, for the same cutter: to have cut it is not to have begun
    # with the channel; deeper is.
    (cut,) = channel.cuts
    rim = replace(cut, name="rim", outline=(kit.rectangle(30.0, 50.0, 110.0, 70.0),), depth=2.0)
    both = replace(channel, cuts=(rim, cut))
    names = [f.message.split('"')[1] for f in notes(kit, both, lane(40, depth=2.0), Code.UNCUT)]
    assert names == ["rim"]
    names = [f.message.split('"')[1] for f in notes(kit, both, lane(40, depth=3.0), Code.UNCUT)]
    assert sorted(names) == ["channel", "rim"]


def test_another_cut_or_cutter_or_floor_that_may_rise_is_not_asked_for(kit, channel):
    (cut,) = channel.cuts
    half = lane(40, x1=60.0)
    thin = kit.cutter(name="flat 3", diameter=3.0)
    for other in (
        replace(cut, outline=(kit.rectangle(37.0, 80.0, 103.0, 86.0),)),
        replace(cut, smaller=(thin,)),
        replace(cut, if_blocked=IfBlocked.RISE),
    ):
        assert notes(kit, replace(channel, cuts=(other,)), half, Code.UNCUT) == []


def test_a_hole_that_is_not_deep_enough(kit, channel):
    tool = next(iter(channel.cutters.values()))
    cut = Drill(
        name="hole",
        face=Side.FRONT,
        cutter=tool,
        depth=8.0,
        at=((50.0, 60.0),),
        peck=4.0,
        diameter=6.0,
    )
    job = replace(channel, cuts=(cut,))
    for depth, count in ((8.0, 0), (7.5, 1)):
        lines = ["F200", "G0 X40 Y40 Z5", f"G1 Z-{depth}", "G0 Z5"]
        assert len(notes(kit, job, lines, Code.UNCUT)) == count


def test_tabs_of_a_profile_may_stand_to_their_height(kit, channel):
    tool = next(iter(channel.cutters.values()))
    cut = Profile(
        name="rim",
        face=Side.FRONT,
        cutter=tool,
        depth=40.5,
        through=True,
        outline=(kit.rectangle(40.0, 43.0, 100.0, 77.0),),
        side=ProfileSide.OUTER,
        tabs=Tabs(count=1, width=6.0, height=2.0),
    )
    job = replace(channel, cuts=(cut,))
    around = ["X93 Y20", "X93 Y60", "X27 Y60", "X27 Y20"]
    ways = ["F600", "G0 X27 Y20 Z5", "G1 Z-40.5", *(f"G1 {place}" for place in around), "G0 Z5"]
    assert notes(kit, job, ways, Code.UNCUT) == []
    tab = [*ways[:4], "G1 X93 Y34", "G1 Z-38", "G1 Y46", "G1 Z-40.5", *ways[4:]]
    assert notes(kit, job, tab, Code.UNCUT) == []
    high = [row.replace("Z-38", "Z-37.5") for row in tab]
    assert len(notes(kit, job, high, Code.UNCUT)) == 1
    # The kerf lies outside: nothing of it is too much; on the line itself half of it is.
    assert notes(kit, job, ways, Code.OVERCUT) == []
    inside = [row.replace("Y20", "Y23") for row in ways]
    assert len(notes(kit, job, inside, Code.OVERCUT)) == 1
