import numpy as np

from toolpath.field import kernels


def test_bands_leave_no_node_out():
    z = np.zeros((40, 33))
    tips = np.array([[1.6, 2.0, -1.0]])
    table = np.zeros(50)
    kernels.carve(z, (0.0, 0.0, 0.1), tips, table, 49.0, 1.0)
    y, x = np.mgrid[0:40, 0:33] * 0.1
    inside = np.hypot(x - 1.6, y - 2.0) < 0.99
    assert (z[inside] == -1.0).all()
    assert (z[np.hypot(x - 1.6, y - 2.0) > 1.0 + 1e-9] == 0.0).all()
