from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Ledge, Side
from toolpath.motion.moves import Kind
from toolpath.plan.finish import wall_loops
from toolpath.plan.pocket import plan_pocket

ISLANDS = (rect(20, 10, 40, 30), circle(60, 25, 8))
POCKET = rect(0, 0, 80, 50)
RIM = rect(-8, -8, 88, 58)


def finished(shop, *outline, islands=(), face=Side.FRONT, **other):
    pocket = shop.pocket(*outline, islands=islands, face=face, reach=24.0, flute_length=20.0)
    return replace(pocket, finish=0.3, **other)


def wall_passes(part, centres, z):
    """Feed moves at a height that begin and end on the edge of the region of the centre."""
    edge = centres.boundary
    ends = [shapely.points([m.start[:2], m.end[:2]]) for m in part.moves]
    return [
        m
        for m, spots in zip(part.moves, ends, strict=True)
        if m.kind is not Kind.RAPID
        and m.start[2] == m.end[2] == z
        and shapely.distance(edge, spots).max() < 0.003
    ]


@pytest.mark.parametrize("face", list(Side))
def test_walls_are_left_while_clearing_and_cut_once_at_full_depth(
    shop, judge, judge_parts, area, face
):
    cut = finished(shop, POCKET, islands=ISLANDS, face=face)
    parts = plan_pocket(shop.job(cut), cut)
    whole = area(POCKET, minus=ISLANDS)
    judged, part = judge(parts[0]), parts[0]
    # At the level above the floor everything stays 0.3 mm further from the walls.
    assert judged.nearest_to_wall(-3.0) == pytest.approx(3.3, abs=0.002)
    assert judged.nearest_to_wall(-6.0) == pytest.approx(3.0, abs=0.002)
    centres = whole.buffer(-3.0, quad_segs=96)
    walked = sum(m.length for m in wall_passes(part, centres, -6.0))
    # Once round every wall and a millimetre on.
    assert walked == pytest.approx(centres.length + 3.0, abs=0.5)
    assert judge_parts(parts).uncut_share(whole, -6.0) <= 1e-4
    assert judge_parts(parts).overcut(whole, 0.0, -6.0) <= 0.002
    judge_parts(parts).assert_descents_in_air()
    right = -1.0 if face is Side.FRONT else 1.0
    assert set(judged.wall_sides(whole.boundary, -6.0)) == {right}


def test_the_wall_is_met_and_left_at_a_tangent_from_cleared_room(shop, area):
    cut = finished(shop, POCKET)
    (part,) = plan_pocket(shop.job(cut), cut)
    centres = area(POCKET).buffer(-3.0)
    moves = list(part.moves)
    first = moves.index(wall_passes(part, centres, -6.0)[0])
    last = moves.index(wall_passes(part, centres, -6.0)[-1])
    for lead, wall, at in (
        (moves[first - 1], moves[first], "start"),
        (moves[last + 1], moves[last], "end"),
    ):
        assert lead.kind is Kind.ARC
        spoke = np.subtract(getattr(wall, at)[:2], lead.centre)
        ahead = np.subtract(wall.end[:2], wall.start[:2])
        assert abs(spoke @ ahead) <= 1e-6 * np.hypot(*ahead) * np.hypot(*spoke)
    assert moves[first - 1].start[2] == -6.0


def test_a_ledge_and_a_thinner_cutter_are_finished_too(shop, judge_parts, area):
    small = shop.cutter(diameter=3.0, name="flat 3", stepdown=1.5)
    ledge = Ledge(outline=(RIM,), depth=3.0)
    cut = finished(shop, POCKET, islands=ISLANDS, ledge=ledge, smaller=(small,))
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    for outline, top, floor in ((RIM, 0.0, -3.0), (POCKET, -3.0, -6.0)):
        whole = area(outline, minus=ISLANDS)
        assert judged.uncut_share(whole, floor) <= 1e-4
        assert judged.overcut(whole, top, floor) <= 0.002
    judged.assert_descents_in_air()


@pytest.mark.parametrize("radius", [3.2, 3.6, 3.8, 4.5])
def test_where_no_lead_fits_it_comes_down_along_the_wall(shop, judge, judge_parts, area, radius):
    cut = finished(shop, circle(0, 0, radius))
    parts = plan_pocket(shop.job(cut), cut)
    judged = judge_parts(parts)
    judged.assert_descents_in_air()
    assert judged.uncut_share(area(circle(0, 0, radius)), -6.0) <= 2e-4
    assert judged.overcut(area(circle(0, 0, radius)), 0.0, -6.0) <= 0.003
    assert judge(parts[0]).steepest() <= cut.cutter.ramp + 1e-9


