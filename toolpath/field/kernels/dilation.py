"""Compiled loops of dilation: arrays in, arrays out, no checks. The front is `field/dilate.py`."""

from __future__ import annotations

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled, inner

BLOCK, CHUNK, STRIP = 64, 16, 256
"""Cells of a row that are bounded together, columns of the table that are, and columns of the
field that are done one row after the other, so that their rows stay in the cache."""


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
