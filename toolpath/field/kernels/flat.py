"""Compiled loops of dilation by a flat table: arrays in, arrays out, no checks. The front is
`field/dilate.py`, and `field/pieces.py` says how a table is put together."""

from __future__ import annotations

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import compiled, inner

TILE = 1300
"""Most columns of a tile: longer rows waste fewer calls, shorter ones stay in a cache."""

WORKERS = 4
"""Scratch is held for this many tiles at a time."""

FIRST, MORE = 4, 8
"""Looks that are taken together: those that begin a row, and those that raise it."""


@inner(inlined=True)
def _at(place, i):  # type: ignore[no-untyped-def]
    """place + i as an index that cannot be negative, which is not looked at twice."""
    return np.uint64(place) + np.uint64(i)


@inner()
def _put(target, source):  # type: ignore[no-untyped-def]
    """target = source, where the two share no memory."""
    for i in range(target.size):
        target[i] = source[i]


@inner()
def _fill(target, value):  # type: ignore[no-untyped-def]
    for i in range(target.size):
        target[i] = value


@inner()
def _greater(target, one, two):  # type: ignore[no-untyped-def]
    """target = max(one, two); in this form it is compiled to vector code, as below."""
    for i in range(target.size):
        target[i] = one[i] if one[i] > two[i] else two[i]


@inner()
def _begin(target, ring, at, drop):  # type: ignore[no-untyped-def]
    """target = max of FIRST stretches of the ring, which begin at `at`, less drop."""
    k, m, n, o = at[0], at[1], at[2], at[3]
    for i in range(target.size):
        a, b, c, d = ring[_at(k, i)], ring[_at(m, i)], ring[_at(n, i)], ring[_at(o, i)]
        a = a if a > b else b
        c = c if c > d else d
        target[i] = (a if a > c else c) - drop


@inner()
def _raise(target, ring, at, drop):  # type: ignore[no-untyped-def]
    """target = max(target, MORE stretches of the ring less drop)."""
    k, m, n, o = at[0], at[1], at[2], at[3]
    p, q, r, s = at[4], at[5], at[6], at[7]
    for i in range(target.size):
        a, b, c, d = ring[_at(k, i)], ring[_at(m, i)], ring[_at(n, i)], ring[_at(o, i)]
        e, f, g, h = ring[_at(p, i)], ring[_at(q, i)], ring[_at(r, i)], ring[_at(s, i)]
        a = a if a > b else b
        c = c if c > d else d
        e = e if e > f else f
        g = g if g > h else h
        a = a if a > c else c
        e = e if e > g else g
        value = (a if a > e else e) - drop
        target[i] = target[i] if target[i] > value else value


@inner()
def _some(source, row, start, end):  # type: ignore[no-untyped-def]
    """Whether a row of the source has anything from column `start` to `end`."""
    if row < source.shape[0]:
        for x in range(start, end):
            if source[row, x] > -np.inf:
                return True
    return False


@inner()
def _tables(ring, row, slots, line, steps):  # type: ignore[no-untyped-def]
    """The other tables of a row of the ring from its first one."""
    slot = row % slots * (steps.shape[0] + 1) * line
    for n in range(steps.shape[0]):
        to, one, two = slot + (n + 1) * line, slot + steps[n, 0] * line, slot
        if steps[n, 2]:
            two = (row - steps[n, 2]) % slots * (steps.shape[0] + 1) * line
        two, size = two + steps[n, 0] * line + steps[n, 1], line - steps[n, 1]
        _greater(ring[to : to + size], ring[one : one + size], ring[two : two + size])


@inner()
def _load(source, row, first, ring, latest, line, steps):  # type: ignore[no-untyped-def]
    """A row of the source, from column `first` on, into its slot of the ring, with all tables.

    `latest` has for each slot the last row up to its own that is not empty; where that is too
    long ago to be in any table, the slot is as empty as it was made.
    """
    slots, size = latest.size, (steps.shape[0] + 1) * line
    slot, before = row % slots, latest[(row - 1) % slots]
    start, end = max(first, 0), min(first + line, source.shape[1])
    stale = latest[slot] > row - 2 * slots  # what the slot held until now was not all empty
    found = _some(source, row, start, end)
    latest[slot] = row if found else before
    whole = ring[slot * size : slot * size + size]
    if latest[slot] <= row - slots:
        if stale:
            _fill(whole, -np.inf)
        return
    if found:
        _fill(whole[: start - first], -np.inf)
        _put(whole[start - first : end - first], source[row, start:end])
        _fill(whole[end - first : line], -np.inf)
    else:
        _fill(whole[:line], -np.inf)
    _tables(ring, row, slots, line, steps)


@inner()
def _tile(source, first, end, shape, looks, steps, drop, ring, latest, at, out):  # type: ignore[no-untyped-def]
    """Columns `first` to `end` of the result, from the top down."""
    line, reach = shape
    slots, up = latest.size, latest.size // 2
    _fill(ring, -np.inf)
    for slot in range(slots):
        latest[slot] = -2 * slots
    for row in range(out.shape[0] + up):
        _load(source, row, first + reach, ring, latest, line, steps)
        if row < up:
            continue
        target, now = out[row - up, first:end], (row - up) % slots
        if latest[row % slots] < row - 2 * up:
            _fill(target, -np.inf)
            continue
        for n in range(at.size):
            slot = now + looks[n, 0]
            slot = slot - slots if slot >= slots else slot
            at[n] = slot * (steps.shape[0] + 1) * line + looks[n, 1]
        _begin(target, ring, at, drop)
        for n in range(FIRST, at.size, MORE):
            _raise(target, ring, at[n : n + MORE], drop)


@compiled(parallel=True)
def dilate_flat(source, looks, steps, shape, drop, scratch, out):  # type: ignore[no-untyped-def]
    """out[y, x] = max over looks of what their stretches of the ring hold, less `drop`.

    source, out (rows, columns) float32; the last 2 up + 1 rows of the source are held in a ring
    of as many slots, each with 1 + m tables of `line` columns, of which the first is the row from
    column `reach` before the tile on. steps (m, 3) int64: table n + 1 is the greater of table
    steps[n, 0] and of the same steps[n, 1] columns on, steps[n, 2] rows before. looks (n, 2)
    int64, n = FIRST + a multiple of MORE: slot counted from that of the row of the result, and
    place in the slot. shape = (tile, line, reach): columns of a tile, line, reach <= 0; scratch =
    ring (WORKERS, (2 up + 1) (1 + m) line) float32, latest (WORKERS, 2 up + 1) int64, at
    (WORKERS, n) int64. What lies outside counts as -inf.
    """
    ring, latest, at = scratch
    tile = shape[0]
    for worker in prange(WORKERS):
        for first in range(worker * tile, out.shape[1], WORKERS * tile):
            end = min(out.shape[1], first + tile)
            _tile(
                source,
                first,
                end,
                shape[1:],
                looks,
                steps,
                drop,
                ring[worker],
                latest[worker],
                at[worker],
                out,
            )
