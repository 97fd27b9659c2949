import math
from dataclasses import replace

import pytest

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Drill, Ledge, Pocket, Shape, Side


def drilled(kit, x, depth):
    return ["F200", f"G0 X{x} Y40 Z5", f"G1 Z-{depth}", "G0 Z5"]


def run(kit, job, steps):
    stock, answers = Stock.fresh(job), []
    tool = next(iter(job.cutters.values()))
    for side, lines in steps:
        judged = judge_program(
            job,
            side=side,
            cutter=tool,
            program=kit.read(*lines),
            stock=stock,
        )
        stock = judged.stock
        answers.append([f for f in judged.report.findings if f.code is Code.BREAK_THROUGH])
    return answers


@pytest.fixture
def drill(kit):
    return kit.cutter(
        name="drill 5",
        shape=Shape.DRILL,
        diameter=5.0,
        shank=5.0,
        angle=math.radians(118.0),
        flute_length=45.0,
        reach=50.0,
    )


def test_cuts_that_meet_from_both_faces(kit, drill):
    job = kit.job((), cutter=drill, thickness=40.0)
    # Program x 40 on the front is the blank's x 50, which the back sees at 130 - 50 = 80.
    front, meeting = (Side.FRONT, drilled(kit, 40, 25)), (Side.BACK, drilled(kit, 80, 16))
    beside, short = (Side.BACK, drilled(kit, 40, 16)), (Side.BACK, drilled(kit, 80, 14))
    assert [len(a) for a in run(kit, job, [front, meeting])] == [0, 1]
    assert [len(a) for a in run(kit, job, [front, beside])] == [0, 0]
    assert [len(a) for a in run(kit, job, [front, short])] == [0, 0]
    finding = run(kit, job, [front, meeting])[1][0]
    assert finding.refuses
    assert finding.line == 5
    assert finding.at[:2] == pytest.approx((50.0, 60.0))


def test_the_thickness_that_may_be_less(kit, drill):
    front, back = (Side.FRONT, drilled(kit, 40, 25)), (Side.BACK, drilled(kit, 80, 14))
    job = kit.job((), cutter=drill, thickness=40.0, within=1.5)
    assert [len(a) for a in run(kit, job, [front, back])] == [0, 1]


def test_one_finding_a_spot_and_only_once(kit, drill):
    job = kit.job((), cutter=drill)
    two = (Side.FRONT, [*drilled(kit, 40, 41), *drilled(kit, 70, 41)])
    shallow = (Side.FRONT, drilled(kit, 100, 5))
    assert [len(a) for a in run(kit, job, [two, shallow])] == [2, 0]


def test_declared_places_may_open(kit, drill):
    lines = drilled(kit, 40, 41)
    cut = Drill(
        name="holes",
        face=Side.FRONT,
        cutter=drill,
        depth=40.5,
        through=True,
        at=((50.0, 60.0),),
        peck=5.0,
        diameter=drill.diameter,
    )
    job = kit.job((), cutter=drill, cuts=(cut,))
    assert [len(a) for a in run(kit, job, [(Side.FRONT, lines)])] == [0]
    undeclared = kit.job((), cutter=drill)
    assert [len(a) for a in run(kit, undeclared, [(Side.FRONT, lines)])] == [1]
    elsewhere = drilled(kit, 45, 41)
    assert [len(a) for a in run(kit, job, [(Side.FRONT, elsewhere)])] == [1]


def test_bored_holes_and_pins_are_declared(kit):
    flat = kit.cutter(name="flat 4", diameter=4.0, shank=4.0, flute_length=50.0, reach=60.0)
    bored = Drill(
        name="register pins",
        face=Side.FRONT,
        cutter=flat,
        depth=48.0,
        through=True,
        at=((50.0, 60.0),),
        peck=5.0,
        diameter=8.0,
        pins=True,
    )
    lines = ["F200", "G0 X42 Y40 Z5", "G1 Z-48", "G3 X38 Y40 I-2 J0", "G3 X42 Y40 I2 J0", "G0 Z5"]
    for cut, found in ((bored, 0), (replace(bored, diameter=4.0), 1)):
        job = kit.job((), cutter=flat, cuts=(cut,))
        assert [len(a) for a in run(kit, job, [(Side.FRONT, lines)])] == [found]


def test_only_the_pocket_of_a_ledge_may_open(kit):
    tool = kit.cutter(flute_length=45.0, reach=50.0)
    ledge = Ledge(outline=(kit.rectangle(40.0, 50.0, 80.0, 90.0),), depth=4.0)
    pocket = Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=tool,
        depth=40.5,
        through=True,
        outline=(kit.rectangle(46.0, 56.0, 74.0, 84.0),),
        ledge=ledge,
    )
    job = kit.job((), cutter=tool, cuts=(pocket,))
    inside, on_ledge = drilled(kit, 50, 41), drilled(kit, 34, 41)
    assert [len(a) for a in run(kit, job, [(Side.FRONT, inside)])] == [0]
    assert [len(a) for a in run(kit, job, [(Side.FRONT, on_ledge)])] == [1]
