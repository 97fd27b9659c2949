import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.field.grid import NOTHING, Grid, HeightField

WHERE = st.floats(-500.0, 500.0)
SIZE = st.floats(0.0, 300.0)


@given(WHERE, WHERE, SIZE, SIZE, st.sampled_from([0.02, 0.1, 0.2, 0.5, 2.0]))
def test_it_covers_the_box_with_the_fewest_cells(x, y, width, height, cell):
    grid = Grid.over((x, y), (x + width, y + height), cell)
    assert (grid.x0, grid.y0, grid.cell) == (x, y, cell)
    for count, length in ((grid.columns, width), (grid.rows, height)):
        # Whole cells, to the noise of floating point of places some hundred mm out.
        assert count * cell >= length - 1e-9
        assert count == 1 or (count - 1) * cell < length + 1e-9
    assert grid.shape == (grid.rows, grid.columns)
    assert grid.count == grid.rows * grid.columns


def test_noise_does_not_add_a_cell():
    # 0.6 / 0.2 is 2.9999999999999996 and 0.3 / 0.1 likewise; 0.7 / 0.1 is 6.999...; 6 * 0.1
    # is 0.6000000000000001.
    assert Grid.over((0.0, 0.0), (6 * 0.1, 0.7), 0.1).shape == (7, 6)
    assert Grid.over((0.0, 0.0), (0.61, 0.0), 0.1).shape == (1, 7)


def test_columns_go_along_x_and_rows_along_y():
    grid = Grid.over((10.0, 20.0), (13.0, 21.0), 0.5)
    x, y = grid.centres()
    assert (len(y), len(x)) == grid.shape == (2, 6)
    np.testing.assert_allclose(x, [10.25, 10.75, 11.25, 11.75, 12.25, 12.75])
    np.testing.assert_allclose(y, [20.25, 20.75])


@pytest.fixture
def grid():
    return Grid(x0=0.0, y0=0.0, cell=1.0, rows=2, columns=3)


def test_heights_fit_their_grid_and_cannot_be_nan(grid):
    with pytest.raises(ValueError, match="do not fit"):
        HeightField(grid=grid, z=np.zeros((3, 2), dtype=np.float32))
    bad = np.zeros((2, 3), dtype=np.float32)
    bad[1, 2] = np.nan
    with pytest.raises(ValueError, match="NaN"):
        HeightField(grid=grid, z=bad)


def test_heights_are_single_in_rows_and_read_only(grid):
    field = HeightField(grid=grid, z=np.full((3, 2), NOTHING).T.astype(np.float64))
    assert field.z.dtype == np.float32
    assert field.z.flags.c_contiguous
    assert (field.z == -np.inf).all()
    with pytest.raises(ValueError, match="read-only"):
        field.z[0, 0] = 1.0
