from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree
from shapely.geometry import box

from toolpath.drawing.shapes import rect
from toolpath.job.model import Box, CheckRules, IfBlocked, Piece, Side, Sphere
from toolpath.motion.moves import MoveTable
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.regions import layout_of, too_tight
from toolpath.plan.tiers import tiers_of
from toolpath.plan.work import Work

COG = Piece(
    name="cog",
    solid=Box(size=(20.0, 20.0, 6.0)),
    at=(40.0, 25.0),
    measured_from=Side.FRONT,
    depth=7.0,
    clearance=1.0,
)


def raised(shop, **other):
    cut = replace(shop.pocket(rect(0, 0, 80, 50), depth=12.0), if_blocked=IfBlocked.RISE, **other)
    rules = CheckRules(clearance=1.0, cell=0.5)
    return cut, replace(shop.job(cut), pieces=(COG,), check=rules)


def test_one_region_where_nothing_is_in_the_way(shop):
    cut = replace(shop.pocket(rect(0, 0, 80, 50), depth=12.0), finish=0.3)
    work = Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)
    layout = layout_of(work, tiers_of(cut)[0])
    (region,) = layout.regions
    assert layout.rising is None
    assert region.levels.heights == pytest.approx((-3.0, -6.0, -9.0, -12.0))
    # 80 x 50 shrunk by 3 and by 3.3 (elementary).
    assert region.centres.area == pytest.approx(74 * 44, rel=1e-4)
    assert region.rough.area == pytest.approx(73.4 * 43.4, rel=1e-4)
    assert region.tight.is_empty


def test_levels_that_meet_a_piece_have_regions_of_their_own(shop):
    cut, job = raised(shop)
    work = Work(job=job, cut=cut, cutter=cut.cutter)
    layout = layout_of(work, tiers_of(cut)[0])
    # The cog's top is 7 deep and needs 1.05 mm: the levels at 3 is free, 6 is above its gap's
    # edge (5.95) and so blocked with those below.
    assert [region.levels.heights for region in layout.regions] == [
        (-3.0,),
        (-6.0,),
        (-9.0,),
        (-12.0,),
    ]
    assert [region.blocked for region in layout.regions] == [False, True, True, True]
    assert layout.regions[2].levels.top == -6.0
    # 20 x 20 and 1.05 all round is what the cutter's rim may not enter at the floor.
    assert layout.risen().area == pytest.approx(22.1**2, rel=0.05)


def test_the_floor_rises_over_the_piece_and_is_cleared_beside_it(shop, judge_parts, area):
    cut, job = raised(shop)
    judged = judge_parts(plan_pocket(job, cut))
    beside = area(rect(0, 0, 80, 50)).difference(box(28.6, 13.6, 51.4, 36.4))
    assert judged.uncut_share(beside, -12.0) <= 1e-3
    over = [
        m.end[2]
        for m in judged.parts[0].moves
        if 30 < m.end[0] < 50 and 15 < m.end[1] < 35 and m.end[2] < 0
    ]
    # Top 7 deep, gap 1.02, 0.3 above the lowest clear floor at most (the job's words).
    assert -5.98 <= min(over) <= -5.68
    assert 'the floor rises over "cog"' in judged.parts[0].notes[-1]
    judged.assert_descents_in_air()


def test_a_neck_without_room_for_the_finish_is_tight_and_corners_are_not():
    centres = box(3, 3, 37, 37).union(box(36, 19.9, 60, 20.1))
    rough = box(3.3, 3.3, 36.7, 36.7)
    tight = too_tight(centres, rough, 3.0, 0.3)
    assert tight.bounds[0] == pytest.approx(36.7, abs=0.05)
    assert tight.bounds[2] == 60
    assert too_tight(box(3, 3, 37, 37), rough, 3.0, 0.3).is_empty


def ways(part):
    """Tips along the feed moves of a part below the face, 0.2 mm apart or nearer."""
    table = MoveTable.of([move for move in part.moves if move.feed and move.end[2] < 0])
    count = np.maximum(np.ceil(table.lengths() / 0.2), 2).astype(int)
    row = np.repeat(np.arange(len(table)), count)
    share = np.concatenate([np.linspace(0.0, 1.0, n) for n in count])
    return table.at(row, share)


def test_a_thinner_cutter_goes_over_all_that_is_in_the_way_again(shop):
    ball = replace(COG, solid=Sphere(diameter=16.0))
    _, job = raised(shop)
    thin = shop.cutter(diameter=3.0, name="flat 3")
    cut = replace(job.cuts[0], outline=(rect(20, 5, 60, 45),))
    job = replace(job, pieces=(ball,))
    alone = ways(plan_pocket(job, replace(cut, cutter=thin))[-1])
    after = ways(plan_pocket(job, replace(cut, smaller=(thin,)))[-1])
    # Where the thin cutter alone rides over the ball it rides after a wider one too, within the
    # 0.3 mm to which a floor follows: a wider one stays further off its flanks.
    # Its lowest clear tip at a distance d from the middle: -15 + sqrt(9.02^2 - (d - 1.5)^2).
    aside = np.maximum(np.hypot(alone[:, 0] - 40, alone[:, 1] - 25) - 1.5, 0.0)
    lowest = -15.0 + np.sqrt(np.maximum(9.02**2 - aside**2, 0.0))
    over = alone[(aside < 8.0) & (np.abs(alone[:, 2] - lowest) < 0.2)]
    away, _ = cKDTree(after).query(over)
    assert len(over) > 500
    assert np.quantile(away, 0.99) < 0.3
