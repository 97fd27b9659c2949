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
