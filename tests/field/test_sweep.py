import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.field.grid import Grid
from toolpath.field.profile import Element, Profile
from toolpath.field.sweep import bite, sweep_touched, sweep_whole

GRID = Grid(x0=-5.0, y0=-4.0, cell=0.25, rows=36, columns=44)
CUTTERS = {
    "flat": Element(part_name="flutes", r_low=1.5, z_low=0, r_high=1.5, z_high=9),
    "ball": Element(part_name="flutes", r_low=0, z_low=1.5, r_high=0, z_high=1.5, rounding=1.5),
    "vee": Element(part_name="flutes", r_low=0.2, z_low=0, r_high=1.5, z_high=2),
}
COORDINATE = st.floats(-6.0, 6.0).map(lambda v: round(v, 2))
POINT = st.tuples(COORDINATE, COORDINATE, st.floats(-3.0, -0.5))


def profile(name: str) -> Profile:
    return Profile(elements=(CUTTERS[name],))


def swept(function, grid, points, cutter, **more):
    z = np.zeros(grid.shape, dtype=np.float32)
    path = np.array(points, dtype=np.float64)
    function(z, grid, path[:-1], path[1:], cutter, **more)
    return z


def sampled(points, cutter, where, shrink):
    """Height left at points (k, 2) by dense sampling of a path: never under the truth, or with
    `shrink` never over it (the cutter widened and lowered by half a step)."""
    left = np.zeros(len(where))
    path = np.array(points)
    for a, b in itertools.pairwise(path):
        t = np.linspace(0, 1, 301)[:, None]
        tips = a + t * (b - a)
        step = np.abs(b - a) / 600 if shrink else np.zeros(3)
        apart = np.hypot(*(where[None, :, :] - tips[:, None, :2]).transpose(2, 0, 1))
        r = np.maximum(apart - np.hypot(*step[:2]), 0.0)
        left = np.minimum(left, (tips[:, 2:] - step[2] + cutter.height(r)).min(axis=0))
    return left


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(CUTTERS)), st.lists(POINT, min_size=2, max_size=3), st.randoms())
def test_bounds_never_cross_dense_sampling(name, points, random):
    cutter = profile(name)
    upper, lower = (
        swept(sweep_whole, GRID, points, cutter),
        swept(sweep_touched, GRID, points, cutter),
    )
    rng = np.random.default_rng(random.randrange(2**32))
    cells = rng.integers(0, [GRID.rows, GRID.columns], (60, 2))
    inside = rng.choice([0.0, 0.5, 1.0, 0.3], (60, 2))
    where = (cells[:, ::-1] + inside) * GRID.cell + [GRID.x0, GRID.y0]
    rows, columns = cells.T
    assert (upper[rows, columns] >= sampled(points, cutter, where, shrink=True) - 1e-9).all()
    assert (lower[rows, columns] <= sampled(points, cutter, where, shrink=False) + 1e-9).all()
    assert (lower <= upper).all()


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(CUTTERS)), POINT, COORDINATE, st.floats(0.0, 0.03), st.booleans())
def test_moves_that_are_almost_level_err_to_both_safe_sides(name, begin, x, fall, rises):
    end = (x, begin[1] + 1.0, begin[2] - fall)
    points = [end, begin] if rises else [begin, end]
    cutter = profile(name)
    upper = swept(sweep_whole, GRID, points, cutter)
    lower = swept(sweep_touched, GRID, points, cutter)
    rows, columns = np.indices(GRID.shape).reshape(2, -1)
    for inside in (0.0, 0.5, 1.0):
        where = np.stack([columns + inside, rows + inside], axis=1) * GRID.cell
        where += [GRID.x0, GRID.y0]
        least = sampled(points, cutter, where, shrink=True)
        assert (upper[rows, columns] >= least - 1e-9).all()
        most = sampled(points, cutter, where, shrink=False)
        assert (lower[rows, columns] <= most + 1e-9).all()
    if name == "flat":  # nor further than the fall
        assert upper.min() <= begin[2] + 1e-6
        assert lower.min() >= end[2] - 1e-6


