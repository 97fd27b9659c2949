"""The lowest tip of a cutter over a grid of heights, with nothing sampled but the grid itself.

The surface between the samples is made of triangles; over each of them its height less that of
the cutter is concave, so that the greatest place is a corner of no search: inside the triangle it
follows from its slope, along an edge it is found by halving. Source of the definition: dilation by
the cutter upside down, Haralick, Sternberg, Zhuang, IEEE TPAMI 9(4), 1987, 532-550.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels
from toolpath.field.kernels.dropping import BLOCK

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_MOST_LEVELS = 7
"""Sizes of blocks that are passed over together, each twice the one before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """The end of a cutter: level as far as `flat` from its axis, then round with the radius
    `corner` or, where that is 0, rising by `slope`, out to `radius`; mm."""

    flat: float
    corner: float
    slope: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dropping:
    """A surface that cutters are let down on: `z` (rows, columns) float64, at least 2 by 2, at
    column * step[0], row * step[1]; between four samples the higher fold counts."""

    z: FloatArray = field(repr=False)
    step: tuple[float, float]
    planes: FloatArray = field(repr=False)
    """(., 3) a plane over each block of squares: height in its middle, rise along x and y."""
    levels: IntArray = field(repr=False)
    """(., 3) of each size of blocks: where they begin in `planes`, their rows and columns."""

    @classmethod
    def on(cls, z: FloatArray, step: tuple[float, float]) -> Dropping:
        """Raises ValueError for heights that are not a grid of finite numbers."""
        if z.ndim != 2 or min(z.shape) < 2 or not np.isfinite(z).all():
            raise ValueError(f"{z.shape} is not a grid of finite heights")
        heights = np.ascontiguousarray(z).view()
        heights.flags.writeable = False  # so that the kernel has one compiled signature
        sizes = [BLOCK << k for k in range(_MOST_LEVELS)]
        sizes = sizes[:1] + [size for size in sizes[1:] if size < 2 * max(z.shape)]
        planes = [_planes(heights, step, size) for size in sizes]
        shapes = [(rows, columns) for rows, columns, _ in (each.shape for each in planes)]
        counts = np.cumsum([0, *(rows * columns for rows, columns in shapes)])[:-1]
        return cls(
            z=heights,
            step=step,
            planes=np.concatenate([each.reshape(-1, 3) for each in planes]),
            levels=np.column_stack([counts, shapes]).astype(np.int64),
        )

    def tips(self, places: FloatArray, form: Form, *, aside: float = 0.0) -> FloatArray:
        """(n,) the lowest tips at places (n, 2) that enter the surface nowhere; -inf where the
        cutter meets none. `aside`: the same for a cutter wider by so much, mm, all round: no tip
        within that of the place is lower than the answer allows."""
        queries = np.ascontiguousarray(places, dtype=np.float64).reshape(-1, 2)
        out = np.empty(len(queries))
        shape = tuple(float(v) for v in (form.flat, form.corner, form.slope, form.radius, aside))
        step = (float(self.step[0]), float(self.step[1]))
        kernels.drop_tips(self.z, self.planes, self.levels, step, queries, shape, out)
        return out


def _planes(z: FloatArray, step: tuple[float, float], size: int) -> FloatArray:
    """A plane over each block: it rises as the corners of the block do, and touches its top."""
    rows, columns = (math.ceil((count - 1) / size) for count in z.shape)
    short = (0, rows * size + 1 - z.shape[0]), (0, columns * size + 1 - z.shape[1])
    whole = np.pad(z, short, mode="edge")
    wide_x, wide_y = size * step[0], size * step[1]
    a, b = whole[:-1:size, :-1:size], whole[:-1:size, size::size]
    d, c = whole[size::size, :-1:size], whole[size::size, size::size]
    along, across = (b - a + c - d) / (2.0 * wide_x), (d - a + c - b) / (2.0 * wide_y)
    top = np.full(a.shape, -np.inf)
    for i in range(size + 1):
        for j in range(size + 1):
            here = whole[i : i + (rows - 1) * size + 1 : size]
            here = here[:, j : j + (columns - 1) * size + 1 : size]
            off_x, off_y = (j - size / 2.0) * step[0], (i - size / 2.0) * step[1]
            np.maximum(top, here - along * off_x - across * off_y, out=top)
    return np.ascontiguousarray(np.stack([top, along, across], axis=2))
