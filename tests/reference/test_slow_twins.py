"""The compiled loops against plain Python written from the definitions."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.field import kernels
from toolpath.field.dilate import dilate
from toolpath.field.grid import Grid
from toolpath.field.profile import Element, Profile
from toolpath.field.sweep import sweep_touched, sweep_whole

GRID = Grid(x0=-1.0, y0=-1.5, cell=0.5, rows=9, columns=11)
BULL = Profile(
    elements=(Element(part_name="f", r_low=0.8, z_low=0.6, r_high=0.8, z_high=4, rounding=0.6),)
)


def number(low, high):
    """With no more decimals than a program has: the library divides by the squares of lengths."""
    return st.floats(low, high).map(lambda value: round(value, 9))


POINT = st.tuples(number(-2, 5), number(-2, 4), number(-3.0, -0.1))


def slow_dilate(source, drop):
    rows, columns = source.shape
    up, across = drop.shape[0] // 2, drop.shape[1] // 2
    out = np.full(source.shape, -np.inf, dtype=np.float32)
    for y, x in np.ndindex(rows, columns):
        for i, j in np.ndindex(*drop.shape):
            yy, xx = y + i - up, x + j - across
            if 0 <= yy < rows and 0 <= xx < columns:
                out[y, x] = max(out[y, x], source[yy, xx] - drop[i, j])
    return out


def corners_of(grid, row, column):
    x, y = grid.x0 + column * grid.cell, grid.y0 + row * grid.cell
    return np.array(
        [[x, y], [x + grid.cell, y], [x, y + grid.cell], [x + grid.cell, y + grid.cell]]
    )


def slow_whole(grid, a, b, cutter):
    """Best of many places from which one position covers the whole cell."""
    left = np.zeros(grid.shape)
    tips = a + np.linspace(0, 1, 801)[:, None] * (b - a)
    for row, column in np.ndindex(*grid.shape):
        apart = corners_of(grid, row, column)[None] - tips[:, None, :2]
        far = np.hypot(apart[..., 0], apart[..., 1]).max(axis=1)
        left[row, column] = min(0.0, (tips[:, 2] + cutter.height(far)).min())
    return left


def slow_touched(grid, a, b, cutter):
    """The library's distances of cell and segment; lowest tip of those that can touch."""
    left = np.zeros(grid.shape)
    radius = cutter.outer_radius
    tips = a + np.linspace(0, 1, 801)[:, None] * (b - a)
    line = shapely.LineString([a[:2], b[:2]])
    for row, column in np.ndindex(*grid.shape):
        corners = corners_of(grid, row, column)
        cell = shapely.box(*corners[0], *corners[3])
        near = shapely.distance(line, cell)
        if near <= radius:
            can = shapely.distance(shapely.points(tips[:, :2]), cell) <= radius
            z = tips[can, 2].min() if can.any() else max(a[2], b[2])
            left[row, column] = min(0.0, z + float(cutter.height(np.array([near]))[0]))
    return left


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.0, 1.0))
def test_dilation(seed, filled):
    rng = np.random.default_rng(seed)
    source = rng.normal(0, 5, (7, 9)).astype(np.float32)
    source[rng.random(source.shape) > filled] = -np.inf
    drop = rng.normal(3, 2, (5, 3)).astype(np.float32)
    drop[rng.random(drop.shape) > 0.8] = np.inf
    assert np.array_equal(dilate(source, drop), slow_dilate(source, drop))


@settings(max_examples=15, deadline=None)
@given(POINT, POINT)
def test_sweep_whole(one, two):
    a, b = np.array(one), np.array(two)
    z = np.zeros(GRID.shape, dtype=np.float32)
    sweep_whole(z, GRID, a[None], b[None], BULL)
    slow = slow_whole(GRID, a, b, BULL)
    # three places are not all: never under the best there is (its sampling aside), and not
    # over it by more than the cell's own width can cost
    step = np.abs(b - a)[2] / 800 + 1e-3
    assert (z >= slow - step - 0.05).all()
    level = np.array([b[0], b[1], a[2]])
    flat = np.zeros(GRID.shape, dtype=np.float32)
    sweep_whole(flat, GRID, a[None], level[None], BULL)
    best = slow_whole(GRID, a, level, BULL)
    both = (flat < 0) & (best < 0)
    assert (flat[both] - best[both] <= 0.25).all()
    assert ((best < 0) & (flat == 0)).sum() <= 0.15 * max(8, (best < 0).sum())


@settings(max_examples=15, deadline=None)
@given(POINT, POINT)
def test_sweep_touched(one, two):
    a, b = np.array(one), np.array(two)
    z = np.zeros(GRID.shape, dtype=np.float32)
    sweep_touched(z, GRID, a[None], b[None], BULL)
    slow = slow_touched(GRID, a, b, BULL)
    assert (z <= slow + 1e-9).all()
    # table step at the steep rim: sqrt(2 * 0.6 * 1.4 / 4096) = 0.02; plus the sampling of tips
    steep = abs(b[2] - a[2]) * 0.02 / max(math.dist(a[:2], b[:2]), 1e-9) + abs(b[2] - a[2]) / 400
    near = z >= slow - 0.03 - steep
    assert near.mean() > 0.97


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.1, 3.0))
def test_triangle_tops(seed, size):
    corners = np.random.default_rng(seed).normal(2, size, (1, 3, 3))
    out = np.full((8, 8), -np.inf)
    kernels.top_of_triangles(corners, (0.0, 0.0, 0.5), 1e-9, np.empty((3, 9, 3)), out)
    plan = shapely.Polygon(corners[0, :, :2])
    plane = np.linalg.solve(np.column_stack([corners[0, :, :2], np.ones(3)]), corners[0, :, 2])
    for row, column in np.ndindex(8, 8):
        cell = shapely.box(column * 0.5, row * 0.5, column * 0.5 + 0.5, row * 0.5 + 0.5)
        shared = plan.intersection(cell)
        if shared.is_empty:
            assert out[row, column] == -np.inf or plan.distance(cell) < 1e-6
        else:
            xy = shapely.get_coordinates(shared)
            top = (np.column_stack([xy, np.ones(len(xy))]) @ plane).max()
            # slivers make the plane steep: both are off by its slope times rounding
            slope = 1e-6 * (1 + np.hypot(*plane[:2]))
            assert out[row, column] == pytest.approx(top, abs=slope)
