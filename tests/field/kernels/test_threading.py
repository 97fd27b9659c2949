import numpy as np
import pytest

from toolpath.field import kernels


@pytest.mark.parametrize("thick", [0.002, 0.05])
def test_straights_stay_in_their_band(thick):
    along = np.linspace(0.0, 20.0, 400)
    low = np.sin(along)
    must = np.zeros(400, dtype=np.int64)
    must[[0, 170]] = 2  # two paths
    must[60] = 1  # a corner that is wanted
    z = np.empty(400)
    kernels.thread_through(along, low, low + thick, must, z)
    for first, end in ((0, 170), (170, 400)):
        kept = first + np.flatnonzero(~np.isnan(z[first:end]))
        assert kept[0] == first
        assert kept[-1] == end - 1
        on = np.interp(along[first:end], along[kept], z[kept])
        assert (on >= low[first:end] - 1e-12).all()
        assert (on <= low[first:end] + thick + 1e-12).all()
    assert not np.isnan(z[60])
    assert np.count_nonzero(~np.isnan(z)) < (230 if thick < 0.01 else 60)
