import numpy as np
import pytest
from scipy import ndimage

from toolpath.field.dilate import dilate, drop_table, lowest_clear
from toolpath.field.grid import NOTHING, Grid, HeightField
from toolpath.field.profile import Element, Profile

NUT = Element(part_name="nut", r_low=5, z_low=45, r_high=5, z_high=63)


def spike(size: int, z0: float, cell: float) -> HeightField:
    z = np.full((size, size), NOTHING, dtype=np.float32)
    z[size // 2, size // 2] = z0
    return HeightField(grid=Grid(x0=0, y0=0, cell=cell, rows=size, columns=size), z=z)


def as_drop(k: list[float]) -> np.ndarray:
    """Our table looks at source[x + j]; the textbook's kernel at source[x - j]."""
    return -np.array([k[::-1]], dtype=np.float32)


def test_impulse_keeps_the_kernel_the_right_way_round():
    # definition of Haralick, Sternberg, Zhuang 1987; figures computed with scipy 1.17
    f = np.zeros((1, 9), dtype=np.float32)
    f[0, 4] = 10
    assert dilate(f, as_drop([-5, -1, 0, -2, -7]))[0].tolist() == [0, 0, 5, 9, 10, 8, 3, 0, 0]
    small = np.array([[0, 0, 5, 0, 0]], dtype=np.float32)
    assert dilate(small, as_drop([-1, 0, -1]))[0].tolist() == [0, 4, 5, 4, 0]


@pytest.mark.parametrize("filled", [1.0, 0.5, 0.02, 0.0])
def test_dilation_equals_scipy(filled):
    rng = np.random.default_rng(5)
    f = rng.uniform(-40, 5, (37, 61)).astype(np.float32)
    f[rng.random(f.shape) > filled] = NOTHING
    drop = rng.uniform(-1, 9, (7, 11)).astype(np.float32)
    drop[rng.random(drop.shape) < 0.2] = np.inf
    # scipy reference: structure is added, and read point-reflected; outside is -inf
    structure = -drop[::-1, ::-1].astype(np.float64)
    ours = dilate(f, drop)
    theirs = ndimage.grey_dilation(
        f.astype(np.float64), structure=structure, mode="constant", cval=-np.inf
    )
    assert np.array_equal(np.isinf(ours), np.isinf(theirs))
    some = np.isfinite(theirs)
    assert ours[some] == pytest.approx(theirs[some], abs=1e-5)


@pytest.mark.parametrize(
    ("name", "below"), [("ball", 0.763932), ("flat", 0.0), ("vee60", 3.464102), ("vee90", 2.0)]
)
def test_spike_at_two_millimetres(cutter, name, below):
    # sqrt(9 - 4) - 3, 0, 2 / tan 30 degrees, 2 / tan 45 degrees: closed formulas
    field = spike(81, -5.0, 0.125)
    tip = lowest_clear(field, cutter(name), 0.0, -40.0)
    # 16 cells of 0.125 lie between the closed cells 17 apart
    assert tip[40, 40 + 17] == pytest.approx(-5.0 - below, abs=2e-6)
    assert tip[40 - 17, 40] == tip[40, 40 + 17]
    assert tip[40, 40] == pytest.approx(-5.0, abs=1e-6)
    # 3 mm and more away nothing binds: 24 cells between are just touched, 25 are not
    assert np.isfinite(tip[40, 40 + 25])
    assert tip[40, 40 + 26] == NOTHING


PROFILES = ("flat", "ball", "bull", "vee60", "vee90", "vee60 flat", "round-over")


@pytest.mark.parametrize("clearance", [0.0, 0.7, 2.5])
@pytest.mark.parametrize("name", PROFILES)
def test_lowest_tips_equal_scipy_on_every_profile(cutter, name, clearance):
    rng = np.random.default_rng(len(name))
    cell, whole = 0.25, Profile(elements=(*cutter(name).elements, NUT))
    f = rng.uniform(-40, 5, (45, 58)).astype(np.float32)
    f[rng.random(f.shape) > 0.05] = NOTHING
    field = HeightField(grid=Grid(x0=0, y0=0, cell=cell, rows=45, columns=58), z=f)
    ours = lowest_clear(field, whole, clearance, -90.0)
    # the structuring element sampled here, at the least distance of two closed cells
    half = int(np.ceil((NUT.r_high + clearance) / cell)) + 1
    apart = np.maximum(np.abs(np.arange(-half, half + 1)) - 1, 0) * cell
    drop = whole.height(np.hypot(apart[:, None], apart[None, :]) * (1 - 1e-12), clearance)
    theirs = ndimage.grey_dilation(
        f.astype(np.float64), structure=-drop, mode="constant", cval=-np.inf
    )
    binds = theirs > -90.0
    assert np.array_equal(np.isfinite(ours), binds)
    assert ours[binds] == pytest.approx(theirs[binds], abs=2e-5)
    assert (ours[binds] >= theirs[binds]).all()


def test_clearance_lifts_and_widens(cutter):
    tip = lowest_clear(spike(81, -5.0, 0.125), cutter("flat"), 1.0, -40.0)
    assert tip[40, 40] == pytest.approx(-4.0, abs=1e-6)
    # 0.75 beside the edge of the cutter: sqrt(1 - 0.75 ** 2) under the corner
    assert tip[40, 40 + 31] == pytest.approx(-5.0 + np.sqrt(1 - 0.5625), abs=1e-6)
    assert tip[40, 40 + 34] == NOTHING


def test_no_tip_in_a_cell_comes_nearer_to_anything_in_another(cutter):
    rng = np.random.default_rng(11)
    grid = Grid(x0=-2.0, y0=1.0, cell=0.3, rows=40, columns=44)
    z = np.where(rng.random(grid.shape) < 0.02, rng.uniform(-9, 0, grid.shape), NOTHING)
    field = HeightField(grid=grid, z=z)
    rows, columns = np.nonzero(np.isfinite(field.z))
    for name in ("flat", "ball", "vee60", "round-over"):
        tips = lowest_clear(field, cutter(name), 0.5, -30.0)
        at = rng.integers(0, 40, 200), rng.integers(0, 44, 200)
        for y, x in zip(*at, strict=True):
            tip_xy = np.array([x, y]) + rng.random(2)
            points = np.column_stack([columns, rows]) + rng.random((len(rows), 2))
            r = grid.cell * np.hypot(*(points - tip_xy).T)
            needed = (field.z[rows, columns] - cutter(name).height(r, 0.5)).max()
            assert max(needed, -30.0) <= max(tips[y, x], -30.0)


def test_parts_that_cannot_bind_change_nothing(cutter):
    nut = Element(part_name="nut", r_low=11, z_low=45, r_high=11, z_high=63)
    whole = Profile(elements=(*cutter("flat").elements, nut))
    field = spike(41, -5.0, 0.25)
    with_nut = lowest_clear(field, whole, 1.0, -42.0)
    assert np.array_equal(with_nut, lowest_clear(field, cutter("flat"), 1.0, -42.0))
    assert drop_table(whole, 1.0, 0.25, -5.0 + 42.0).shape[0] < 2 * 20
    deeper = lowest_clear(field, whole, 1.0, -60.0)
    # the nut's grown bottom is at 44 above the tip
    assert deeper[20, 0] == pytest.approx(-5.0 - 44.0, abs=1e-5)


def test_results_are_rounded_up(cutter):
    tip = lowest_clear(spike(9, -0.1, 0.1), cutter("flat"), 0.3, -40.0)
    spot = float(np.float32(-0.1)) + 0.3
    assert spot <= float(tip[4, 4]) <= spot + 1e-6


def test_empty_fields_and_wrong_tables(cutter):
    assert (lowest_clear(spike(5, -np.inf, 0.2), cutter("ball"), 1.0, -9.0) == NOTHING).all()
    with pytest.raises(ValueError, match="cannot dilate"):
        dilate(np.zeros((3, 3), np.float32), np.zeros((2, 3), np.float32))
