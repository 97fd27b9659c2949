"""Inside corners opened for square parts, on the emitted moves."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Corners, Cylinder, IfBlocked, Ledge, Piece, Side
from toolpath.plan.corners import corners_of
from toolpath.plan.pocket import plan_pocket

SQUARE = rect(0, 0, 50, 40)


def opened(shop, *outline, **other):
    return replace(shop.pocket(*outline), corners=Corners.OVER_CUT, **other)


@pytest.mark.parametrize("finish", [0.0, 0.3])
@pytest.mark.parametrize("face", list(Side))
def test_a_square_part_fits_in_at_every_level(shop, judge_parts, face, finish):
    cut = opened(shop, SQUARE, face=face, finish=finish)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    part = box(0, 0, 50, 40).buffer(-0.002, join_style="mitre")
    for z in (-3.0, -6.0):
        left = part.difference(judged.cut_at(z))
        assert left.buffer(-0.002).is_empty
        # Four discs whose rims are in the corners: what of them lies beyond the square.
        discs = [Point(x, y).buffer(3.0, quad_segs=96) for x, y in ENDS]
        beyond = shapely.union_all(discs).difference(box(0, 0, 50, 40))
        assert judged.cut_at(z).difference(box(0, 0, 50, 40)).area == pytest.approx(
            beyond.area, rel=5e-3
        )
    judged.assert_descents_in_air()


D = 3.0 / math.sqrt(2.0)
ENDS = [(D, D), (50 - D, D), (D, 40 - D), (50 - D, 40 - D)]


def test_round_is_the_default_and_leaves_the_corners(shop, judge_parts):
    cut = shop.pocket(SQUARE)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    assert judged.cut_at(-6.0).difference(box(0, 0, 50, 40)).area < 0.01


def test_the_thinnest_cutter_opens_them(shop, judge_parts):
    small = shop.cutter(diameter=3.0, name="flat 3", stepdown=2.0)
    cut = opened(shop, SQUARE, smaller=(small,))
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    d = 1.5 / math.sqrt(2.0)
    discs = [Point(x, y).buffer(1.5) for x in (d, 50 - d) for y in (d, 40 - d)]
    beyond = shapely.union_all(discs).difference(box(0, 0, 50, 40)).area
    got = judged.cut_at(-6.0).difference(box(0, 0, 50, 40)).area
    assert got == pytest.approx(beyond, rel=0.01)
    judged.assert_descents_in_air()


def test_round_corners_and_islands_stay(shop):
    area = box(0, 0, 50, 40).difference(Point(25, 20).buffer(8))
    assert len(corners_of(area, box(0, 0, 50, 40), 3.0).open) == 4
    wide = box(0, 0, 50, 40).buffer(-4).buffer(4, quad_segs=64)
    assert corners_of(wide, wide, 3.0).open == ()
    notch = box(20, 10, 30, 30).difference(box(24, 25, 26, 30))
    assert len(corners_of(box(0, 0, 50, 40).difference(notch), box(0, 0, 50, 40), 3.0).open) == 4


def test_a_corner_of_60_degrees_is_opened_and_a_sharper_one_is_named(shop):
    even = Polygon([(0, 0), (60, 0), (30, 30 * math.sqrt(3.0))])
    assert len(corners_of(even, even, 3.0).open) == 3
    thin = Polygon([(0, 0), (80, 0), (80, 25)])
    found = corners_of(thin, thin, 3.0)
    assert (len(found.open), len(found.sharp)) == (2, 1)
    cut = opened(shop, shop.polygon([(0, 0), (80, 0), (80, 25)]))
    (part,) = plan_pocket(shop.job(cut), cut)
    assert "corner at x 0.00 y 0.00 left round: sharper than 60 degrees" in part.notes


def test_the_rim_reaches_the_point_along_the_bisector():
    (corner,) = [
        each
        for each in corners_of(box(0, 0, 50, 40), box(0, 0, 50, 40), 3.0).open
        if each.turn[0] < 25 and each.turn[1] < 20
    ]
    assert np.hypot(*corner.end) == pytest.approx(3.0, abs=1e-3)
    assert corner.turn == pytest.approx([3.0, 3.0], abs=1e-3)


@pytest.mark.parametrize("blocked", [IfBlocked.RISE, IfBlocked.PILLAR])
def test_where_a_piece_is_in_the_way_of_a_corner_it_stays_round(shop, blocked):
    # Just outside the upper right corner, where only the opened corner comes near.
    pin = Piece(
        name="pin",
        solid=Cylinder(diameter=2.0, height=8.0),
        at=(51.2, 41.2),
        measured_from=Side.FRONT,
        depth=2.0,
        clearance=1.0,
    )
    cut = opened(shop, SQUARE, if_blocked=blocked)
    parts = plan_pocket(replace(shop.job(cut), pieces=(pin,)), cut)
    notes = [note for part in parts for note in part.notes]
    assert "corner at x 47.00 y 37.00 left round: a piece is in the way" in notes
    assert sum("left round" in note for note in notes) == 1


def test_a_ledge_is_opened_too(shop, judge_parts):
    ledge = Ledge(outline=(rect(-8, -8, 58, 48),), depth=3.0)
    cut = opened(shop, SQUARE, ledge=ledge)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    assert box(-8, -8, 58, 48).buffer(-0.01).difference(judged.cut_at(-3.0)).area < 1e-3
    assert box(0, 0, 50, 40).buffer(-0.01).difference(judged.cut_at(-6.0)).area < 1e-3


def test_a_pocket_without_corners_is_as_it_was(shop):
    plain = shop.pocket(circle(0, 0, 20))
    assert plan_pocket(shop.job(plain), plain)[0].moves == (
        plan_pocket(shop.job(plain), replace(plain, corners=Corners.OVER_CUT))[0].moves
    )
