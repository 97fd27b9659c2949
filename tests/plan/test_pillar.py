from dataclasses import replace

import pytest
from shapely.geometry import Point

from toolpath.drawing.shapes import rect
from toolpath.job.model import Cylinder, Drift, IfBlocked, Piece, Rule, Side, Sphere
from toolpath.plan.pocket import plan_pocket

POCKET = rect(0, 0, 80, 50)


def cog(**other):
    given = {
        "name": "cog",
        "solid": Cylinder(diameter=14.0, height=6.0),
        "at": (40.0, 25.0),
        "measured_from": Side.FRONT,
        "depth": 4.0,
        "clearance": 1.0,
        "drift": Drift(side=0.5),
    }
    return Piece(**(given | other))


def planned(shop, *pieces, **other):
    cut = replace(shop.pocket(POCKET, **other), if_blocked=IfBlocked.PILLAR)
    job = replace(shop.job(cut), pieces=pieces)
    return plan_pocket(job, cut)


def test_no_more_is_left_than_the_gap_the_drift_and_a_little(shop, judge_parts, area):
    judged = judge_parts(planned(shop, cog()))
    cut = judged.cut_at(-6.0)
    # Radius 7, drift 0.5, clearance 1: not nearer than that and the path error 0.02, nothing left
    # beyond 0.3 mm more (the job's words for a pillar).
    middle = Point(40, 25)
    assert cut.distance(middle) >= 7 + 0.5 + 1.02
    column = middle.buffer(7 + 0.5 + 1.3, quad_segs=256)
    can = area(POCKET).buffer(-3, quad_segs=64).buffer(3, quad_segs=64)
    assert can.difference(column).difference(cut).area <= 1e-4 * can.area
    assert judged.parts[0].notes[-1].startswith('pillar round "cog" at x 40.00 y 25.00: 229.')
    judged.assert_descents_in_air()


@pytest.mark.parametrize(
    "piece",
    [
        cog(depth=8.0),
        cog(rule=Rule.MAY_CUT),
        cog(at=(120.0, 25.0)),
        cog(solid=Sphere(diameter=10.0), depth=7.1),
    ],
)
def test_what_is_not_in_the_way_gets_no_pillar(shop, judge_parts, area, piece):
    judged = judge_parts(planned(shop, piece))
    assert judged.uncut_share(area(POCKET), -6.0) <= 1e-4
    assert judged.parts[0].notes == ()


def test_a_piece_below_the_floor_by_less_than_its_gap_is_in_the_way(shop):
    (part,) = planned(shop, cog(depth=6.9))
    assert "pillar" in part.notes[-1]


def test_a_thick_shank_keeps_clear_of_the_column(shop, judge_parts):
    thick = planned(shop, cog(depth=1.0), depth=12.0, shank=10.0, flute_length=8.0)
    # The shank, 2 mm wider than the cutter a side, comes down past the top of the cog.
    assert judge_parts(thick).cut_at(-12.0).distance(Point(40, 25)) >= 7 + 0.5 + 1.02 + 2.0
