"""Sweeps beside a slow twin that looks at every cell of the grid for every segment."""

import numpy as np
import pytest

from toolpath.field import kernels
from toolpath.field.kernels import sweeping

STEPS = 64
TABLES = {"flat": np.zeros(STEPS + 1), "round": np.linspace(0.0, 1.5, STEPS + 1) ** 2}


def slow_sweep(z, place, segments, table, per_step, touched):
    """No bounds, no stretches: the bound of each closed cell from each segment."""
    bound, to_float = sweeping._whole, sweeping._round_up
    if touched:
        bound, to_float = sweeping._touched, sweeping._round_down
    x0, y0, cell = place
    for segment in segments:
        for row, column in np.ndindex(z.shape):
            middle = x0 + (column + 0.5) * cell, y0 + (row + 0.5) * cell
            found = bound(tuple(segment), *middle, 0.5 * cell, table, per_step)
            if found < z[row, column]:
                z[row, column] = min(z[row, column], to_float(found))


def paths(kind, rng, cell):
    """(n, 6) segments in and beyond a grid of 14 by 18 cells; most of them fall on its lines."""
    points = rng.uniform(-4, 20, (6, 3)) * cell
    points[:, 2] = rng.uniform(-5, 0, 6)
    if kind != "any":
        points[:, :2] = np.round(points[:, :2] / cell) * cell
    if kind == "level":
        points[:, 2] = -2.0
    if kind == "along x":
        points[:, 1:] = points[0, 1:]
    if kind == "along y":
        points[:, ::2] = points[0, ::2]
    if kind == "plunge":
        points[:, :2] = 7 * cell, 6 * cell
    return np.concatenate([points[:-1], points[1:]], axis=1)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("kind", ["any", "ramps", "level", "along x", "along y", "plunge"])
@pytest.mark.parametrize("touched", [False, True])
def test_sweeps_beside_their_slow_twin(kind, table, touched):
    rng = np.random.default_rng([len(kind), len(table)])
    kernel = kernels.sweep_touched if touched else kernels.sweep_whole
    cut = 0
    for cell, radius in ((1.0, 4.0), (0.25, 0.8), (1.0, 0.4)):
        place, segments = (0.5 * cell, -cell, cell), paths(kind, rng, cell)
        fast = rng.uniform(-4, 0, (14, 18)).astype(np.float32)
        slow = fast.copy()
        before = fast.copy()
        kernel(fast, place, segments, TABLES[table], STEPS / radius)
        slow_sweep(slow, place, segments, TABLES[table], STEPS / radius, touched)
        assert np.array_equal(fast, slow)
        cut += (fast < before).sum()
    assert cut > 0
