import numpy as np
import pytest

from toolpath.field import kernels


def slow_tips(z, place, queries, shift, table, per_step):
    """Every place against every cell, without blocks."""
    x0, y0, cell = place
    found = np.full(len(queries), -np.inf)
    for n, (x, y) in enumerate(queries):
        for row, column in zip(*np.nonzero(np.isfinite(z)), strict=True):
            left, low = x0 + column * cell, y0 + row * cell
            dx, dy = max(left - x, x - left - cell, 0), max(low - y, y - low - cell, 0)
            index = int(max(np.hypot(dx, dy) - shift, 0.0) * per_step * (1.0 - 1e-12))
            if index < len(table):
                found[n] = max(found[n], z[row, column] - table[index])
    return found


@pytest.mark.parametrize("shift", [0.0, 0.7, -0.4])
def test_lowest_tips_against_a_slow_twin(shift):
    rng = np.random.default_rng(4)
    z = np.where(rng.random((21, 30)) < 0.4, rng.uniform(-9, -2, (21, 30)), -np.inf)
    tops = np.full((6, 8), -np.inf)
    for row, column in np.ndindex(z.shape):
        tops[row // 4, column // 4] = max(tops[row // 4, column // 4], z[row, column])
    table = np.linspace(0.0, 3.0, 25) ** 2 - 1.0
    queries, place = rng.uniform([-4, -4], [12, 10], (80, 2)), (0.5, -0.25, 0.3)
    out = np.empty(80)
    look = (shift, table, 10.0)
    kernels.lowest_tips(z, tops, 4, place, queries, look, (-np.inf, np.inf), out)
    expected = slow_tips(z, place, queries, shift, table, 10.0)
    assert np.array_equal(out, expected)
    assert np.isinf(out).any()
    assert np.isfinite(out).any()
    within = np.empty(80)
    kernels.lowest_tips(z, tops, 4, place, queries, look, (-8.0, -6.0), within)
    assert np.array_equal(np.clip(within, -8.0, -6.0), np.clip(expected, -8.0, -6.0))
    assert (within <= np.maximum(expected, -8.0)).all()
    assert (expected[np.isfinite(expected)] < -8.0).any()
    assert (within < expected)[expected > -6.0].any()
