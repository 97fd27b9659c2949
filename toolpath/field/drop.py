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

FloatArray = NDArray[np.float64]

_BLOCK = 4
"""Squares a side of the blocks that are passed over together."""


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
    """(., ., 3) a plane over each block of squares: height in its middle, rise along x and y."""

    @classmethod
    def on(cls, z: FloatArray, step: tuple[float, float]) -> Dropping:
        """Raises ValueError for heights that are not a grid of finite numbers."""
        if z.ndim != 2 or min(z.shape) < 2 or not np.isfinite(z).all():
            raise ValueError(f"{z.shape} is not a grid of finite heights")
        heights = np.ascontiguousarray(z).view()
        heights.flags.writeable = False  # so that the kernel has one compiled signature
        return cls(z=heights, step=step, planes=_planes(heights, step))

    def tips(self, places: FloatArray, form: Form, *, aside: float = 0.0) -> FloatArray:
        """(n,) the lowest tips at places (n, 2) that enter the surface nowhere; -inf where the
        cutter meets none. `aside`: the same for a cutter wider by so much, mm, all round: no tip
        within that of the place is lower than the answer allows."""
        queries = np.ascontiguousarray(places, dtype=np.float64).reshape(-1, 2)
        out = np.empty(len(queries))
        shape = tuple(float(v) for v in (form.flat, form.corner, form.slope, form.radius, aside))
        step = (float(self.step[0]), float(self.step[1]))
        kernels.drop_tips(self.z, self.planes, _BLOCK, step, queries, shape, out)
        return out


def _planes(z: FloatArray, step: tuple[float, float]) -> FloatArray:
    """A plane over each block: it rises as the corners of the block do, and touches its top."""
    rows, columns = (math.ceil((count - 1) / _BLOCK) for count in z.shape)
    short = (0, rows * _BLOCK + 1 - z.shape[0]), (0, columns * _BLOCK + 1 - z.shape[1])
    whole = np.pad(z, short, mode="edge")
    wide_x, wide_y = _BLOCK * step[0], _BLOCK * step[1]
    a, b = whole[:-1:_BLOCK, :-1:_BLOCK], whole[:-1:_BLOCK, _BLOCK::_BLOCK]
    d, c = whole[_BLOCK::_BLOCK, :-1:_BLOCK], whole[_BLOCK::_BLOCK, _BLOCK::_BLOCK]
    along, across = (b - a + c - d) / (2.0 * wide_x), (d - a + c - b) / (2.0 * wide_y)
    top = np.full(a.shape, -np.inf)
    for i in range(_BLOCK + 1):
        for j in range(_BLOCK + 1):
            here = whole[i : i + (rows - 1) * _BLOCK + 1 : _BLOCK]
            here = here[:, j : j + (columns - 1) * _BLOCK + 1 : _BLOCK]
            off_x, off_y = (j - _BLOCK / 2.0) * step[0], (i - _BLOCK / 2.0) * step[1]
            np.maximum(top, here - along * off_x - across * off_y, out=top)
    return np.ascontiguousarray(np.stack([top, along, across], axis=2))
