"""Passes in corners: turns by hand, areas by shapely."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from toolpath.plan.corner_arcs import FILM, beyond, rounded, roundings
from toolpath.plan.corner_passes import Rounding, corner_passes, turned

BOUND, CUTTER, FIRST = math.radians(70.0), 3.0, 1.95
ROUNDING = Rounding(radius=FIRST, cutter=CUTTER, bound=BOUND)


def passes(area, mouths=None):
    return corner_passes(area, ROUNDING, mouths or Polygon())[1]


def at(corners, place):
    """The arcs of the one corner whose passes lie nearest to a place, no further than 2.5 mm."""
    near = [c for c in corners if math.dist(c[-1].mean(axis=0), place) < 2.5]
    assert len(near) <= 1
    return near[0] if near else ()


def test_a_turn_is_the_most_that_a_wall_turns_left():
    assert turned(np.array([(0.0, 0), (1, 0), (1, 1)])) == pytest.approx(math.pi / 2)
    assert turned(np.array([(0.0, 0), (1, 0), (1, 1), (1, 1), (2, 1)])) == pytest.approx(
        math.pi / 2
    )
    assert turned(np.array([(0.0, 0), (1, 0), (1, -1)])) == 0.0
    # 60 and 60 degrees to the left, cut off between them: 120.
    cut_off = np.array([(0.0, 0), (1, 0), (1.5, math.sqrt(0.75)), (1.0, math.sqrt(3.0))])
    assert turned(cut_off) == pytest.approx(math.radians(120.0))


def test_each_corner_has_as_many_passes_as_it_asks_for():
    sharp = Polygon([(0, 0), (40, 0), (40, 20), (20, 20)])  # 45 degrees at the origin, then 90
    corners = passes(sharp)
    for place, turn in (((0, 0), 135.0), ((40, 0), 90.0), ((40, 20), 90.0), ((20, 20), 45.0)):
        wanted = roundings(math.radians(turn), FIRST, BOUND, CUTTER)
        # Their last may take no more than what is not seen.
        assert len(wanted) - 1 <= len(at(corners, place)) <= len(wanted)
    assert len(at(corners, (0, 0))) > 3 * len(at(corners, (40, 0)))


@pytest.mark.parametrize("wide", [20.0, 3.2])
def test_the_passes_of_a_corner_stay_together_where_another_is_near(wide):
    corners = passes(box(0, 0, 40, wide))
    assert len(corners) == 4
    for corner in corners:
        middles = np.array([arc.mean(axis=0) for arc in corner])
        assert (np.sign(middles[:, 1] - wide / 2) == np.sign(middles[0, 1] - wide / 2)).all()
        assert (np.diff([len(arc) and np.ptp(arc[:, 0]) for arc in corner]) < 0.0).all()


@pytest.mark.parametrize("fillet", [0.02, 0.3, 1.2, 1.9])
def test_corners_drawn_round_are_gone_into_as_sharp_ones_are(fillet):
    area = box(0, 0, 40, 20).buffer(-fillet, quad_segs=64).buffer(fillet, quad_segs=64)
    corners = passes(area)
    assert len(corners) == 4 and at(corners, (0, 0))
    # No place of the wall is further from a pass than the film that may be left.
    wall = shapely.points(shapely.get_coordinates(shapely.segmentize(area.exterior, 0.02)))
    arcs = [arc for corner in corners for arc in corner]
    lines = [rounded(area, FIRST, CUTTER).boundary, *map(shapely.linestrings, arcs)]
    assert shapely.distance(shapely.union_all(lines), wall).max() <= FILM
    assert all(turned(arc) > 0.0 for arc in arcs)


def test_what_is_rounder_than_the_first_pass_has_none():
    assert passes(Point(0, 0).buffer(12, quad_segs=64)) == ()
    assert passes(box(0, 0, 40, 20).buffer(-2).buffer(2, quad_segs=64)) == ()


def test_mouths_of_what_is_cut_later_are_no_corners():
    corners = passes(box(0, 0, 40, 20), box(40, 0, 50, 20))
    assert not at(corners, (40, 0)) and not at(corners, (40, 20))
    assert at(corners, (0, 0)) and at(corners, (0, 20))


def test_a_wall_that_bends_back_beside_its_corner_turns_no_less():
    # 90 degrees at (20, 0), and 1 mm further on the wall bends outward, on an arc of 3 mm.
    area = box(0, 0, 20, 20) | box(19, 4, 40, 20)
    area = area.buffer(3.0, quad_segs=32).buffer(-3.0, quad_segs=32)
    (first, *_) = at(passes(area), (20, 0))
    wall = beyond(area, rounded(area, FIRST, CUTTER), 1.0)
    (corner,) = (w for w in wall if math.dist(w.mean(axis=0), (20, 0)) < 2.0)
    assert turned(corner) == pytest.approx(math.pi / 2, abs=0.02)
    assert turned(first) > math.radians(60.0)
