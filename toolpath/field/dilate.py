"""The lowest tip that keeps clear: dilation of a height field by a cutter upside down.

Source of the definition: R. M. Haralick, S. R. Sternberg, X. Zhuang, "Image Analysis Using
Mathematical Morphology", IEEE TPAMI 9(4), 1987, 532-550.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels
from toolpath.field.grid import NOTHING, HeightField
from toolpath.field.profile import Profile

HeightArray = NDArray[np.float32]

_SHRINK = 1.0 - 1e-12
"""Distances are taken this much shorter, so that rounding never puts a part out of reach."""


def lowest_clear(
    field: HeightField, profile: Profile, clearance: float, deepest: float
) -> HeightArray:
    """The lowest tip height in each cell that keeps `clearance` to everything under `field`.

    For every cell: the largest over all cells of the bound there less the height of the grown
    cutter at the least distance of the two closed cells. So a tip anywhere in the cell, at or
    above that height, keeps the clearance to everything anywhere under the bounds.

    Parameters
    ----------
    field : upper bounds of what stands there, any frame with z up.
    profile : the cutter; clearance : mm, >= 0.
    deepest : tips are never lower than this, mm; what binds only at or below it is left out
        (mostly the collet nut).

    Returns
    -------
    (rows, columns) float32, rounded up, NOTHING where nothing binds above `deepest`.
    Errs high: by what the profile rises over two cells' diagonal.
    """
    top = float(field.z.max())
    if top == -math.inf:
        return np.full(field.grid.shape, NOTHING, dtype=np.float32)
    drop = drop_table(profile, clearance, field.grid.cell, top - deepest)
    found = dilate(field.z, drop, deepest)
    return np.where(found > deepest, np.nextafter(found, np.float32(np.inf)), NOTHING)


def drop_table(profile: Profile, clearance: float, cell: float, below: float) -> HeightArray:
    """Height of the grown cutter by cell offset, rounded down; +inf where it is over `below`.

    (2n + 1, 2n + 1) float32, the tip's cell in the middle; each entry at the least distance of
    the two closed cells.
    """
    count = math.ceil(profile.reach_radius(clearance, below) / cell) + 1
    gap = np.maximum(np.abs(np.arange(-count, count + 1)) - 1, 0) * (cell * _SHRINK)
    quarter = profile.height(np.hypot(gap[count:, None], gap[None, count:]), clearance)
    quarter = np.where(quarter <= below, quarter, np.inf)
    low = np.nextafter(quarter.astype(np.float32), np.float32(-np.inf))
    low[np.isinf(quarter)] = np.inf
    half = np.concatenate([low[:0:-1], low])
    return np.ascontiguousarray(np.concatenate([half[:, :0:-1], half], axis=1))


def dilate(source: HeightArray, drop: HeightArray, floor: float = -math.inf) -> HeightArray:
    """Largest over the table of source[y + i - up, x + j - across] - drop[i, j].

    Parameters
    ----------
    source : (rows, columns) float32, -inf for nothing; outside counts as nothing.
    drop : (2 up + 1, 2 across + 1) float32, +inf for no entry.
    floor : results at or below it may come out lower or as -inf.

    Returns
    -------
    (rows, columns) float32, to the nearest float. Raises ValueError for a table with even sides
    or sources that are not in two dimensions.
    """
    if source.ndim != 2 or drop.ndim != 2 or drop.shape[0] % 2 == 0 or drop.shape[1] % 2 == 0:
        raise ValueError(f"cannot dilate {source.shape} by a table {drop.shape}")
    heights = _frozen(np.ascontiguousarray(source, dtype=np.float32))
    table = np.ascontiguousarray(drop, dtype=np.float32)
    out = np.full(heights.shape, -np.inf, dtype=np.float32)
    index, runs, tops = _runs(heights)
    if len(runs):
        kernels.dilate(heights, index, runs, tops, table, _span(table), np.float32(floor), out)
    return out


def _frozen(array: HeightArray) -> HeightArray:
    """A read-only view, so that the kernel has one compiled signature."""
    view = array.view()
    view.flags.writeable = False
    return view


def _runs(z: HeightArray) -> tuple[NDArray[np.int64], NDArray[np.int64], HeightArray]:
    """Where each row's runs begin (rows + 1), the runs' first and end column, their tops."""
    rows, columns = z.shape
    filled = np.zeros((rows, columns + 2), dtype=np.int8)
    np.greater(z, NOTHING, out=filled[:, 1:-1].view(np.bool_))
    step = np.diff(filled, axis=1)
    row, first = np.nonzero(step == 1)
    _, end = np.nonzero(step == -1)
    index = np.zeros(rows + 1, dtype=np.int64)
    np.cumsum(np.bincount(row, minlength=rows), out=index[1:])
    tops = np.array(
        [z[r, a:b].max() for r, a, b in zip(row, first, end, strict=True)], dtype=np.float32
    )
    return index, np.stack([first, end], axis=1).astype(np.int64), tops


def _span(table: HeightArray) -> NDArray[np.int64]:
    """First and end finite column of each row of a table; (0, 0) for none."""
    finite = np.isfinite(table)
    first = np.argmax(finite, axis=1)
    end = table.shape[1] - np.argmax(finite[:, ::-1], axis=1)
    some = finite.any(axis=1)
    return np.stack([np.where(some, first, 0), np.where(some, end, 0)], axis=1).astype(np.int64)
