"""Sweeps beside a slow twin that looks at every cell of the grid for every segment."""

import numpy as np
import pytest
from numba import njit

from toolpath.field import kernels
from toolpath.field.kernels import sweeping
from toolpath.field.sweep import upward

STEPS = 64
TABLES = {"flat": np.zeros(STEPS + 1), "round": np.linspace(0.0, 1.5, STEPS + 1) ** 2}


def slow_whole(s, cx, cy, half, table, per_step):
    """The bound of one cell, place by place; a level move of a flat cutter by its corners."""
    low, high = np.array(s[:3]), np.array(s[3:6])
    corners = np.array([(cx + i * half, cy + k * half) for i in (-1, 1) for k in (-1, 1)])
    radius = (table.size - 1) / per_step * (1.0 - 1e-9)
    step = (high - low)[:2]
    square = step @ step
    along = ((corners - low[:2]) @ step) / square if square else np.zeros(4)
    if low[2] == high[2] and table[0] == table[-1]:
        nearest = low[:2] + np.clip(along, 0, 1)[:, None] * step
        inside = np.hypot(*(corners - nearest).T).max() <= radius * (1.0 + 1e-12)
        return low[2] + table[0] if inside else np.inf
    near = np.clip((np.array([cx, cy]) - low[:2]) @ step / square, 0, 1) if square else 0.0
    places = [near]
    if low[2] != high[2]:
        aside = np.hypot(*(corners - low[:2] - along[:, None] * step).T)
        reach = np.sqrt(np.maximum(radius**2 - aside**2, 0.0) / square) if square else 1.0
        first, last = max(0.0, (along - reach).max()), min(1.0, (along + reach).min())
        if (aside <= radius).all() and first <= last:
            places += [first, 0.5 * (near + first)]
    found = np.inf
    for t in places:
        tip = low + t * (high - low)
        far = np.hypot(*(np.abs(tip[:2] - [cx, cy]) + half))
        index = int(far * per_step * (1.0 + 1e-12)) + 1
        if index < table.size:
            found = min(found, tip[2] + table[index])
    return found


@njit
def touched_by(s, cx, cy, half, table, per_step):
    return sweeping._touched(s, cx, cy, half, table, per_step)


def slow_touched(s, cx, cy, half, table, per_step):
    return touched_by(tuple(s), cx, cy, half, table, per_step)


def slow_sweep(z, place, segments, table, per_step, touched):
    """No spans, no blocks, no vectors: the bound of each closed cell from each segment."""
    bound = slow_touched if touched else slow_whole
    x0, y0, cell = place
    low = z.astype(np.float64)
    for segment in segments:
        for row, column in np.ndindex(z.shape):
            middle = x0 + (column + 0.5) * cell, y0 + (row + 0.5) * cell
            found = bound(segment, *middle, 0.5 * cell, table, per_step)
            low[row, column] = min(low[row, column], found)
    return low


def paths(kind, rng, cell):
    """(n, 10) segments in and beyond a grid of 14 by 18 cells; most of them fall on its lines."""
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
    return upward(points[:-1], points[1:])


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("kind", ["any", "ramps", "level", "along x", "along y", "plunge"])
@pytest.mark.parametrize("touched", [False, True])
def test_sweeps_beside_their_slow_twin(kind, table, touched):
    rng = np.random.default_rng([len(kind), len(table)])
    kernel = kernels.sweep_touched if touched else kernels.sweep_whole
    scratch = np.empty((kernels.BANDS, 6, 18))
    cut = 0
    for cell, radius in ((1.0, 4.0), (0.25, 0.8), (1.0, 0.4)):
        place, segments = (0.5 * cell, -cell, cell), paths(kind, rng, cell)
        fast = rng.uniform(-4, 0, (14, 18)).astype(np.float32)
        before = fast.copy()
        slow = slow_sweep(fast, place, segments, TABLES[table], STEPS / radius, touched)
        kernel(fast, place, segments, TABLES[table], STEPS / radius, scratch)
        # to the float on the safe side of it
        assert np.allclose(fast, slow, rtol=0, atol=1e-6)
        assert ((fast <= slow) if touched else (fast >= slow - 1e-12)).all()
        cut += (fast < before).sum()
    assert cut > 0
