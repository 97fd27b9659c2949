import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from toolpath.plan.near import Cells, Near

RADIUS = 3.0
SHAPES = {
    "box": box(0.3, 0.2, 31.7, 20.1),
    "holed": box(0, 0, 40, 30) - Point(18, 14).buffer(6),
    "two": box(0, 0, 10, 10) | box(14.05, 3, 30, 9),
}


@pytest.mark.parametrize("name", SHAPES)
def test_depth_is_the_distance_from_the_edge(name):
    area = SHAPES[name]
    cells = Cells.over(area, RADIUS)
    depth = cells.depth(area) * cells.size
    rng = np.random.default_rng(3)
    row, column = (rng.integers(0, size, 4000) for size in cells.shape)
    spots = shapely.points(cells.back(np.column_stack([column, row])))
    true = shapely.distance(area.boundary, spots)
    true = np.where(shapely.contains(area, spots), true, -true)
    found = depth[row, column]
    close = np.abs(true) < 1.5 * cells.size
    assert np.abs(found - true)[close].max() < 1e-5
    assert np.abs(found - true).max() < cells.size


def test_large_areas_get_wider_cells():
    cells = Cells.over(box(0, 0, 600, 400), 1.0)
    assert cells.shape[0] * cells.shape[1] < 9_000_000


def test_what_is_gone_is_no_stock():
    area, gone = box(0, 0, 60, 40), box(-5, -5, 30, 45)
    near = Near.fresh(Cells.over(area, RADIUS), RADIUS, gone)
    assert near.clear(np.array([[26.9, 20.0]]))
    assert not near.clear(np.array([[27.4, 20.0]]))
    angle = near.engaged(np.array([[27.0, 5.0], [28.0, 5.0], [28.0, 6.0], [28.0, 30.0]]))
    assert angle[3] == pytest.approx(math.acos(1 - 1 / 3), abs=math.radians(1.5))


def test_a_try_leaves_the_stock_alone():
    area = box(0, 0, 20, 20)
    near = Near.fresh(Cells.over(area, RADIUS), RADIUS, Polygon())
    near.copy().sweep(np.array([[5.0, 5.0], [15.0, 5.0]]))
    assert not near.clear(np.array([[10.0, 5.0]]))
    near.sweep(np.array([[5.0, 5.0], [15.0, 5.0]]))
    assert near.clear(np.array([[10.0, 5.0]]))


def test_a_window_is_a_copy_of_the_same_stock():
    cells = Cells.over(box(0, 0, 30, 20), 3.0)
    near = Near.fresh(cells, 3.0, box(0, 0, 10, 20))
    window = near.window((5.0, 5.0, 20.0, 15.0))
    x, y = window.cells.back(np.array([[0.0, 0.0]]))[0]
    assert 5.0 - cells.size <= x <= 5.0 and 5.0 - cells.size <= y <= 5.0
    way = np.array([[11.0, 10.0], [13.0, 10.0]])
    assert np.allclose(window.engaged(way), near.copy().engaged(way))
    assert near.walked.max() > near.reach and not near.clear(way)  # the stock itself is untouched
    beyond = near.window((-500.0, -500.0, 500.0, 500.0))
    assert beyond.cells == cells


def test_films_within_the_rim_are_left_out():
    near = Near.fresh(Cells.over(box(0, 0, 30, 20), 3.0), 3.0, box(-5, 3.0, 35, 25))
    way = np.column_stack([np.linspace(5, 25, 41), np.full(41, 5.9)])  # 0.1 mm of the edge
    assert near.copy().engaged(way).max() > 0.2
    assert near.copy().engaged(way, film=0.05).max() > 0.0
    assert near.copy().engaged(way, film=0.15).max() == 0.0
