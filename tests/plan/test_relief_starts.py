import numpy as np
import pytest
from relief_scene import cutter, relief, target_of

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_starts import begun, closed, outer_ends
from toolpath.plan.target import relief_area

RING = np.array([[-7.0, -7, -5], [7, -7, -5], [7, 7, -5], [-7, 7, -5], [-7, -7, -5]])


@pytest.fixture
def scene():
    """A level floor 5 mm deep over which half a millimetre stands."""
    cut = relief(lambda x, y: 5.0 + 0 * x)
    left = Left.before(cut, relief_area(cut))
    left.nodes.z[:] = -4.5
    return target_of(cut), left


def test_a_ring_begins_a_ramp_before_the_place_where_rows_go_on(scene):
    target, left = scene
    ends = np.array([[6.5, 3.0]])
    path = begun(RING, target, left, ends, 1.0)
    assert closed(path)
    assert path[:, 2] == pytest.approx(-5.0)
    assert np.hypot(*np.diff(path[:, :2], axis=0).T).sum() == pytest.approx(56.0)
    # it goes up along x = 7, from where 0.5 mm and the 0.25 mm over it are as far as the ramp takes
    long = (0.5 + 0.25) / (ALLOWANCES.slope * np.tan(cutter().ramp))
    corner = np.flatnonzero(np.isclose(path[:, 0], 7.0) & np.isclose(path[:, 1], 3.0))
    along = np.hypot(*np.diff(path[: corner[0] + 1, :2], axis=0).T).sum()
    assert long <= along <= long + 56.0 / 50


def test_a_ring_with_no_row_near_begins_where_least_stands(scene):
    target, left = scene
    near = np.hypot(left.places[:, 0] - 7, left.places[:, 1] - 7).reshape(left.nodes.z.shape)
    left.nodes.z[near < 4] = -5.0
    path = begun(RING, target, left, np.empty((0, 2)), 1.0)
    assert path[0] == pytest.approx([7.0, 7.0, -5.0])
    open_ = RING[:-1]
    assert begun(open_, target, left, np.empty((0, 2)), 1.0) is open_


def test_the_outer_ends_are_those_of_the_first_and_last_row():
    rows = [[], [RING[:2]], [RING[1:3]], [RING[2:4]], []]
    assert outer_ends(rows).tolist() == [[-7, -7], [7, -7], [7, 7], [-7, 7]]
    assert outer_ends([]).shape == (0, 2)
