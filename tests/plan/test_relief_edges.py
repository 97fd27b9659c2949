"""Where rows meet the pass round the walls, against elementary geometry of circles on a level."""

import numpy as np
import pytest
import shapely
from relief_scene import cutter, relief, target_of
from shapely.geometry import LineString

from toolpath.plan.relief_edges import beside, foot_of, short_of, touching
from toolpath.plan.relief_lines import wall_lines

CUSP = 0.02
RING = np.array([[-7.0, -7, -5], [7, -7, -5], [7, 7, -5], [-7, 7, -5], [-7, -7, -5]])


def row(y, x0=-7.0, x1=7.0, z=-5.0):
    return np.array([[x0, y, z], [x1, y, z]])


def test_rows_on_a_level_end_so_far_from_the_wall_that_ridges_are_no_higher():
    foot, ball = foot_of([RING]), cutter()
    step = 2 * np.sqrt(CUSP * (2 * 3.0 - CUSP))  # elementary geometry: ridges of a ball of radius 3
    rows = [row(step * k) for k in range(-3, 4)]
    short = short_of(rows, foot, ball, CUSP)
    assert [len(path) for path in short] == [2] * 7
    spare = 7.0 - short[0][1, 0]
    assert 0.4 * step < spare <= 0.5 * step
    # the places furthest from the rows and the ring leave ridges of that height at most
    gone = shapely.union_all([foot, *[LineString(path[:, :2]) for path in short]])
    x, y = np.meshgrid(np.linspace(5, 7, 201), np.linspace(-step, step, 101))
    away = shapely.distance(gone, shapely.points(x, y))
    assert (3.0 - np.sqrt(9.0 - away**2)).max() <= CUSP * 1.001


@pytest.mark.parametrize("rise", [0.5, 2.0])
def test_where_a_row_rises_it_ends_nearer_to_the_wall(rise):
    path = row(0.0)
    path[1, 2] += 14 * rise
    (level,), (rising,) = (short_of([p], foot_of([RING]), cutter(), CUSP) for p in (row(0.0), path))
    # passes on a slope lie nearer by its cosine
    share = (7.0 - rising[1, 0]) / (7.0 - level[1, 0])
    assert share == pytest.approx(1 / np.hypot(1, rise), rel=1e-6)


def test_rows_that_end_elsewhere_stay_and_those_beside_the_ring_go():
    foot = foot_of([RING])
    inner, across, brief = row(1.0, -3.0, 3.0), row(1.0, -9.0, 9.0), row(6.9, 6.9, 7.0)
    found = short_of([inner, across, brief], foot, cutter(), CUSP)
    assert [path.tolist() for path in found] == [inner.tolist(), across.tolist()]
    lines = [row(7.0, -9, 9)[:, :2], row(3.0, -9, 9)[:, :2]]
    rest = beside(lines, foot, 3.0)
    assert sum(LineString(each).length for each in rest[:-1]) == pytest.approx(4.0, abs=0.2)
    assert rest[-1] is lines[1]
    assert short_of([inner], foot_of([]), cutter(), CUSP) == [inner]


@pytest.mark.parametrize(("depth", "length"), [(4.0, 4 * 14), (1.0, 0.0)])
def test_a_wall_is_touched_where_the_floor_is_deeper_than_the_end_is_round(depth, length):
    target = target_of(relief(lambda x, y: depth + 0 * x))
    found = touching(target, wall_lines(target, target.roam))
    assert sum(LineString(each).length for each in found) == pytest.approx(length, abs=0.1)


def test_of_a_wall_touched_for_less_than_half_only_that_is_kept():
    target = target_of(relief(lambda x, y: 2.0 - 0.2 * x))
    (found,) = touching(target, wall_lines(target, target.roam))
    # 0.02 mm from its widest the ball is 3 - sqrt(9 - 2.98^2) = 2.65 mm high, and on that slope its
    # tip stays 3 (sqrt(1.04) - 1) = 0.06 mm over the floor; one more place of 0.5 mm is kept
    assert found[:, 0].max() == pytest.approx((2.0 - 2.71) / 0.2, abs=0.6)
    assert len(found) > 2