@pytest.mark.parametrize("end", [(8.0, 0.0), (5.0, 5.0), (7.0, 2.0), (0.0, 0.0)])
def test_swept_areas_against_the_library_buffer(end):
    grid = Grid(x0=-3.0, y0=-3.0, cell=0.05, rows=240, columns=300)
    path = [(0.0, 0.0, -1.0), (*end, -1.0)]
    line = shapely.LineString([p[:2] for p in path]) if any(end) else shapely.Point(0, 0)
    true = line.buffer(1.5, quad_segs=256)
    whole = (swept(sweep_whole, grid, path, profile("flat")) < 0).sum() * grid.cell**2
    touched = (swept(sweep_touched, grid, path, profile("flat")) < 0).sum() * grid.cell**2
    # an outline of length L crosses a band of at most about sqrt(2) cells each way
    rim = true.length * grid.cell * 1.42
    assert true.area - rim <= whole <= true.area <= touched <= true.area + rim


def test_cells_are_judged_one_by_one_against_the_library():
    path = [(-3.0, -2.0, -1.0), (3.0, 1.5, -1.0), (1.0, 3.0, -1.0)]
    true = shapely.LineString([p[:2] for p in path]).buffer(1.5, quad_segs=512)
    x, y = (
        GRID.x0 + np.arange(GRID.columns) * GRID.cell,
        GRID.y0 + np.arange(GRID.rows) * GRID.cell,
    )
    left, low = np.meshgrid(x, y)
    cells = shapely.box(left, low, left + GRID.cell, low + GRID.cell)
    whole = swept(sweep_whole, GRID, path, profile("flat")) < 0
    touched = swept(sweep_touched, GRID, path, profile("flat")) < 0
    assert not (whole & ~shapely.covers(true.buffer(1e-4), cells)).any()
    assert not (shapely.intersects(true, cells) & ~touched).any()
    assert not (touched & (shapely.distance(true, cells) > 1e-4)).any()


def test_ramp_takes_the_lowest_covering_place():
    # flat cutter of radius 1.5 falling 1 in 10 along x: the lowest place that covers the cell
    # whose far corners are at (0.25, 0.125) past its middle lies sqrt(1.5^2 - 0.125^2) ahead
    grid = Grid(x0=0.0, y0=-0.125, cell=0.25, rows=1, columns=1)
    z = swept(sweep_whole, grid, [(-10.0, 0.0, 0.0), (10.0, 0.0, -2.0)], profile("flat"))
    ahead = 0.0 + np.sqrt(1.5**2 - 0.125**2)
    assert z[0, 0] == pytest.approx(-1.0 - 0.1 * ahead, abs=1e-5)
    low = swept(sweep_touched, grid, [(-10.0, 0.0, 0.0), (10.0, 0.0, -2.0)], profile("flat"))
    assert low[0, 0] == pytest.approx(-1.0 - 0.1 * (0.25 + 1.5), abs=1e-5)


def test_plunge_leaves_its_lower_end():
    z = swept(sweep_whole, GRID, [(0.0, 0.0, 5.0), (0.0, 0.0, -2.1)], profile("flat"))
    assert z.min() == pytest.approx(-2.1, abs=1e-6)
    assert float(z.min()) >= -2.1
    low = swept(sweep_touched, GRID, [(0.0, 0.0, 5.0), (0.0, 0.0, -2.1)], profile("flat"))
    assert -2.1 - 1e-6 <= float(low.min()) <= -2.1


def test_deviation_errs_to_both_safe_sides():
    path = [(-2.0, 0.0, -1.0), (2.0, 0.0, -1.0)]
    for name in CUTTERS:
        cutter = profile(name)
        bent = [(-2.0, 0.1, -1.0), (2.0, -0.1, -1.0)]
        upper = swept(sweep_whole, GRID, path, cutter, deviation=0.1)
        lower = swept(sweep_touched, GRID, path, cutter, deviation=0.1)
        assert (upper >= swept(sweep_touched, GRID, bent, cutter)).all()
        middles = np.stack(np.meshgrid(*GRID.centres()), axis=-1).reshape(-1, 2)
        true = sampled(bent, cutter, middles, shrink=True).reshape(GRID.shape)
        assert (upper >= true - 1e-9).all()
        assert (lower <= sampled(bent, cutter, middles, False).reshape(GRID.shape) + 1e-9).all()