def test_necks_too_narrow_for_the_finish_are_cut_level_by_level(shop, judge, judge_parts, area):
    lobes = (rect(0, 0, 40, 40), rect(60, 0, 100, 40), rect(39, 16.85, 61, 23.15))
    cut = finished(shop, *lobes)
    parts = plan_pocket(shop.job(cut), cut)
    judged = judge_parts(parts)
    assert judged.uncut_share(area(*lobes), -6.0) <= 1e-4
    middle = rect(45, 16.85, 55, 23.15)
    upper = judged.cut_at(-3.0).intersection(area(middle))
    assert upper.area == pytest.approx(10 * 6.3, rel=1e-3)


@pytest.mark.parametrize(
    ("reach", "flutes", "levels"), [(24.0, 20.0, 1), (24.5, 20.0, 2), (24.0, 5.0, 2)]
)
def test_a_slender_cutter_or_one_of_short_flutes_goes_by_levels(shop, area, reach, flutes, levels):
    # At most 4 diameters of stick-out for one go (common practice, no source).
    cut = replace(shop.pocket(POCKET, reach=reach, flute_length=flutes), finish=0.3)
    (part,) = plan_pocket(shop.job(cut), cut)
    centres = area(POCKET).buffer(-3.0, quad_segs=96)
    walked = [sum(m.length for m in wall_passes(part, centres, z)) for z in (-3.0, -6.0)]
    whole = pytest.approx(centres.length + 1.0, abs=0.5)
    assert walked == [whole if levels == 2 else 0.0, whole]


def test_from_level_to_level_along_a_wall_it_stays_down(shop):
    cut = replace(shop.pocket(POCKET, depth=12.0), finish=0.3)
    lifts = [plan_pocket(shop.job(c), c)[0].lifts for c in (cut, replace(cut, finish=0.0))]
    assert lifts[0] == lifts[1] + 1


@pytest.mark.parametrize("again", [1, 2])
def test_spring_passes_walk_the_wall_again_and_cut_nothing_more(shop, area, judge_parts, again):
    plain, cut = finished(shop, POCKET), finished(shop, POCKET, spring_passes=again)
    centres = area(POCKET).buffer(-3.0, quad_segs=96)
    walked = [
        sum(m.length for m in wall_passes(plan_pocket(shop.job(c), c)[0], centres, -6.0))
        for c in (plain, cut)
    ]
    assert walked[1] - walked[0] == pytest.approx(again * centres.length, rel=1e-3)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    assert judged.overcut(area(POCKET), 0.0, -6.0) <= 0.002


def test_a_floor_left_for_the_last_level_is_taken_all_at_one_depth(shop, judge):
    cut = replace(shop.pocket(POCKET), finish_floor=0.2)
    (part,) = plan_pocket(shop.job(cut), cut)
    judged = judge(part)
    flats = sorted({m.end[2] for m in judged.feeds if m.end[2] == m.start[2] < 0})
    assert flats == pytest.approx([-6.0, -5.8, -2.9])
    assert judged.uncut_share(-6.0) <= 1e-4


def test_loops_along_walls_climb():
    square = shapely.box(0, 0, 10, 10).difference(shapely.box(4, 4, 6, 6))
    outer, hole = (shapely.LinearRing(loop) for loop in wall_loops(square, 1.0))
    assert outer.is_ccw
    assert not hole.is_ccw


def test_a_thinner_cutter_walks_no_wall_of_a_narrow_arm_twice(shop):
    # The arm is 4.5 wide: the 4 mm cutter cuts it to size at once, with 0.3 mm for no last pass.
    small = shop.cutter(diameter=4.0, name="flat 4", stepdown=2.0)
    cut = shop.pocket(rect(0, 0, 60, 40), rect(59, 18, 80, 22.5), diameter=10.0, stepdown=5.0)
    _, last = plan_pocket(shop.job(cut), replace(cut, smaller=(small,), finish=0.3))
    arm = [
        shapely.linestrings([m.start[:2], m.end[:2]])
        for m in last.moves
        if m.kind is Kind.LINE and m.start[2] == m.end[2] == -6.0 and m.start[0] > 65.0
    ]
    walked = sum(line.length for line in arm)
    assert 20.0 < walked < 1.02 * shapely.union_all(arm).length
