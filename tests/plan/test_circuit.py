import itertools
import math

import numpy as np
import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.motion.arcfit import moves_along
from toolpath.plan.circuit import Circuit, evenly

ROUNDED = rect(0, 0, 100, 60, 10).outer


def length_of(edges, closed=False):
    return sum(m.length for m in moves_along(edges, 0.0, 0.0, 1.0, closed=closed))


def test_length_is_that_of_the_loop():
    # 2 (80 + 40) + 2 pi 10 (elementary).
    assert Circuit(ROUNDED.points).length == pytest.approx(240 + 20 * math.pi)


def test_points_of_arcs_lie_on_them():
    ring = Circuit(circle(5, 7, 20).outer.points)
    points = ring.at(evenly(ring.length, 97))
    assert np.hypot(*(points - (5, 7)).T) == pytest.approx(20.0)
    ahead = np.hypot(*np.diff(points, axis=0).T)
    # Chord of a 97th of a turn: 2 r sin(pi / 97).
    assert ahead == pytest.approx(40 * math.sin(math.pi / 97))


@pytest.mark.parametrize("seed", range(5))
def test_parts_join_and_have_the_length_between_their_ends(seed):
    rng = np.random.default_rng(seed)
    loop = Circuit(ROUNDED.points)
    first = rng.uniform(0, loop.length)
    cuts = first + np.sort(np.append(rng.uniform(0, loop.length, 4), [0.0, loop.length]))
    for low, high in itertools.pairwise(cuts):
        part = loop.part(low, high)
        assert length_of(part) == pytest.approx(high - low)
        ends = loop.at(np.array([low, high]))
        assert part[[0, -1], :2] == pytest.approx(ends)


def test_begun_elsewhere_it_is_the_same_way_round():
    loop = Circuit(ROUNDED.points)
    moved = loop.begun_at(50.0)
    where = evenly(loop.length, 50)
    assert moved.length == pytest.approx(loop.length)
    assert moved.at(where) == pytest.approx(loop.at(where + 50.0))
    assert loop.begun_at(0.0) is loop
    assert length_of(moved.edges, closed=True) == pytest.approx(loop.length)


def test_turning_is_a_whole_turn_once_round_and_corners_are_found():
    square, ring = Circuit(rect(0, 0, 10, 10).outer.points), Circuit(ROUNDED.points)
    for loop in (square, ring):
        once = loop.turning(np.array([3.0 + loop.length])) - loop.turning(np.array([3.0]))
        assert once == pytest.approx([2 * math.pi])
    assert square.corners == pytest.approx([0, 10, 20, 30])
    assert len(ring.corners) == 0


def test_nearest_is_where_a_point_was_taken_from():
    loop = Circuit(ROUNDED.points)
    for place in (0.3, 81.0, 150.0, loop.length - 0.2):
        assert loop.nearest(loop.at(np.array([place]))[0]) == pytest.approx(place, abs=2e-3)
    edges = np.array([(0, 0, 0.0), (0, 0, 0.0), (5, 0, 0.0), (5, 5, 0.0)])
    assert Circuit(edges).length == pytest.approx(10 + 5 * math.sqrt(2))
