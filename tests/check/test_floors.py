"""Floors against sums that anybody can do: thickness less both depths, and Pythagoras on a slant
(elementary)."""

import math
from dataclasses import replace

import pytest

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Pocket, Profile, ProfileSide, Shape, Side, Skim, Tabs


def slot(x0, x1, y, depth):
    """A slot of the cutter, 6 mm wide, along x of the blank; zero of the front is (10, 20)."""
    return ["F300", f"G0 X{x0 - 10} Y{y - 20} Z5", f"G1 Z-{depth}", f"G1 X{x1 - 10}", "G0 Z5"]


def from_back(x0, x1, y, depth):
    """The same cut while the back is up, turned over left to right: x' = 130 - x."""
    return ["F300", f"G0 X{130 - x0} Y{y - 20} Z5", f"G1 Z-{depth}", f"G1 X{130 - x1}", "G0 Z5"]


def run(kit, job, *steps):
    """Findings about floors of each program, one after another on one blank."""
    stock, found = Stock.fresh(job), []
    tool = next(iter(job.cutters.values()))
    for side, lines in steps:
        judged = judge_program(job, side=side, cutter=tool, program=kit.read(*lines), stock=stock)
        stock = judged.stock
        found.append([f for f in judged.report.findings if f.code is Code.FLOOR])
    return found


def job_with(kit, least, wall=0.0, within=0.0, **cutter):
    job = kit.job(cutter=kit.cutter(flute_length=45.0, reach=60.0, **cutter), within=within)
    return replace(job, check=replace(job.check, least_floor=least, least_wall=wall))


@pytest.mark.parametrize(("depth", "refused"), [(37.0, 0), (36.99, 0), (37.01, 1), (38.5, 1)])
def test_one_face_leaves_the_thickness_less_the_depth(kit, depth, refused):
    (found,) = run(kit, job_with(kit, 3.0), (Side.FRONT, slot(40, 90, 60, depth)))
    assert len(found) == refused
    for finding in found:
        assert finding.refuses
        assert finding.gap == pytest.approx(40.0 - depth, abs=1e-4)
        assert finding.needed == 3.0
        assert finding.at[2] == pytest.approx(-depth)


@pytest.mark.parametrize(("second", "refused"), [(16.9, 0), (17.1, 1)])
def test_both_faces_one_over_the_other(kit, second, refused):
    steps = (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, from_back(50, 80, 60, second))
    first, later = run(kit, job_with(kit, 3.0), *steps)
    assert [len(first), len(later)] == [0, refused]
    # A blank that may be 0.5 mm thinner has that much less.
    thinner = run(kit, job_with(kit, 3.0, within=0.5), *steps)
    assert len(thinner[1]) == 1
    assert thinner[1][0].gap == pytest.approx(39.5 - 20.0 - second, abs=1e-4)


@pytest.mark.parametrize(("aside", "refused"), [(2.0, 1), (4.9, 0)])
def test_on_a_slant_between_cavities_side_by_side(kit, aside, refused):
    # Edges `aside` apart in plan and 1 mm in height: the way through is the hypotenuse; a cell of
    # 0.5 mm may be lost on either side.
    back = from_back(40, 90, 60 + 6 + aside, 19)
    found = run(kit, job_with(kit, 3.0), (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, back))[1]
    assert len(found) == refused
    for finding in found:
        assert math.hypot(aside - 1.5, 1.0) <= finding.gap <= math.hypot(aside, 1.0) + 1e-6


def test_side_by_side_at_one_height_is_a_wall_and_no_floor(kit):
    back = from_back(40, 90, 68, 25)
    steps = (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, back)
    assert [len(each) for each in run(kit, job_with(kit, 3.0), *steps)] == [0, 0]


def test_where_both_are_stated_a_slant_needs_the_lesser(kit):
    back = from_back(40, 90, 60 + 6 + 2.0, 19)
    steps = (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, back)
    assert [len(each) for each in run(kit, job_with(kit, 3.0, wall=0.5), *steps)] == [0, 0]


def test_nothing_is_asked_of_cuts_that_go_through_nor_without_a_least(kit):
    lines = slot(40, 90, 60, 39)
    assert run(kit, job_with(kit, 0.0), (Side.FRONT, lines)) == [[]]
    job = job_with(kit, 3.0)
    through = Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=next(iter(job.cutters.values())),
        depth=40.5,
        through=True,
        outline=(kit.rectangle(37.0, 57.0, 93.0, 63.0),),
    )
    assert run(kit, replace(job, cuts=(through,)), (Side.FRONT, lines)) == [[]]


