"""Compiled loops of dilation: arrays in, arrays out, no checks. The front is `field/dilate.py`."""

from __future__ import annotations

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled, inner

TILE = 1300
"""Most columns of a tile of the flat kernel: rows that are used together stay in a cache."""

TOGETHER = 16
"""Rows of the result that are done together, so that a row of the source is fetched once."""

WORKERS = 4
"""Scratch is held for this many tiles at a time."""

BLOCK, CHUNK, STRIP = 64, 16, 256
"""Cells of a row that are bounded together, columns of the table that are, and columns of the
field that are done one row after the other, so that their rows stay in the cache."""


@inner()
def _raise_two(target, one, two):  # type: ignore[no-untyped-def]
    """target = max(target, one, two); in this form it is compiled to vector code."""
    for i in range(target.size):
        value = one[i] if one[i] > two[i] else two[i]
        target[i] = target[i] if target[i] > value else value


@inner()
def _raise_four(target, one, two, three, four):  # type: ignore[no-untyped-def]
    """target = max(target, one, two, three, four)."""
    for i in range(target.size):
        low = one[i] if one[i] > two[i] else two[i]
        high = three[i] if three[i] > four[i] else four[i]
        value = low if low > high else high
        target[i] = target[i] if target[i] > value else value


@inner()
def _lengths(line, level):  # type: ignore[no-untyped-def]
    """level[x] = the greatest of line[x] and of line[x + shift], shift being the lost width."""
    shift = line.size - level.size
    ahead = line[shift:]
    for i in range(level.size):
        level[i] = line[i] if line[i] > ahead[i] else ahead[i]


@inner()
def _put(target, source):  # type: ignore[no-untyped-def]
    """target = source, where the two share no memory."""
    for i in range(target.size):
        target[i] = source[i]


@inner()
def _load(source, row, first, ring, slot, last):  # type: ignore[no-untyped-def]
    """A row of the source, columns `first` to `last`, into a slot of the ring: level k holds at x
    the greatest of 2 ** k cells from x on. False if the row is empty there, and it is left out."""
    found, width = False, last - first
    start, end = max(first, 0), min(last, source.shape[1])
    if row >= source.shape[0]:
        return False
    for x in range(start, end):
        if source[row, x] > -np.inf:
            found = True
            break
    if found:
        for x in range(width):
            ring[slot, 0, x] = -np.inf
        _put(ring[slot, 0, start - first : end - first], source[row, start:end])
        for k in range(1, ring.shape[1]):
            size = width + 1 - (1 << k)
            whole = size + (1 << (k - 1))
            _lengths(ring[slot, k - 1, :whole], ring[slot, k, :size])
    return found


@inner()
def _look(ring, slot, look, width):  # type: ignore[no-untyped-def]
    """Two stretches of one level that together hold the greatest of a chord for each column."""
    level, one, two = look[0], look[1], look[2]
    return ring[slot, level, one : one + width], ring[slot, level, two : two + width]


@inner()
def _raise_by(row, y, ring, filled, looks, target):  # type: ignore[no-untyped-def]
    """What two neighbouring rows of the source, `row` and the next, add to one row of a tile."""
    i = row - y + looks.shape[0] // 2
    slot, after = row % filled.size, (row + 1) % filled.size
    one = i >= 0 and looks[i, 0] >= 0 and filled[slot]
    two = i + 1 < looks.shape[0] and looks[i + 1, 0] >= 0 and filled[after]
    if one and two:
        a, b = _look(ring, slot, looks[i], target.size)
        c, d = _look(ring, after, looks[i + 1], target.size)
        _raise_four(target, a, b, c, d)
    elif one:
        a, b = _look(ring, slot, looks[i], target.size)
        _raise_two(target, a, b)
    elif two:
        c, d = _look(ring, after, looks[i + 1], target.size)
        _raise_two(target, c, d)


@inner()
def _tile(source, first, end, looks, reach, drop, ring, filled, out):  # type: ignore[no-untyped-def]
    """Columns `first` to `end` of the result, some rows together."""
    up, loaded = looks.shape[0] // 2, 0
    for slot in range(filled.size):
        filled[slot] = False
    for y in range(0, out.shape[0], TOGETHER):
        bottom = min(out.shape[0], y + TOGETHER)
        for row in range(loaded, bottom + up):
            slot = row % filled.size
            filled[slot] = _load(source, row, first + reach[0], ring, slot, end + reach[1])
        loaded = bottom + up
        for k in range(y, bottom):
            for x in range(first, end):
                out[k, x] = -np.inf
        for row in range(y - up, bottom + up, 2):
            for k in range(max(y, row - up), min(bottom, row + up + 2)):
                _raise_by(row, k, ring, filled, looks, out[k, first:end])
        for k in range(y, bottom):
            for x in range(first, end):
                out[k, x] -= drop


@compiled(parallel=True)
def dilate_flat(source, looks, reach, drop, tile, scratch, filled, out):  # type: ignore[no-untyped-def]
    """out[y, x] = max over i and shifts s of chord i of source[y + i - up, x + s], less `drop`.

    source, out (rows, columns) float32; looks (2 up + 1, 3) int64: of a chord of n cells the
    level k, 2 ** k <= n, and the least and greatest shift of 2 ** k cells in it, counted from
    reach[0]; level -1 for none; reach (2,) the least and the greatest shift of all; `tile` the
    columns of a tile; scratch (WORKERS, 2 up + TOGETHER, levels, tile + reach[1] - reach[0])
    float32; filled (WORKERS, 2 up + TOGETHER) bool. What lies outside counts as -inf.

    Each row is held with the greatest of 1, 2, 4 ... cells from each column on; the greatest of
    a chord is that of two of them.
    """
    for worker in prange(WORKERS):
        for first in range(worker * tile, out.shape[1], WORKERS * tile):
            end, ring, full = min(out.shape[1], first + tile), scratch[worker], filled[worker]
            _tile(source, first, end, looks, reach, drop, ring, full, out)


