import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from toolpath.drawing.shapes import rect
from toolpath.job.model import Clamp, Shoe, Side
from toolpath.motion.moves import Kind
from toolpath.plan.crossing import Crossing
from toolpath.plan.drill import plan_drill
from toolpath.plan.levels import clear_height
from toolpath.plan.profile import plan_profile

NEED = 1.0 + 0.02  # the shop's clearance and path error


def clamp(x0, y0, x1, y1, height, face=Side.FRONT):
    return Clamp(name="clamp[1]", face=face, outline=(rect(x0, y0, x1, y1),), height=height)


def crossing(shop, *clamps, **cutter):
    tool = shop.cutter(**cutter)
    return Crossing.of(shop.job(clamps=clamps), Side.FRONT, tool)


def assert_keeps_clear(job, cutter, moves):
    """Every rapid across, as the box that it may wander in, against each part of the cutter."""
    parts = [
        (cutter.radius, 0.0),
        (cutter.shank / 2, cutter.flute_length),
        (job.machine.nut.diameter / 2, cutter.reach),
    ]
    for move in moves:
        if move.kind is not Kind.RAPID or move.start[:2] == move.end[:2]:
            continue
        (x0, y0, z), (x1, y1, _) = move.start, move.end
        low, high = np.minimum((x0, y0), (x1, y1)), np.maximum((x0, y0), (x1, y1))
        for each in job.clamps:
            left, bottom, right, top = box(
                *each.outline[0].outer.points[:, :2].min(axis=0),
                *each.outline[0].outer.points[:, :2].max(axis=0),
            ).bounds
            aside = math.hypot(
                max(left - high[0], low[0] - right, 0), max(bottom - high[1], low[1] - top, 0)
            )
            for radius, above in parts:
                up = max(0.0, z + above - each.height)
                assert math.hypot(max(0.0, aside - radius), up) >= NEED, (move, each)


def test_low_where_nothing_is_in_the_way_and_higher_over_a_clamp(shop):
    rule = crossing(shop, clamp(-20, 40, 40, 60, 18.0))
    assert rule.height((0, 0), (100, 0)) == 6.0
    assert rule.height((0, 0), (0, 100)) == pytest.approx(18.0 + NEED + 1.0)
    # The box of a slanting rapid holds the clamp, its straight line does not.
    assert rule.height((-60, 0), (10, 45)) > 6.0


def test_the_nut_of_a_short_cutter_calls_for_more_than_its_flutes(shop):
    rule = crossing(shop, clamp(0, 0, 10, 10, 40.0), reach=25.0, flute_length=20.0)
    assert rule.height((20, 0), (20, 10)) == pytest.approx(40.0 - 25.0 + NEED + 1.0)
    assert rule.height((30, 0), (30, 10)) == 6.0


def test_a_dust_shoe_calls_for_more_than_the_nut(shop):
    job = shop.job(clamps=(clamp(0, 0, 10, 10, 40.0),))
    nut = replace(job.machine.nut, shoe=Shoe(diameter=80.0, drop=4.0))
    with_shoe = replace(job, machine=replace(job.machine, nut=nut))
    tool = shop.cutter(reach=25.0, flute_length=20.0)
    # 30 beside the clamp only the shoe, 40 to each side, comes over it.
    heights = [
        Crossing.of(each, Side.FRONT, tool).height((40, 0), (40, 10)) for each in (job, with_shoe)
    ]
    assert heights == pytest.approx([6.0, 40.0 - (25.0 - 4.0) + NEED + 1.0])


def test_goes_round_a_tall_clamp_and_over_a_low_one(shop):
    tall = crossing(shop, clamp(40, -10, 60, 10, 80.0)).way((0, 0), (100, 0))
    assert tall.height == 6.0
    assert 2 <= len(tall.points) <= 3
    assert tall.points[-1] == (100, 0)
    low = crossing(shop, clamp(40, -10, 60, 10, 10.0)).way((0, 0), (100, 0))
    assert low.points == ((100, 0),)
    assert low.height == pytest.approx(10.0 + NEED + 1.0)


def test_a_wall_of_clamps_that_leaves_no_way_round_within_travel_is_gone_over(shop):
    way = crossing(shop, clamp(40, -500, 60, 500, 80.0)).way((0, 0), (100, 0))
    assert way.height == pytest.approx(80.0 + NEED + 1.0)


def test_clamps_of_the_other_face_are_not_there(shop):
    assert crossing(shop, clamp(0, 0, 10, 10, 40.0, Side.BACK)).areas == ()


def test_rapids_of_cuts_never_go_through_a_clamp(shop):
    rng = np.random.default_rng(11)
    lifted = rounded = 0
    for _ in range(40):
        clamps = []
        for _ in range(int(rng.integers(1, 4))):
            x, y = rng.uniform(-150, 110, 2)
            w, h = rng.uniform(10, 40, 2)
            clamps.append(clamp(x, y, x + w, y + h, float(rng.uniform(3, 20))))
        stands = shapely.union_all(
            [box(*c.outline[0].outer.points[[0, 2], :2].ravel()).buffer(15) for c in clamps]
        )
        spots = [tuple(p) for p in rng.uniform(-180, 180, (60, 2)).tolist()]
        free = [spot for spot in spots if not shapely.intersects_xy(stands, *spot)]
        cut = shop.drill(*free[:12], depth=3.0)
        job = shop.job(cut, clamps=clamps)
        found = plan_drill(job, cut)
        assert_keeps_clear(job, cut.cutter, found.moves)
        assert found.moves[0].start[2] == found.moves[-1].end[2] == clear_height(job, Side.FRONT)
        across = [m for m in found.moves if m.kind is Kind.RAPID and m.start[:2] != m.end[:2]]
        lifted += sum(m.start[2] > 6.0 for m in across)
        rounded += len(across) - (len(cut.at) - 1)
        assert all(a.end == b.start for a, b in itertools.pairwise(found.moves))
    assert lifted > 10
    assert rounded > 10


def test_a_profile_begins_away_from_a_clamp_where_it_can(shop):
    cut = shop.profile(rect(0, 0, 100, 60))
    first = plan_profile(shop.job(cut), cut).moves[0].start
    near = clamp(first[0] - 8, first[1] - 30, first[0] + 8, first[1] - 10, 30.0)
    job = shop.job(cut, clamps=[near])
    found = plan_profile(job, cut)
    stand = box(first[0] - 8, first[1] - 30, first[0] + 8, first[1] - 10)
    where = shapely.Point(found.moves[0].start[:2])
    assert stand.distance(shapely.Point(first[:2])) < 11.0 + 1.0
    assert stand.distance(where) >= 11.0 + NEED
    assert_keeps_clear(job, replace(cut.cutter), found.moves)
