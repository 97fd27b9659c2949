"""Which straight plunges are told of; what stands by hand from the cutters' forms."""

import math
from dataclasses import replace

import pytest

from toolpath.check.replay import judge_program
from toolpath.check.stock import Stock
from toolpath.job.model import Shape, Side

BALL = {"name": "ball 6", "shape": Shape.BALL}


def plunges(kit, lines, before=(), cell=0.5, **cutter):
    """What is said of plunges in a program over what earlier ones, each with its cutter, cut."""
    tool = kit.cutter(**cutter)
    job = kit.job((), cutter=tool)
    job = replace(job, check=replace(job.check, cell=cell))
    stock = Stock.fresh(job)
    for earlier, their_lines in [*before, (tool, lines)]:
        done = judge_program(
            job, side=Side.FRONT, cutter=earlier, program=kit.read(*their_lines), stock=stock
        )
        stock = done.stock
    return [f.message for f in done.report.findings if "straight plunge" in f.message]


def slot(depth, y=40):
    return ["F600", f"G0 X20 Y{y} Z5", f"G1 Z-{depth}", "X60", "G0 Z5"]


def room(kit, depth):
    """20 to 60 by 30 to 50, cut to a depth with a thin ball: walls 1 from its path."""
    lines = [f"G0 X21 Y31 Z5 F600\nG1 Z-{depth}\nX59\nY49\nX21\nY31"]
    for k in range(19):
        y = 31 + k
        lines.append(f"X{59 if k % 2 == 0 else 21} Y{y}\nY{min(y + 1, 49)}")
    return kit.cutter(name="ball 2", diameter=2.0, shape=Shape.BALL), [*lines, "G0 Z5"]


def test_a_ball_beside_a_wall_over_a_cut_floor_is_in_no_stock(kit):
    # Its edge is 0.1 from the wall of a room 4 deep, its tip 0.5 over the floor.
    down = ["F600", "G0 X23.1 Y40 Z5", "G1 Z-3.5", "X40", "G0 Z5"]
    assert plunges(kit, down, [room(kit, 4.0)], **BALL) == []


@pytest.mark.parametrize("depth", [4.1, 5.0])
def test_under_the_floor_it_is(kit, depth):
    down = ["F600", "G0 X23.1 Y40 Z5", f"G1 Z-{depth}", "X40", "G0 Z5"]
    assert len(plunges(kit, down, [room(kit, 4.0)], **BALL)) == 1


def test_into_the_wall_it_is_too(kit):
    # 0.5 beyond the face of the wall, at the height of its face the ball is 3 wide.
    down = ["F600", "G0 X22.5 Y40 Z5", "G1 Z-3.5", "X40", "G0 Z5"]
    assert len(plunges(kit, down, [room(kit, 4.0)], **BALL)) == 1


@pytest.mark.parametrize(("shape", "other"), [
    (Shape.FLAT, {}), (Shape.BALL, {}), (Shape.BULL, {"corner_radius": 1.0}),
    (Shape.VEE, {"angle": math.radians(60.0)}),
])  # fmt: skip
def test_into_the_whole_blank_every_cutter_plunges(kit, shape, other):
    said = plunges(kit, slot(1.0), shape=shape, **other)
    assert len(said) == 1
    assert said[0].startswith("1 straight plunge into stock")


def test_a_ball_between_its_own_passes_meets_only_ridges(kit):
    # Passes 1 apart leave 3 - sqrt(9 - 0.25) = 0.042 between them: 0.02 over the tip at -2.98.
    before = [(kit.cutter(**BALL), [*slot(3.0, 40), *slot(3.0, 41)])]
    down = ["F600", "G0 X40 Y40.5 Z5", "G1 Z-2.98", "X50", "G0 Z5"]
    assert plunges(kit, down, before, **BALL) == []
    down[2] = "G1 Z-3.1"
    assert len(plunges(kit, down, before, **BALL)) == 1


def test_many_short_pecks_are_a_plunge(kit):
    pecks = ["F600", "G0 X40 Y40 Z5", *(f"G1 Z-{k * 0.02:.2f}" for k in range(1, 51)), "G0 Z5"]
    for shape in (Shape.FLAT, Shape.BALL):
        (said,) = plunges(kit, pecks, cell=0.1, shape=shape)
        assert int(said.split()[0]) > 40


def test_what_the_same_program_cut_across_before_is_gone(kit):
    # At the face a ball 1.5 deep is sqrt(9 - 2.25) = 2.6 wide each way: 0.2 aside of 3.
    again = [*slot(3.0), "G0 X40 Y40.2 Z5", "G1 Z-1.5", "G0 Z5"]
    assert len(plunges(kit, again, **BALL)) == 1
    assert plunges(kit, again, **BALL)[0].startswith("1 straight plunge")
