"""Where a pocket that opens its corners may cut, against discs by hand."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point, box

from toolpath.check.areas import kerf, through_areas
from toolpath.check.corners import with_corners
from toolpath.job.model import Corners, Pocket, Side

SQUARE = box(40, 40, 60, 60)
D = 3.0 / math.sqrt(2.0)


@pytest.fixture
def cut(kit):
    return Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=5.0,
        outline=(kit.rectangle(40.0, 40.0, 60.0, 60.0),),
        corners=Corners.OVER_CUT,
    )


def test_a_disc_at_each_corner_and_no_more(cut):
    spots = [(x, y) for x in (40 + D, 60 - D) for y in (40 + D, 60 - D)]
    discs = [Point(spot).buffer(3.0, quad_segs=96) for spot in spots]
    wanted = shapely.union_all([SQUARE, *discs])
    assert with_corners(cut, SQUARE).symmetric_difference(wanted).area < 0.02 * wanted.length
    assert with_corners(cut, SQUARE).covers(wanted.buffer(-1e-6))


def test_round_corners_give_nothing(cut):
    assert with_corners(replace(cut, corners=Corners.ROUND), SQUARE) is SQUARE
    wide = SQUARE.buffer(-4).buffer(4, quad_segs=200)
    assert with_corners(cut, wide).area == pytest.approx(wide.area, rel=1e-4)


def test_outward_corners_stay(cut):
    notched = SQUARE.difference(box(48, 50, 52, 60))
    grown = with_corners(cut, notched).difference(notched)
    # The two corners of the notch's mouth stand out into the pocket and are not opened.
    assert not grown.intersects(Point(48, 50).buffer(0.5))
    assert not grown.intersects(Point(52, 50).buffer(0.5))


def test_what_the_job_allows_is_larger(kit, cut):
    ((area, depth),) = kerf(cut)
    assert depth == 5.0
    assert area.area > SQUARE.area + 10.0
    (through,) = through_areas(kit.job(cuts=(replace(cut, through=True, depth=42.5),)))
    assert through.area == pytest.approx(area.area, rel=1e-3)
