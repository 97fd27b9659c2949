"""A surface of heights over a turned rectangle: what a relief is to look like.

Frame: the page frame of a face (x, y of the blank frame, z above that face), millimetres. Its own
frame has 0, 0 at the first sample of the first row, x along the rows and y across them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """Heights `z` (rows, columns) float64, read-only, at least 2 by 2, row along its own +y.

    `at` is the middle of its rectangle, which reaches `size` from the first to the last sample
    of a row and of a column and is turned by `turn`, radians counter-clockwise. Between four
    samples it is the higher of the two ways to fold: never lower than what is linear there.
    Raises ValueError for heights that are not such a grid.
    """

    z: FloatArray = field(repr=False)
    at: tuple[float, float]
    size: tuple[float, float]
    turn: float = 0.0

    def __post_init__(self) -> None:
        z = np.ascontiguousarray(self.z, dtype=np.float64)
        if z.ndim != 2 or min(z.shape) < 2 or not np.isfinite(z).all():
            raise ValueError(f"{z.shape} is not a grid of finite heights, at least 2 by 2")
        z.flags.writeable = False
        object.__setattr__(self, "z", z)

    @property
    def step(self) -> tuple[float, float]:
        """From one sample to the next along its own x and y, mm."""
        rows, columns = self.z.shape
        return self.size[0] / (columns - 1), self.size[1] / (rows - 1)

    def corners(self) -> FloatArray:
        """(4, 2) corners of its rectangle, counter-clockwise."""
        x, y = self.size
        return self.from_own(np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]]))

    def to_own(self, xy: FloatArray) -> FloatArray:
        """(n, 2) places in its own frame."""
        c, s = math.cos(self.turn), math.sin(self.turn)
        x, y = (np.asarray(xy, dtype=np.float64) - np.array(self.at)).T
        half = np.array(self.size) / 2.0
        turned = np.column_stack([c * x + s * y, c * y - s * x])
        return np.asarray(turned + half, dtype=np.float64)

    def from_own(self, xy: FloatArray) -> FloatArray:
        """(n, 2) places given in its own frame, in the page frame."""
        c, s = math.cos(self.turn), math.sin(self.turn)
        x, y = (np.asarray(xy, dtype=np.float64) - np.array(self.size) / 2.0).T
        turned = np.column_stack([c * x - s * y, s * x + c * y])
        return np.asarray(turned + np.array(self.at), dtype=np.float64)

    def nodes(self) -> FloatArray:
        """(rows * columns, 2) places of the samples, row by row, page frame."""
        rows, columns = self.z.shape
        x, y = np.meshgrid(
            np.linspace(0.0, self.size[0], columns), np.linspace(0.0, self.size[1], rows)
        )
        return self.from_own(np.column_stack([x.ravel(), y.ravel()]))

    def heights(self, xy: FloatArray) -> FloatArray:
        """(n,) heights at places (n, 2) of the page frame; beyond its rectangle those of the
        nearest place of its edge."""
        rows, columns = self.z.shape
        own = self.to_own(xy) / np.array(self.step)
        u = np.clip(own[:, 0], 0.0, columns - 1.0)
        v = np.clip(own[:, 1], 0.0, rows - 1.0)
        column = np.minimum(u.astype(np.int64), columns - 2)
        row = np.minimum(v.astype(np.int64), rows - 2)
        u, v = u - column, v - row
        a, b = self.z[row, column], self.z[row, column + 1]
        d, c = self.z[row + 1, column], self.z[row + 1, column + 1]
        rising = np.where(u >= v, a + (b - a) * u + (c - b) * v, a + (d - a) * v + (c - d) * u)
        falling = np.where(
            u + v <= 1.0,
            a + (b - a) * u + (d - a) * v,
            c + (d - c) * (1.0 - u) + (b - c) * (1.0 - v),
        )
        return np.asarray(np.where(a + c >= b + d, rising, falling), dtype=np.float64)
