import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from toolpath.drawing.outline import Region
from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import ProfileSide, Side
from toolpath.plan.profile import plan_profile

FRAME = Region(outer=rect(0, 0, 100, 60).outer, holes=(circle(30, 30, 12).outer,))


def planned(shop, *outline, **other):
    cut = shop.profile(*outline, **other)
    return plan_profile(shop.job(cut), cut)


def flat_floor(judged):
    return judged.flat_paths(-judged.planned.cut.depth)


def floor_sweep(judged):
    """What the cutter's disc sweeps at the floor, from emitted moves."""
    lines = [shapely.linestrings(path[:, :2]) for path in flat_floor(judged)]
    return shapely.union_all([line.buffer(judged.radius, quad_segs=64) for line in lines])


def test_outer_path_has_the_length_of_the_parallel_curve(shop, judge):
    judged = judge(planned(shop, rect(0, 0, 100, 60)))
    length = sum(np.hypot(*np.diff(p[:, :2], axis=0).T).sum() for p in flat_floor(judged))
    # P + 2 pi r = 338.849556 for 100 x 60 and radius 3 (Steiner's formula).
    assert length == pytest.approx(338.849556, abs=0.02)


@pytest.mark.parametrize("depth", [2.0, 6.0, 20.0])
@pytest.mark.parametrize("side", list(ProfileSide))
def test_profile_is_cut_through_all_round_and_keeps_its_part(shop, judge, side, depth):
    judged = judge(planned(shop, rect(0, 0, 100, 60), side=side, depth=depth))
    part = box(0, 0, 100, 60)
    swept = floor_sweep(judged)
    wanted = {
        ProfileSide.OUTER: part.buffer(6.0, quad_segs=64).difference(part),
        ProfileSide.INNER: part.buffer(-3).buffer(3).difference(part.buffer(-6.0)),
        ProfileSide.CENTRE: part.boundary.buffer(3.0, quad_segs=64),
    }[side]
    assert wanted.difference(swept).area <= 2e-4 * wanted.area
    below = [m for m in judged.feeds if m.end[2] < 0]
    if side is ProfileSide.OUTER:
        assert swept.intersection(part.buffer(-0.003)).is_empty
    if side is ProfileSide.INNER:
        assert part.buffer(0.003).covers(swept)
    assert min(m.end[2] for m in below) == -depth


@pytest.mark.parametrize("depth", [5.0, 20.0])
@pytest.mark.parametrize("outline", [rect(0, 0, 100, 60), circle(0, 0, 4.5)])
def test_profile_descends_within_ramp_stepdown_and_plunge(shop, judge, outline, depth):
    judged = judge(planned(shop, outline, side=ProfileSide.INNER, depth=depth))
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()
    assert judged.steepest() <= math.radians(3.0)
    assert judged.fastest_down() <= 300.0
    assert judged.planned.lifts == 1
    loop = sum(m.length for m in judged.feeds if m.start[2] == m.end[2] == -depth)
    # Nowhere is more than a stepdown taken at once: a turn of the spiral is no deeper.
    slope = max(
        (m.start[2] - m.end[2]) / m.length for m in judged.feeds if m.end[:2] != m.start[:2]
    )
    assert slope * loop <= 3.0 * 1.001


@pytest.mark.parametrize(("face", "right"), [(Side.FRONT, -1.0), (Side.BACK, 1.0)])
@pytest.mark.parametrize("side", [ProfileSide.OUTER, ProfileSide.INNER])
def test_what_is_kept_is_on_the_right_as_seen_on_the_machine(shop, judge, side, face, right):
    # Climb milling with M3 (common practice); the page of the back is a mirror image.
    judged = judge(planned(shop, FRAME, side=side, face=face))
    wall = box(0, 0, 100, 60).difference(Point(30, 30).buffer(12, quad_segs=512)).boundary
    sides = judged.wall_sides(wall, -6.0, slack=0.01)
    assert len(sides) >= 4
    assert set(sides) == {right}


def test_hole_is_cut_before_the_outside_sets_the_part_free(shop, judge):
    judged = judge(planned(shop, FRAME))
    firsts = [m.start for m in judged.feeds if m.end[2] < 0]
    inside = [Point(30, 30).distance(Point(x, y)) < 12 for x, y, _ in firsts]
    assert inside[0]
    assert not inside[-1]
    assert inside == sorted(inside, reverse=True)
    assert judged.planned.lifts == 2


def test_centre_profile_keeps_the_drawn_arcs(shop, judge):
    judged = judge(planned(shop, circle(5, 5, 20), side=ProfileSide.CENTRE))
    turns = [m for m in judged.feeds if m.sweep]
    assert all(math.dist(m.start[:2], (5, 5)) == pytest.approx(20) for m in turns)
    assert sum(m.sweep for m in turns if m.start[2] == m.end[2]) == pytest.approx(-2 * math.pi)


@pytest.mark.parametrize("outline", [rect(0, 0, 20, 5), circle(0, 0, 3.05)])
def test_inner_profile_without_room_is_refused(shop, outline):
    with pytest.raises(EntryError, match=r'cut "rim": the 6 mm cutter .* does not fit'):
        planned(shop, outline, side=ProfileSide.INNER)


def test_two_parts_are_cut_one_after_the_other(shop, judge):
    judged = judge(planned(shop, rect(0, 0, 20, 20), rect(60, 0, 80, 20)))
    assert judged.planned.lifts == 2
    swept = floor_sweep(judged)
    kept = shapely.union_all([Polygon(rect(x, 0, x + 20, 20).outer.points[:, :2]) for x in (0, 60)])
    assert swept.intersection(kept.buffer(-0.003)).is_empty


def test_spring_passes_go_round_the_wall_again(shop, judge):
    cut = replace(shop.profile(rect(0, 0, 40, 30), depth=5.0, reach=24.0), finish=0.3)
    job = shop.job(cut)
    plain, again = (plan_profile(job, replace(cut, spring_passes=n)) for n in (0, 2))
    more = judge(again).feed_length() - judge(plain).feed_length()
    # Round a rectangle at a radius of 3: 2 (40 + 30) + 2 pi 3 (elementary), twice.
    assert more == pytest.approx(2.0 * (140.0 + 6.0 * math.pi), rel=1e-3)
