"""Compiled loops for lowest tips over a field: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import compiled, inner


@inner()
def _tip_over(top, x, y, side, look):  # type: ignore[no-untyped-def]
    """top less the table at the least distance of a closed square (lower left x, y) from a place;
    -inf where the table does not reach."""
    qx, qy, shift, table, per_step = look
    dx, dy = max(x - qx, qx - (x + side), 0.0), max(y - qy, qy - (y + side), 0.0)
    away = max(math.sqrt(dx * dx + dy * dy) - shift, 0.0)
    index = int(away * per_step * (1.0 - 1e-12))
    return top - table[index] if index < table.size else -np.inf


@inner()
def _tip_over_block(z, place, size, block, look, best):  # type: ignore[no-untyped-def]
    """Raises `best` to the greatest over the cells of a block."""
    x0, y0, cell = place
    least = look[3][0]
    for y in range(block[0] * size, min(z.shape[0], (block[0] + 1) * size)):
        for x in range(block[1] * size, min(z.shape[1], (block[1] + 1) * size)):
            if z[y, x] - least > best:
                found = _tip_over(z[y, x], x0 + x * cell, y0 + y * cell, cell, look)
                best = max(best, found)
    return best


@inner()
def _lowest_tip(z, tops, size, place, look, floor, enough):  # type: ignore[no-untyped-def]
    """One place: the most promising block first, so that few others are looked into."""
    x0, y0, side = place[0], place[1], size * place[2]
    reach = look[3].size / look[4] + max(look[2], 0.0)
    low_y = max(0, math.floor((look[1] - reach - y0) / side))
    end_y = min(tops.shape[0], math.floor((look[1] + reach - y0) / side) + 1)
    low_x = max(0, math.floor((look[0] - reach - x0) / side))
    end_x = min(tops.shape[1], math.floor((look[0] + reach - x0) / side) + 1)
    hope, chosen = floor, (low_y, low_x)
    for y in range(low_y, end_y):
        for x in range(low_x, end_x):
            if tops[y, x] - look[3][0] > hope:
                found = _tip_over(tops[y, x], x0 + x * side, y0 + y * side, side, look)
                if found > hope:
                    hope, chosen = found, (y, x)
    if hope == floor:
        return floor
    best = _tip_over_block(z, place, size, chosen, look, floor)
    for y in range(low_y, end_y):
        if best > enough:
            return best
        for x in range(low_x, end_x):
            if tops[y, x] - look[3][0] > best:
                found = _tip_over(tops[y, x], x0 + x * side, y0 + y * side, side, look)
                if found > best:
                    best = _tip_over_block(z, place, size, (y, x), look, best)
    return best


@compiled(parallel=True)
def lowest_tips(z, tops, size, place, queries, look, limits, out):  # type: ignore[no-untyped-def]
    """out[n] = max over cells of z - table at the least distance of the closed cell from
    queries[n], less `shift` (which may be negative); -inf where the table does not reach.

    z (rows, columns) float64, -inf for nothing; tops the greatest z of blocks of size x size
    cells; place = (x0, y0, cell); queries (n, 2); look = (shift, table, per_step), table (m,)
    profile height at radius k / per_step, never falling. limits = (floor, enough): what is at or
    under the floor is given as the floor, and what is over `enough` as anything over it that is
    not too high.
    """
    for n in prange(queries.shape[0]):
        one = (queries[n, 0], queries[n, 1], look[0], look[1], look[2])
        out[n] = _lowest_tip(z, tops, size, place, one, limits[0], limits[1])