@inner()
def _raise_to(target, source, drop):  # type: ignore[no-untyped-def]
    """target = max(target, source - drop); in this form it is compiled to vector code."""
    for i in range(target.size):
        value = source[i] - drop
        target[i] = target[i] if target[i] > value else value


@inner()
def _least(values, halves, floor):  # type: ignore[no-untyped-def]
    """The least of the values or `floor`, if that is greater; halves is scratch of BLOCK cells."""
    if values.size < BLOCK:
        least = values[0]
        for i in range(1, values.size):
            least = min(least, values[i])
        return max(least, floor)
    size = BLOCK // 2
    one, two, low = values[:size], values[size:], halves[:size]
    for i in range(size):
        low[i] = one[i] if one[i] < two[i] else two[i]
    while size > 8:
        size //= 2
        one, two = halves[:size], halves[size : 2 * size]
        for i in range(size):
            one[i] = one[i] if one[i] < two[i] else two[i]
    least = halves[0]
    for i in range(1, 8):
        least = min(least, halves[i])
    return max(least, floor)


@inner()
def _raise_fast(target, line, drops):  # type: ignore[no-untyped-def]
    """target = max(target, line[j:] - drops[j]) for four j at once; all of BLOCK cells."""
    a, b = line[:BLOCK], line[1 : BLOCK + 1]
    c, d = line[2 : BLOCK + 2], line[3 : BLOCK + 3]
    da, db, dc, dd = drops[0], drops[1], drops[2], drops[3]
    for i in range(BLOCK):
        one, two, three, four = a[i] - da, b[i] - db, c[i] - dc, d[i] - dd
        low = one if one > two else two
        high = three if three > four else four
        value = low if low > high else high
        target[i] = target[i] if target[i] > value else value


@inner()
def _raise_chunk(target, line, column, drops, top, least):  # type: ignore[no-untyped-def]
    """One chunk of a row of the table, of which what meets `top` may raise what is over `least`.

    `column` is where the first entry of the chunk meets the first cell of the target.
    """
    if target.size == BLOCK and column >= 0 and column + BLOCK + CHUNK <= line.size:
        for j in range(0, CHUNK, 4):
            low = min(min(drops[j], drops[j + 1]), min(drops[j + 2], drops[j + 3]))
            if top - low > least:
                _raise_fast(target, line[column + j : column + j + BLOCK + 3], drops[j : j + 4])
        return
    for j in range(CHUNK):
        first, end = max(0, -column - j), min(target.size, line.size - column - j)
        if end > first and top - drops[j] > least:
            _raise_to(target[first:end], line[column + j + first : column + j + end], drops[j])


@inner()
def _block(source, y, x, bounds, table, before, floor, halves, target):  # type: ignore[no-untyped-def]
    """One block: the rows of the table from its middle outwards, and of each what can raise it."""
    tops, wide, low, low_row = bounds
    up = table.shape[0] // 2
    if np.isfinite(table[up, before * CHUNK]):
        _raise_to(target, source[y, x : x + target.size], table[up, before * CHUNK])
    least = _least(target, halves, floor)
    for step in range(2 * up + 1):
        away = (step + 1) // 2
        row = y + away if step % 2 else y - away
        if row < 0 or row >= source.shape[0]:
            continue
        i = row - y + up
        if wide[row, x // BLOCK] - low_row[i] <= least:
            continue
        for q in range(low.shape[1]):
            top = tops[row, x // CHUNK + q]
            if top - low[i, q] > least:
                drops = table[i, q * CHUNK : q * CHUNK + CHUNK]
                _raise_chunk(target, source[row], x + (q - before) * CHUNK, drops, top, least)
        least = _least(target, halves, floor)


@inner()
def _square(source, top, left, bounds, table, before, floor, halves, out):  # type: ignore[no-untyped-def]
    """BLOCK rows of a strip of columns, one after the other."""
    for y in range(top, min(out.shape[0], top + BLOCK)):
        for x in range(left, min(out.shape[1], left + STRIP), BLOCK):
            target = out[y, x : min(out.shape[1], x + BLOCK)]
            _block(source, y, x, bounds, table, before, floor, halves, target)


@compiled(parallel=True)
def dilate(source, bounds, table, before, floor, scratch, out):  # type: ignore[no-untyped-def]
    """Raises out[y, x] to the max over (i, j) of source[y + i - up, x + j - across] - table[i, j].

    source, out (rows, columns) float32; table (2 up + 1, 2 across + 1) float32, +inf for no
    entry; bounds = (tops, wide, low, low_row) float32: with q counted from the first chunk of
    shifts, tops[row, x // CHUNK + q] the greatest that a block from x on meets in chunk q and
    wide (rows, blocks) in all of them, low (2 up + 1, chunks) the least entry of each and low_row
    (2 up + 1,) of a row of the table; scratch (BANDS, BLOCK) float32. Results at or under `floor`
    may be left out. What lies outside counts as -inf.
    """
    rows, columns = out.shape
    strips = (columns + STRIP - 1) // STRIP
    tasks = strips * ((rows + BLOCK - 1) // BLOCK)
    for band in prange(BANDS):
        for task in range(band, tasks, BANDS):
            top, left = task // strips * BLOCK, task % strips * STRIP
            _square(source, top, left, bounds, table, before, floor, scratch[band], out)
