import itertools

import numpy as np
import pytest

from toolpath.field import kernels
from toolpath.field.dilate import lowest_clear
from toolpath.field.grid import Grid, HeightField
from toolpath.field.sweep import sweep_touched, sweep_whole


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


def test_one_compiled_signature_each(cutter):
    grid = Grid(x0=0, y0=0, cell=0.5, rows=20, columns=30)
    z = np.zeros(grid.shape, dtype=np.float32)
    path = np.array([[0.0, 0.0, -1.0], [3.0, 2.0, -2.0]])
    for name in ("flat", "ball"):
        sweep_whole(z, grid, path[:-1], path[1:], cutter(name))
        sweep_touched(z, grid, path[:-1], path[1:], cutter(name))
        lowest_clear(HeightField(grid=grid, z=z.copy()), cutter(name), 1.0, -40)
        top([np.zeros((3, 3))])
    for kernel in (
        kernels.dilate,
        kernels.sweep_whole,
        kernels.sweep_touched,
        kernels.top_of_triangles,
    ):
        assert len(kernel.signatures) == 1


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
    kernels.lowest_tips(z, tops, 4, place, queries, shift, table, 10.0, out)
    expected = slow_tips(z, place, queries, shift, table, 10.0)
    assert np.array_equal(out, expected)
    assert np.isinf(out).any()
    assert np.isfinite(out).any()


def test_thinned_paths_keep_over_their_bounds():
    rng = np.random.default_rng(6)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 400))
    points = np.column_stack([5 * np.cos(angle), 5 * np.sin(angle), np.sin(3 * angle)])
    bound = np.maximum(points[:-1, 2], points[1:, 2]) - 0.06
    points[:, 2] += 0.03
    keep = np.zeros(400, dtype=np.bool_)
    kernels.thin_over(points, bound, 0.02, 0.05, keep)
    assert keep[0]
    assert keep[-1]
    assert keep.sum() < 120
    kept = np.flatnonzero(keep)
    for first, last in itertools.pairwise(kept):
        if last == first + 1:
            continue
        a, b = points[first], points[last]
        share = (points[first : last + 1, :2] - a[:2]) @ (b - a)[:2] / np.sum((b - a)[:2] ** 2)
        on = a + share[:, None] * (b - a)
        aside = np.hypot(*(on - points[first : last + 1])[:, :2].T)
        assert aside.max() <= 0.02 + 1e-9
        assert (np.minimum(on[:-1, 2], on[1:, 2]) >= bound[first:last] - 1e-9).all()
        assert (on[:, 2] <= points[first : last + 1, 2] + 0.05 + 1e-9).all()
