import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from toolpath.plan.cover import fix_up, left_standing, reachable, swept


def test_a_straight_path_sweeps_a_slot():
    # 2 r L + pi r^2 for 40 mm and a 12 mm cutter: 593.097336 (elementary).
    found = swept([np.array([[0.0, 0.0], [40.0, 0.0]])], 6.0)
    assert found.area == pytest.approx(593.097336, abs=0.1)
    assert found.area <= 593.097336


def test_a_visit_sweeps_a_disc_and_never_more():
    found = swept([np.array([[1.0, 2.0]])], 3.0)
    assert 0.999 * 9 * math.pi < found.area <= 9 * math.pi


def test_what_a_disc_reaches_of_a_rectangle():
    # A - 4 (1 - pi/4) r^2 = 5992.274334 for 100 x 60 and a 6 mm cutter (elementary).
    assert reachable(box(3, 3, 97, 57), 3.0).area == pytest.approx(5992.274334, abs=0.05)


def test_slivers_thinner_than_the_tolerance_do_not_count():
    can = box(0, 0, 50, 10)
    assert left_standing(can, box(0, 0, 50, 9.995)) == ()
    (strip,) = left_standing(can, box(0, 0, 50, 9.9))
    assert strip.area == pytest.approx(5.0)


@pytest.mark.parametrize(
    "sliver",
    [
        Polygon([(20, 20), (24, 20), (22, 21)]),
        Polygon([(10, 20), (50, 21), (90, 20), (50, 22)]),
        Point(30, 30).buffer(8).difference(Point(30, 30).buffer(6)),
        box(20, 20, 60, 25),
    ],
)
def test_the_visit_clears_the_sliver_and_stays_inside(sliver):
    centres = box(3, 3, 97, 57)
    rings = fix_up(sliver, centres, 3.0, 1.0)
    assert sliver.difference(swept([ring.points for ring in rings], 3.0)).area < 1e-4
    assert all(centres.covers(ring.geometry) for ring in rings)


def test_a_small_sliver_is_cleared_from_one_point():
    (ring,) = fix_up(Polygon([(20, 20), (24, 20), (22, 21)]), box(3, 3, 97, 57), 3.0, 1.0)
    assert ring.points.shape == (1, 2)


def test_loops_round_long_slivers_climb():
    for turn in (1.0, -1.0):
        (ring,) = fix_up(box(20, 20, 60, 22), box(3, 3, 97, 57), 3.0, turn)
        assert shapely.LinearRing(ring.points).is_ccw == (turn > 0)


def test_for_a_speck_at_a_wall_nothing_is_visited():
    # It lies between the wall and what chords say is cut: the centre, 3 mm within, gets no nearer.
    assert fix_up(box(0, 30, 0.011, 30.012), box(3, 3, 97, 57), 3.0, 1.0) == ()