def test_what_is_gone_is_gone_wherever_within_the_deviation_the_path_lies():
    grid = Grid(x0=-5.0, y0=-4.0, cell=0.04, rows=200, columns=250)
    x, y = np.meshgrid(*grid.centres())
    cells = shapely.box(x - 0.02, y - 0.02, x + 0.02, y + 0.02)
    z = swept(sweep_whole, grid, [(-2, 0, -1), (2, 0, -1)], profile("flat"), deviation=0.1)
    for aside in (-0.1, 0.1):
        cut = shapely.LineString([(-2, aside), (2, aside)]).buffer(1.5 + 1e-6, quad_segs=512)
        assert shapely.covers(cut, cells[z < 0.0]).all()
    assert (z < 0.0).sum() * 0.04**2 > shapely.LineString([(-2, 0), (2, 0)]).buffer(1.3).area


@pytest.mark.parametrize("function", [sweep_whole, sweep_touched])
@pytest.mark.parametrize("name", sorted(CUTTERS))
def test_a_field_of_few_columns_is_a_part_of_a_wide_one(function, name):
    wide = Grid(x0=-5.0, y0=-4.0, cell=0.25, rows=50, columns=50)
    narrow = Grid(x0=-1.0, y0=-4.0, cell=0.25, rows=50, columns=3)
    path = [(-3.1, -3, -1), (2.9, 4.2, -1), (0.4, 6, -2)]
    whole = swept(function, wide, path, profile(name))
    part = swept(function, narrow, path, profile(name))
    assert (part == whole[:, 16:19]).all()
    assert (part < 0.0).any()


def test_stock_is_never_raised():
    z = np.full(GRID.shape, -7.0, dtype=np.float32)
    path = np.array([[0.0, 0.0, -1.0], [3.0, 0.0, -1.5]])
    sweep_whole(z, GRID, path[:-1], path[1:], profile("ball"))
    sweep_touched(z, GRID, path[:-1], path[1:], profile("ball"))
    assert (z == -7.0).all()


def test_what_does_not_fit_is_told():
    path = np.zeros((2, 3))
    good = np.zeros(GRID.shape, dtype=np.float32)
    with pytest.raises(ValueError, match="do not fit the grid"):
        sweep_whole(np.zeros(GRID.shape), GRID, path, path, profile("flat"))
    with pytest.raises(ValueError, match="C order"):
        sweep_touched(np.asfortranarray(good), GRID, path, path, profile("flat"))
    with pytest.raises(ValueError, match="starts and ends"):
        sweep_whole(good, GRID, path[:, :2], path, profile("flat"))
    with pytest.raises(ValueError, match="finite"):
        sweep_whole(good, GRID, path * np.nan, path, profile("flat"))


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(CUTTERS)), st.lists(POINT, min_size=3, max_size=5))
def test_bites_are_those_of_a_slow_twin(name, points):
    cutter, limit = profile(name), 0.7
    points = [(x, y, -1.0 + 0.1 * height) for x, y, height in points]  # slopes as of ramps
    z = np.zeros(GRID.shape, dtype=np.float32)
    path = np.array(points, dtype=np.float64)
    taken = bite(z, GRID, path[:-1], path[1:], cutter, limit=limit)
    x, y = GRID.centres()
    where = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    left = np.zeros(len(where))
    for n, pair in enumerate(itertools.pairwise(points)):
        after = np.minimum(left, sampled(pair, cutter, where, shrink=False))
        fall = left - after
        cell = GRID.cell**2
        # The kernel takes the lowest of three places on a slope, the twin one of 301.
        area = (fall > 1e-3).sum() * cell
        assert taken.area[n] == pytest.approx(area, abs=max(4 * cell, 0.08 * area))
        assert taken.depth[n] <= fall.max() + 0.02
        if path[n, 2] == path[n + 1, 2]:
            assert taken.depth[n] == pytest.approx(fall.max(), abs=0.02)
        assert taken.deep[n] <= (fall > limit - 0.02).sum() * cell
        left = after
