"""Walls against shapely: the least distance of what two cutters sweep, as outlines drawn by it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point

from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import Stock
from toolpath.job.model import Profile, ProfileSide, Shape, Side

LEAST = 2.0


def along(points, depth):
    """A slot of the cutter along points of the blank, while the front is up: zero is (10, 20)."""
    (x, y), *rest = [(x - 10.0, y - 20.0) for x, y in points]
    return [
        "F300",
        f"G0 X{x:.5f} Y{y:.5f} Z5",
        f"G1 Z-{depth}",
        *(f"G1 X{x:.5f} Y{y:.5f}" for x, y in rest),
        "G0 Z5",
    ]


def from_back(points, depth):
    """The same while the back is up, turned over left to right: x' = 130 - x."""
    return along([(140.0 - x, y) for x, y in points], depth)


def ring(x, y, radius, depth):
    """A whole circle of the cutter's middle about a point of the blank."""
    east = x + radius - 10.0
    return [
        "F300",
        f"G0 X{east} Y{y - 20} Z5",
        f"G1 Z-{depth}",
        f"G3 X{east} Y{y - 20} I{-radius} J0",
        "G0 Z5",
    ]


def run(kit, job, *steps):
    stock, found = Stock.fresh(job), []
    tool = next(iter(job.cutters.values()))
    for side, lines in steps:
        judged = judge_program(job, side=side, cutter=tool, program=kit.read(*lines), stock=stock)
        stock = judged.stock
        found.append([f for f in judged.report.findings if f.code is Code.WALL])
    return found


def job_with(kit, least=LEAST, cell=0.5, cuts=(), **cutter):
    tool = kit.cutter(flute_length=45.0, reach=60.0, **cutter)
    job = kit.job(cutter=tool, cuts=cuts)
    return replace(job, check=replace(job.check, least_wall=least, cell=cell))


@pytest.mark.parametrize("cell", [0.2, 0.5])
@pytest.mark.parametrize("number", range(12))
def test_between_two_slots_at_any_angle(kit, number, cell):
    rng = np.random.default_rng(number)
    first = LineString([(50, 60), (90, 60)])
    spread = float(rng.uniform(-0.02, 0.02)) if number % 2 else 0.0
    wall = LEAST + (0.02 if number % 4 < 2 else -0.02) + (0.0 if number < 8 else -1.5)
    second = affinity.rotate(LineString([(55, 60), (80, 60)]), math.degrees(spread), "centroid")
    second = affinity.translate(second, 0, 6.0 + wall)
    second = affinity.translate(second, 0, wall - (first.distance(second) - 6.0))
    angle = float(rng.uniform(0, 360))
    lines = [affinity.rotate(line, angle, (70, 60)) for line in (first, second)]
    truth = lines[0].distance(lines[1]) - 6.0
    assert truth == pytest.approx(wall, abs=1e-9)
    text = [row for line in lines for row in along(line.coords, 8)]
    (found,) = run(kit, job_with(kit, cell=cell), (Side.FRONT, text))
    assert len(found) == (wall < LEAST)
    for finding in found:
        assert finding.refuses
        assert finding.gap == pytest.approx(truth, abs=0.012)
        assert finding.needed == LEAST


@pytest.mark.parametrize("wall", [0.1, 1.97, 2.03])
def test_between_rings(kit, wall):
    text = ring(70, 60, 10.0, 6) + ring(70, 60, 10.0 + 6.0 + wall, 9)
    (found,) = run(kit, job_with(kit, cell=0.2), (Side.FRONT, text))
    assert bool(found) == (wall < LEAST)
    assert all(f.gap == pytest.approx(wall, abs=0.012) for f in found)


@pytest.mark.parametrize(("deep", "refused"), [(25, 1), (10, 0)])
def test_between_the_cavities_of_both_faces_where_they_overlap_in_height(kit, deep, refused):
    front = along([(50, 60), (90, 60)], 20)
    back = from_back([(50, 67.5), (90, 67.5)], deep)
    found = run(kit, job_with(kit), (Side.FRONT, front), (Side.BACK, back))
    assert [len(each) for each in found] == [0, refused]
    for finding in found[1]:
        assert finding.gap == pytest.approx(1.5, abs=0.012)
        assert -20.0 <= finding.at[2] <= -15.0 + 1e-6


@pytest.mark.parametrize(("within", "refused"), [(0.0, 0), (1.0, 1)])
def test_in_the_thinnest_blank_cavities_overlap_sooner(kit, within, refused):
    # 20 deep and 19.5 deep, the blank 40: half a millimetre apart, or over each other in one of 39.
    job = job_with(kit)
    job = replace(job, blank=replace(job.blank, thickness_within=within))
    front = along([(50, 60), (90, 60)], 20)
    back = from_back([(50, 67.5), (90, 67.5)], 19.5)
    found = run(kit, job, (Side.FRONT, front), (Side.BACK, back))
    assert [len(each) for each in found] == [0, refused]


