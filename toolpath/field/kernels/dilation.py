"""Compiled loops of dilation: arrays in, arrays out, no checks. The front is `field/dilate.py`."""

from __future__ import annotations

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled

TILE = 256
"""Columns of a tile of the flat kernel: its rows in all lengths stay in the cache of a core."""

WORKERS = 4
"""Scratch is held for this many tiles at a time."""

BLOCK, CHUNK, STRIP = 64, 16, 256
"""Cells of a row that are bounded together, columns of the table that are, and columns of the
field that are done one row after the other, so that their rows stay in the cache."""


@compiled()
def _raise_two(target, one, two):  # type: ignore[no-untyped-def]
    """target = max(target, one, two); in this form it is compiled to vector code."""
    for i in range(target.size):
        value = one[i] if one[i] > two[i] else two[i]
        target[i] = target[i] if target[i] > value else value


@compiled()
def _raise_four(target, one, two, three, four):  # type: ignore[no-untyped-def]
    """target = max(target, one, two, three, four)."""
    for i in range(target.size):
        low = one[i] if one[i] > two[i] else two[i]
        high = three[i] if three[i] > four[i] else four[i]
        value = low if low > high else high
        target[i] = target[i] if target[i] > value else value


@compiled()
def _lengths(line, level):  # type: ignore[no-untyped-def]
    """level[x] = the greatest of line[x] and of line[x + shift], shift being the lost width."""
    shift = line.size - level.size
    ahead = line[shift:]
    for i in range(level.size):
        level[i] = line[i] if line[i] > ahead[i] else ahead[i]


@compiled()
def _load(source, row, first, levels):  # type: ignore[no-untyped-def]
    """A row of the source from column `first` on into levels (n, width): level k holds at x the
    greatest of the 2 ** k cells from x on. False if the row is empty there, and it is left out."""
    width = levels.shape[1]
    start, end = max(first, 0), min(first + width, source.shape[1])
    found = False
    for x in range(start, end):
        if source[row, x] > -np.inf:
            found = True
            break
    if found:
        levels[0, :] = -np.inf
        levels[0, start - first : end - first] = source[row, start:end]
        for k in range(1, levels.shape[0]):
            size = width + 1 - (1 << k)
            _lengths(levels[k - 1, : size + (1 << (k - 1))], levels[k, :size])
    return found


@compiled()
def _chord(ring, slot, chord, left, width):  # type: ignore[no-untyped-def]
    """Two stretches of one level that together hold the greatest of a chord for each column."""
    length, k = chord[1] - chord[0], 0
    while (2 << k) <= length:
        k += 1
    first = chord[0] - left
    last = first + length - (1 << k)
    return ring[slot, k, first : first + width], ring[slot, k, last : last + width]


@compiled()
def _tile_row(y, rows, ring, filled, chords, left, target):  # type: ignore[no-untyped-def]
    """One row of one tile: rows as far over as under are taken together."""
    up = chords.shape[0] // 2
    for i in range(up + 1):
        over, under = y + up - i, y - up + i
        high = over < rows and chords[2 * up - i, 1] > chords[2 * up - i, 0]
        high = high and filled[over % filled.size] and i < up
        low = under >= 0 and chords[i, 1] > chords[i, 0] and filled[under % filled.size]
        if low:
            a, b = _chord(ring, under % filled.size, chords[i], left, target.size)
            if high:
                c, d = _chord(ring, over % filled.size, chords[2 * up - i], left, target.size)
                _raise_four(target, a, b, c, d)
            else:
                _raise_two(target, a, b)
        elif high:
            c, d = _chord(ring, over % filled.size, chords[2 * up - i], left, target.size)
            _raise_two(target, c, d)


@compiled(parallel=True)
def dilate_flat(source, chords, reach, drop, scratch, filled, out):  # type: ignore[no-untyped-def]
    """out[y, x] = max over i and shifts s of chord i of source[y + i - up, x + s], less `drop`.

    source, out (rows, columns) float32, out filled with -inf; chords (2 up + 1, 2) int64 first
    and end shift of each row of the flat, (0, 0) for none; reach (2,) the least and the greatest
    shift; scratch (WORKERS, 2 up + 1, levels, TILE + reach[1] - reach[0]) float32; filled
    (WORKERS, 2 up + 1) bool. What lies outside counts as -inf.

    Each row is held with the greatest of 1, 2, 4 ... cells from each column on; the greatest of
    a chord is that of two of them.
    """
    rows, columns = out.shape
    up = chords.shape[0] // 2
    for worker in prange(WORKERS):
        ring, full = scratch[worker], filled[worker]
        for first in range(worker * TILE, columns, WORKERS * TILE):
            end = min(columns, first + TILE)
            width = end - first + reach[1] - reach[0]
            for row in range(rows + up):
                if row < rows:
                    slot = row % full.size
                    full[slot] = _load(source, row, first + reach[0], ring[slot, :, :width])
                if row >= up:
                    y = row - up
                    target = out[y, first:end]
                    _tile_row(y, rows, ring, full, chords, reach[0], target)
                    for x in range(target.size):
                        target[x] -= drop


@compiled()
def _raise_to(target, source, drop):  # type: ignore[no-untyped-def]
    """target = max(target, source - drop); in this form it is compiled to vector code."""
    for i in range(target.size):
        value = source[i] - drop
        target[i] = target[i] if target[i] > value else value


@compiled()
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


@compiled()
def _raise_chunk(target, line, place, drops, top, least):  # type: ignore[no-untyped-def]
    """The entries of a row of the table that can still raise something; place = (first column of
    the target, shift of the first entry)."""
    for j in range(drops.size):
        if top - drops[j] > least:
            column = place[0] + place[1] + j
            first = max(0, -column)
            end = min(target.size, line.size - column)
            if end > first:
                _raise_to(target[first:end], line[column + first : column + end], drops[j])


@compiled()
def _block(source, y, x, bounds, table, floor, halves, target):  # type: ignore[no-untyped-def]
    """One block: the rows of the table from its middle outwards, and of each what can raise it."""
    tops, wide, low, low_row = bounds
    up, across = table.shape[0] // 2, table.shape[1] // 2
    before = (across + CHUNK - 1) // CHUNK
    if np.isfinite(table[up, across]):
        _raise_to(target, source[y, x : x + target.size], table[up, across])
    least = _least(target, halves, floor)
    for step in range(2 * up + 1):
        away = (step + 1) // 2
        i = up + away if step % 2 else up - away
        row = y + i - up
        if row < 0 or row >= source.shape[0]:
            continue
        if wide[row, x // BLOCK] - low_row[i] <= least:
            continue
        for q in range(low.shape[1]):
            top = tops[row, x // CHUNK + q]
            if top - low[i, q] > least:
                shift = (q - before) * CHUNK
                first = max(0, shift + across)
                drops = table[i, first : max(0, min(table.shape[1], shift + across + CHUNK))]
                _raise_chunk(target, source[row], (x, first - across), drops, top, least)
        least = _least(target, halves, floor)


@compiled(parallel=True)
def dilate(source, bounds, table, floor, scratch, out):  # type: ignore[no-untyped-def]
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
            for y in range(top, min(rows, top + BLOCK)):
                for x in range(left, min(columns, left + STRIP), BLOCK):
                    target = out[y, x : min(columns, x + BLOCK)]
                    _block(source, y, x, bounds, table, floor, scratch[band], target)
