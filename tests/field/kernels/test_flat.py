"""Dilation by a flat disc: scipy's grey dilation with a footprint is the truth."""

import numpy as np
import pytest
from scipy import ndimage

from toolpath.field.dilate import dilate


@pytest.mark.parametrize("radius", [0.0, 1.0, 2.5, 7.0, 15.0])
@pytest.mark.parametrize("shape", [(1, 1), (3, 90), (64, 41)])
def test_a_disc_is_that_of_scipy(radius, shape):
    rng = np.random.default_rng(int(10 * radius) + shape[1])
    z = rng.uniform(-9.0, 9.0, shape).astype(np.float32)
    reach = int(radius)
    away = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1])
    drop = np.where(away <= radius, 0.0, np.inf).astype(np.float32)
    truth = ndimage.grey_dilation(z, footprint=away <= radius, mode="constant", cval=-np.inf)
    assert np.array_equal(dilate(z, drop), truth)
