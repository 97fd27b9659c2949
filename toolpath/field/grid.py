"""Height grids: rows of square cells over the plane, one height a cell."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

NOTHING = np.float32(-np.inf)
"""The height of a cell in which there is nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Square cells of side `cell` mm; cell [row, column] covers
    x0 + column*cell .. x0 + (column+1)*cell and y0 + row*cell .. y0 + (row+1)*cell (closed).
    """

    x0: float
    y0: float
    cell: float
    rows: int
    columns: int

    @classmethod
    def over(cls, low: tuple[float, float], high: tuple[float, float], cell: float) -> Grid:
        """The least grid of whole cells that covers the box from `low` to `high`."""
        columns = max(1, math.ceil((high[0] - low[0]) / cell - 1e-9))
        rows = max(1, math.ceil((high[1] - low[1]) / cell - 1e-9))
        return cls(x0=low[0], y0=low[1], cell=cell, rows=rows, columns=columns)

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows, self.columns

    @property
    def count(self) -> int:
        """Number of cells."""
        return self.rows * self.columns

    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """x of every column's middle and y of every row's middle."""
        x = self.x0 + (np.arange(self.columns, dtype=np.float64) + 0.5) * self.cell
        y = self.y0 + (np.arange(self.rows, dtype=np.float64) + 0.5) * self.cell
        return x, y


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightField:
    """A height for each cell of a grid: z is (rows, columns) float32, NOTHING where empty."""

    grid: Grid
    z: NDArray[np.float32] = field(repr=False)

    def __post_init__(self) -> None:
        z = np.ascontiguousarray(self.z, dtype=np.float32)
        if z.shape != self.grid.shape:
            raise ValueError(f"heights {z.shape} do not fit the grid {self.grid.shape}")
        if np.isnan(z).any():
            raise ValueError("a height field cannot hold NaN")
        z.flags.writeable = False
        object.__setattr__(self, "z", z)