def test_each_spot_once_and_only_by_the_program_that_made_it(kit):
    two = slot(30, 50, 40, 38) + slot(80, 100, 80, 38)
    found = run(kit, job_with(kit, 3.0), (Side.FRONT, two), (Side.FRONT, slot(40, 60, 60, 5)))
    assert [len(each) for each in found] == [2, 0]


def test_a_drill_counts_to_its_point(kit):
    # 118 degrees and 6 mm: the point reaches to the given Z, as the tip is programmed.
    drill = {"name": "drill 6", "shape": Shape.DRILL, "angle": math.radians(118.0)}
    job = job_with(kit, 3.0, **drill)
    for depth, count in ((36.9, 0), (37.1, 1)):
        lines = ["F200", "G0 X40 Y40 Z5", f"G1 Z-{depth}", "G0 Z5"]
        assert [len(each) for each in run(kit, job, (Side.FRONT, lines))] == [count]


def skimmed_and_cut_out(kit, least):
    """The front brought down by half a millimetre and a part cut out from the back with a tab that
    slopes down on both sides."""
    job = job_with(kit, least)
    tool = next(iter(job.cutters.values()))
    skim = Skim(name="skim", face=Side.FRONT, cutter=tool, depth=0.5, outline=(job.blank.outline,))
    edge = Profile(
        name="edge",
        face=Side.BACK,
        cutter=tool,
        depth=40.0,
        through=True,
        outline=(kit.rectangle(40.0, 40.0, 100.0, 80.0),),
        side=ProfileSide.OUTER,
        tabs=Tabs(count=1, width=8.0, height=3.0),
    )
    strokes = [f"G1 X{x} Y{y}" for y in range(-2, 84, 4) for x in (-5, 125)]
    rows = ["F300", "G0 X-5 Y-2 Z5", "G1 Z-0.5", *strokes, "G0 Z5"]
    tab = ["G1 X45", "G1 X53 Z-36.5", "G1 X67", "G1 X75 Z-40"]
    rim = ["F300", "G0 X27 Y17 Z5", "G1 Z-40", *tab, "G1 X93", "G1 Y63", "G1 X27", "G1 Y17"]
    steps = (Side.FRONT, rows), (Side.BACK, [*rim, "G0 Z5"])
    return replace(job, cuts=(skim, edge)), steps


def test_beside_the_slope_of_a_tab_there_is_no_floor(kit):
    # A floor of 1.5 mm is less than the tab: nothing is thin there but what is meant to go.
    job, steps = skimmed_and_cut_out(kit, 1.5)
    assert run(kit, job, *steps) == [[], []]


def test_a_cavity_beside_a_cut_that_goes_through_is_judged_as_before(kit):
    job, steps = skimmed_and_cut_out(kit, 3.0)
    cavity = (Side.BACK, from_back(60, 80, 60, 37.0))
    found = run(kit, job, *steps, cavity)[2]
    assert [f.gap for f in found] == [pytest.approx(40.0 - 0.5 - 37.0, abs=1e-4)]


def test_a_slant_near_a_cut_that_goes_through_is_judged_as_before(kit):
    job = job_with(kit, 3.0)
    edge = Profile(
        name="edge",
        face=Side.BACK,
        cutter=next(iter(job.cutters.values())),
        depth=40.5,
        through=True,
        outline=(kit.rectangle(30.0, 30.0, 110.0, 73.0),),
        side=ProfileSide.OUTER,
    )
    steps = (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, from_back(40, 90, 60 + 6 + 2.0, 19))
    assert len(run(kit, replace(job, cuts=(edge,)), *steps)[1]) == 1


def test_on_a_slant_the_place_is_one_that_the_program_cut(kit):
    # The floor lies beside the slot that made it too thin, under a pass in the air: the line and
    # the depth are the slot's.
    air = ["F300", "G0 X90 Y42 Z5", "G1 Z0.5", "G1 X40", "G0 Z5"]
    back = [*air, *from_back(40, 90, 60 + 6 + 2.0, 19)]
    (finding,) = run(
        kit, job_with(kit, 3.0), (Side.FRONT, slot(40, 90, 60, 20)), (Side.BACK, back)
    )[1]
    assert finding.at_program[2] == pytest.approx(-19.0)
    assert finding.at[1] == pytest.approx(68.0)