def test_a_wall_to_what_an_earlier_program_cut(kit):
    first, far, second = (along([(50, y), (90, y)], 5) for y in (60, 80, 67.5))
    found = run(kit, job_with(kit), *((Side.FRONT, each) for each in (first, far, second)))
    assert [len(each) for each in found] == [0, 0, 1]
    assert found[2][0].gap == pytest.approx(1.5, abs=0.012)


@pytest.mark.parametrize(("y", "refused"), [(24.5, 1), (25.1, 0)])
def test_beside_the_rim(kit, y, refused):
    # The rim is at y = 20, the slot reaches down to y - 3.
    (found,) = run(kit, job_with(kit), (Side.FRONT, along([(50, y), (90, y)], 5)))
    assert len(found) == refused
    assert all(f.gap == pytest.approx(y - 23.0, abs=0.012) for f in found)


def test_a_corner_and_the_cusp_of_two_holes_are_no_walls(kit):
    square = [(50, 40), (80, 40), (80, 70), (50, 70), (50, 40)]
    (found,) = run(kit, job_with(kit, cell=0.2), (Side.FRONT, along(square, 5)))
    assert found == []
    holes = along([(60, 60)], 5) + along([(65, 60)], 5)  # 6 mm wide, 5 mm apart
    (found,) = run(kit, job_with(kit, cell=0.2), (Side.FRONT, holes))
    assert found == []


def test_a_rib_that_stands_in_a_cavity_is_one(kit):
    around = [(50, 40), (90, 40), (90, 47.2), (50, 47.2)]  # leaves 1.2 mm between its legs
    (found,) = run(kit, job_with(kit, cell=0.2), (Side.FRONT, along(around, 5)))
    assert len(found) == 1
    assert found[0].gap == pytest.approx(1.2, abs=0.012)


@pytest.mark.parametrize("shape", [Shape.BALL, Shape.VEE])
def test_a_round_or_pointed_cutter_is_as_wide_as_at_the_face(kit, shape):
    angle = {"angle": math.radians(90.0)} if shape is Shape.VEE else {}
    job = job_with(kit, cell=0.2, name="other", shape=shape, **angle)
    # 2 mm deep: a vee of 90 degrees is 4 mm wide at the face, a ball of 6 mm 2 sqrt(9 - 1).
    wide = 4.0 if shape is Shape.VEE else 2.0 * math.sqrt(8.0)
    for wall, count in ((1.9, 1), (2.1, 0)):
        second = [(50, 60 + wide + wall), (90, 60 + wide + wall)]
        text = along([(50, 60), (90, 60)], 2) + along(second, 2)
        (found,) = run(kit, job, (Side.FRONT, text))
        assert len(found) == count
        assert all(f.gap == pytest.approx(wall, abs=0.03) for f in found)


def test_what_falls_away_is_no_wall(kit):
    job = job_with(kit)
    outline = Profile(
        name="rim",
        face=Side.FRONT,
        cutter=next(iter(job.cutters.values())),
        depth=40.5,
        through=True,
        outline=(kit.rectangle(17.5, 40.0, 110.0, 80.0),),
        side=ProfileSide.OUTER,
    )
    text = along([(14.5, 37), (14.5, 83)], 8)  # leaves 1.5 mm to the rim at x = 10
    (found,) = run(kit, job, (Side.FRONT, text))
    assert len(found) == 1
    (found,) = run(kit, replace(job, cuts=(outline,)), (Side.FRONT, text))
    assert found == []


def test_each_once_and_only_by_the_program_that_made_it(kit):
    two = along([(50, 60), (90, 60)], 6) + along([(50, 67), (90, 67)], 12)
    far = along([(50, 85), (60, 85)], 6)
    found = run(kit, job_with(kit), (Side.FRONT, two), (Side.FRONT, far))
    assert [len(each) for each in found] == [1, 0]


def test_nothing_is_asked_without_a_least(kit):
    near = along([(50, 60), (90, 60)], 6) + along([(50, 66.1), (90, 66.1)], 6)
    assert run(kit, job_with(kit, least=0.0), (Side.FRONT, near)) == [[]]


def test_the_truth_is_that_of_outlines(kit):
    # Discs of holes at random, some far, some near: as many walls as shapely finds pairs.
    rng = np.random.default_rng(5)
    for _ in range(6):
        spots = rng.uniform([20, 30], [120, 90], (9, 2))
        discs = [Point(spot).buffer(3.0, quad_segs=256) for spot in spots]
        pairs = [one.distance(other) for i, one in enumerate(discs) for other in discs[:i]]
        thin = [gap for gap in pairs if 0.02 < gap < LEAST]
        text = [row for spot in spots for row in along([spot], 4)]
        (found,) = run(kit, job_with(kit, cell=0.2), (Side.FRONT, text))
        assert bool(found) == bool(thin)
        if thin:
            assert min(f.gap for f in found) == pytest.approx(min(thin), abs=0.02)
