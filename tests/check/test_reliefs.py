import math
from dataclasses import replace

import numpy as np
import pytest
from relief_scene import cutter, relief

from toolpath.check.reliefs import deepest_asked, highest_asked
from toolpath.field.grid import Grid
from toolpath.job.model import Nut, Shape

GRID = Grid(x0=-10.0, y0=-10.0, cell=0.2, rows=100, columns=100)


def slope(x, y):
    return 5.0 + 0.2 * x + 0.1 * y


def test_depths_are_those_of_the_map_and_err_deep():
    x, y = GRID.centres()
    expected = slope(x[None, :], y[:, None])
    over = deepest_asked(relief(slope), GRID) - expected
    # the deepest of the cell and its neighbours: two cells of both slopes at most
    assert over.min() >= -1e-6
    assert over.max() <= 0.3 * 0.4


def test_what_a_cutter_does_not_reach_is_not_asked_for():
    cut = relief(lambda x, y: 5.0 + 0 * x, cutters=[cutter(Shape.BALL, 4.0)])
    wall = np.zeros(GRID.shape, dtype=bool)
    wall[:, :10] = True
    found = highest_asked(cut, GRID, wall, Nut())
    x, _ = GRID.centres()
    foot = found[50, (x > -7.3) & (x < -6.9)]
    assert (foot > -5.0 + 0.3).all()  # the round foot of the wall at x = -8
    assert found[50, 60] == pytest.approx(-5.0)


def test_a_turned_map_beside_the_middle_is_read_where_it_lies():
    turned = relief(slope)
    # elementary geometry: a place turned back about the middle of the map
    middle, angle = (1.0, -2.0), math.radians(30)
    ground = replace(turned.ground, at=middle, turn=angle)
    x, y = np.meshgrid(*GRID.centres())
    off_x, off_y = x - middle[0], y - middle[1]
    u = off_x * math.cos(angle) + off_y * math.sin(angle)
    v = off_y * math.cos(angle) - off_x * math.sin(angle)
    inner = np.maximum(abs(u), abs(v)) < 9.0
    over = (deepest_asked(replace(turned, ground=ground), GRID) - slope(u, v))[inner]
    assert over.min() >= -1e-6
    assert over.max() <= 0.3 * 0.4


def test_the_deepest_of_what_lies_close_together_counts():
    groove = lambda x, y: np.where(np.abs(x - 0.55) < 0.02, 6.0, 3.0) + 0 * y  # noqa: E731
    cut = relief(groove, step=0.05)
    found = deepest_asked(cut, GRID)[50]
    x, _ = GRID.centres()
    near = found[np.abs(x - 0.55) < 0.15]
    assert near.min() >= 4.0
    assert found[np.abs(x - 0.55) > 0.5] == pytest.approx(3.0, abs=1e-6)


def test_the_thinnest_cutter_that_finishes_decides_what_is_reached():
    two = [cutter(Shape.BALL, 6.0), cutter(Shape.BALL, 2.0)]
    notch = lambda x, y: np.where(np.abs(x) < 1.3, 5.0, 3.0) + 0 * y  # noqa: E731
    none = np.zeros(GRID.shape, dtype=bool)
    x, _ = GRID.centres()
    middle = np.abs(x) < 0.15
    both = highest_asked(relief(notch, cutters=two), GRID, none, Nut())[50, middle]
    wide = highest_asked(relief(notch, cutters=two[:1]), GRID, none, Nut())[50, middle]
    # a ball of 6 on the edges of a notch 2.6 wide: its tip 3 - sqrt(9 - 1.3^2) under them
    assert wide == pytest.approx(-3.0 - (3.0 - math.sqrt(9.0 - 1.3**2)), abs=0.15)
    assert (both < -4.6).all()


def test_beside_a_step_nothing_within_two_cells_need_be_reached():
    cut = relief(lambda x, y: np.where(x < 0, 2.0, 4.0) + 0 * y, cutters=[cutter(Shape.FLAT)])
    none = np.zeros(GRID.shape, dtype=bool)
    found = highest_asked(cut, GRID, none, Nut())[50]
    x, _ = GRID.centres()
    assert found[(x > 0) & (x < 0.2)] == pytest.approx(-2.0, abs=0.01)
    assert found[x > 1.0] == pytest.approx(-4.0, abs=0.01)


def test_no_ball_is_asked_to_reach_further_into_a_hole_than_its_edges_let_it():
    hole = lambda x, y: np.where(np.maximum(np.abs(x), np.abs(y)) < 2.5, 9.0, 3.0)  # noqa: E731
    none = np.zeros(GRID.shape, dtype=bool)
    found = highest_asked(relief(hole, step=0.1), GRID, none, Nut())
    # elementary geometry: a ball of radius 3 on edges 2.5 mm from its axis
    deepest = 3.0 + 3.0 - math.sqrt(9.0 - 2.5**2)
    assert -deepest - 0.02 <= found.min() <= -deepest + 0.3
