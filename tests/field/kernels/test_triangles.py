import numpy as np
import pytest

from toolpath.field import kernels


def top(corners, cells=(4, 4), slack=1e-9):
    out = np.full(cells, -np.inf)
    triangles = np.array(corners, dtype=np.float64)
    kernels.top_of_triangles(triangles, (0.0, 0.0, 1.0), slack, np.empty((3, 9, 3)), out)
    return out


def test_triangle_tops_by_hand():
    # plane z = x + 2 y over the triangle (0.5, 0.5) (2.5, 0.5) (0.5, 2.5)
    corner = [[0.5, 0.5, 1.5], [2.5, 0.5, 3.5], [0.5, 2.5, 5.5]]
    found = top([corner])
    # the hypotenuse x + y = 3 leaves each cell where z = 3 + y is largest
    assert found[0, :3] == pytest.approx([3.0, 4.0, 3.5 + 0.5])
    assert found[1, :2] == pytest.approx([5.0, 5.0])
    # cell [2, 1] is only touched, in its corner (1, 2)
    assert found[2, :2] == pytest.approx([5.5, 5.0])
    assert np.isinf(found[3]).all()
    assert np.isinf(found[:, 3]).all()


def test_upright_triangles_and_touched_edges_count():
    wall = [[1.0, 0.2, 0.0], [1.0, 0.8, 7.0], [1.0, 0.5, -3.0]]
    found = top([wall])
    assert found[0, :2] == pytest.approx([7.0, 7.0])
    assert np.isinf(found[0, 2:]).all()
