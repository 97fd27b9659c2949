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
from toolpath.field.kernels.dilation import BLOCK, CHUNK
from toolpath.field.kernels.flat import FIRST, MORE, TILE, WORKERS
from toolpath.field.pieces import plan
from toolpath.field.profile import Profile

HeightArray = NDArray[np.float32]

_SHRINK = 1.0 - 1e-12
"""Distances are taken this much shorter, so that rounding never puts a part out of reach."""

_LEAST_FLAT = 25
"""Fewer equal entries than this in a table are not worth a pass of their own."""


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
    table = np.array(drop, dtype=np.float32, order="C")
    if not (heights.size and np.isfinite(table).any()):
        return np.full(heights.shape, -np.inf, dtype=np.float32)
    flat = _take_flat(table)
    if flat is None:
        out = np.full(heights.shape, -np.inf, dtype=np.float32)
    else:
        out = np.empty(heights.shape, dtype=np.float32)
        _dilate_flat(heights, *flat, out)
    if np.isfinite(table).any():
        scratch = np.empty((kernels.BANDS, BLOCK), dtype=np.float32)
        chunked, before = _in_chunks(table)
        bounds = _bounds(heights, chunked, before)
        kernels.dilate(heights, bounds, chunked, before, np.float32(floor), scratch, out)
    return out


def _frozen(array: HeightArray) -> HeightArray:
    """A read-only view, so that the kernel has one compiled signature."""
    view = array.view()
    view.flags.writeable = False
    return view


def _take_flat(table: HeightArray) -> tuple[NDArray[np.int64], np.float32] | None:
    """Takes the least entries out of a table if they are one stretch in each row, and many.

    Returns the stretches as (rows, 2) first and end shift from the middle, and their height.
    """
    least = table.min()
    flat = table == least
    first = np.argmax(flat, axis=1)
    end = table.shape[1] - np.argmax(flat[:, ::-1], axis=1)
    some = flat.any(axis=1)
    count = np.count_nonzero(flat)
    if not np.isfinite(least) or count < _LEAST_FLAT or count != (end - first)[some].sum():
        return None
    table[flat] = np.inf
    chords = np.stack([first, end], axis=1) - table.shape[1] // 2
    chords[~some] = 0
    up = table.shape[0] // 2
    reach = int(np.abs(np.flatnonzero(some) - up).max())
    return np.ascontiguousarray(chords[up - reach : up + reach + 1], dtype=np.int64), least


def _dilate_flat(
    source: HeightArray, chords: NDArray[np.int64], drop: np.float32, out: HeightArray
) -> None:
    planned, slots = plan(chords), len(chords)
    reach = int(chords[:, 0].min())
    each = -(-source.shape[1] // (WORKERS * TILE))  # tiles of one worker: as many for all
    tile = -(-source.shape[1] // (WORKERS * each))
    line = _odd_lines(tile + max(int(chords[:, 1].max()) - 1, 0) - reach)
    table, row, first = planned.looks.T
    looks = np.column_stack([row % slots, table * line + first - reach])
    missing = (FIRST - len(looks)) % MORE
    looks = np.ascontiguousarray(np.concatenate([looks, looks[:1].repeat(missing, axis=0)]))
    scratch = (
        np.empty((WORKERS, slots * (len(planned.steps) + 1) * line), dtype=np.float32),
        np.empty((WORKERS, slots), dtype=np.int64),
        np.empty((WORKERS, len(looks)), dtype=np.int64),
    )
    kernels.dilate_flat(source, looks, planned.steps, (tile, line, reach), drop, scratch, out)


def _odd_lines(cells: int) -> int:
    """So many cells or some more, as an odd number of lines of the cache: rows of the ring that
    are a multiple of a page apart would drive one another out of it."""
    lines = -(-cells // 16)
    return 16 * (lines + 1 - lines % 2)


def _in_chunks(table: HeightArray) -> tuple[HeightArray, int]:
    """The table in whole chunks of columns, and how many of them lie before its middle."""
    across = table.shape[1] // 2
    before = -(-across // CHUNK)
    chunks = before + across // CHUNK + 1
    return _padded(table, before * CHUNK - across, chunks * CHUNK, np.inf), before


def _bounds(
    source: HeightArray, table: HeightArray, before: int
) -> tuple[HeightArray, HeightArray, HeightArray, HeightArray]:
    """What `kernels.dilate` needs to pass over what can raise nothing."""
    low = table.reshape(len(table), -1, CHUNK).min(axis=2)
    blocks, per_block = -(-source.shape[1] // BLOCK), BLOCK // CHUNK
    whole = _padded(source, 0, blocks * BLOCK, -np.inf)
    here = whole.reshape(len(source), -1, CHUNK).max(axis=2)
    # a block shifted by a chunk covers one chunk more than it has
    wanted = here.shape[1] + low.shape[1] + per_block
    tops = _windows(_padded(here, before, wanted, -np.inf), per_block + 1)
    wide = np.ascontiguousarray(_windows(tops, low.shape[1])[:, ::per_block][:, :blocks])
    return tops, wide, low, low.min(axis=1)


def _padded(values: HeightArray, before: int, columns: int, empty: float) -> HeightArray:
    """The same rows in so many columns, of which `before` stand before the first."""
    found = np.full((len(values), columns), empty, dtype=np.float32)
    found[:, before : before + values.shape[1]] = values
    return found


def _windows(values: HeightArray, count: int) -> HeightArray:
    """The greatest of each `count` neighbours in a row, from each on."""
    found = values[:, : values.shape[1] - count + 1].copy()
    for shift in range(1, count):
        np.maximum(found, values[:, shift : shift + found.shape[1]], out=found)
    return found
