import numpy as np
from shapely.geometry import Polygon, box

from toolpath.plan.fronts import fronts_of, to_take
from toolpath.plan.near import Cells, Near

RADIUS = 3.0


def scene(line):
    room = box(0, 0, 60, 40)
    cells = Cells.over(room, RADIUS)
    near = Near.fresh(cells, RADIUS, Polygon())
    near.sweep(np.array(line, dtype=float))
    depth = cells.depth(room)
    wanted = to_take(depth, near.reach, np.full(depth.shape, 0.5, dtype=np.float32))
    return near, depth, wanted


def stock_on_the_right(near, front):
    points = front.points
    k = len(points) // 2
    ahead = points[k + 1] - points[k]
    right = np.array([ahead[1], -ahead[0]]) / np.hypot(*ahead)
    column, row = np.round(points[k] + right * (near.reach + 4)).astype(int)
    return near.walked[row, column] > near.reach


def test_a_hole_in_the_stock_has_one_closed_front():
    near, depth, wanted = scene([(25, 18), (35, 18), (35, 22), (25, 22), (25, 18)])
    (front,) = fronts_of(near, depth, wanted, 1)
    assert front.closed and stock_on_the_right(near, front)
    begun = front.begun_near(np.array([0.0, 0.0]))
    assert np.hypot(*begun[0]) == np.hypot(*front.points.T).min()


def test_a_channel_from_wall_to_wall_has_a_front_on_either_side():
    near, depth, wanted = scene([(28, 0), (28, 40), (32, 40), (32, 0), (28, 0)])
    fronts = fronts_of(near, depth, wanted, 2)
    assert len(fronts) == 2
    assert all(not front.closed and stock_on_the_right(near, front) for front in fronts)
    for front in fronts:
        ends = near.cells.back(front.points[[0, -1]])[:, 1]
        assert {0, 40} == {round(end) for end in ends.tolist()}


def test_nothing_left_has_no_front():
    near, depth, wanted = scene([(28, 0), (28, 40), (32, 40), (32, 0), (28, 0)])
    for x in np.arange(0.0, 61.0, 1.0):
        near.sweep(np.array([(x, 0.0), (x, 40.0)]))
    assert fronts_of(near, depth, wanted, 1) == []
