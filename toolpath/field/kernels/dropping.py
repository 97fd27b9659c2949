"""Compiled loops that let a cutter down on a grid of heights: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import compiled, inner

RUN = 64
"""Queries that are done one after the other, each begun where the one before touched."""
BLOCK = 2
"""Squares a side of the smallest blocks that are passed over together."""
SHARE = 0.8
"""A cutter is asked about in blocks of this share of its radius first, or up to twice that."""
_HALVINGS = 24
_CLOSE = 1e-8
"""An edge is looked at no closer than to this height, mm, given on top."""
_EDGE = 0.97
"""Share of a cutter's radius up to which planes touch it: a round one is upright at its edge."""


@inner()
def _rise(r, form):  # type: ignore[no-untyped-def]
    """Height of a cutter above its tip at a radius, and how steep it is there; inf beyond it.

    form = (flat, corner, slope, radius, aside): level as far as `flat`, then round with a radius
    of `corner` or, where that is 0, rising by `slope`, out to `radius`; all `aside` further out.
    """
    flat, corner, slope, radius, aside = form
    d = r - aside - flat
    if d <= 0.0:
        return 0.0, 0.0
    if r > radius + aside:
        return np.inf, np.inf
    if corner > 0.0:
        left = corner * corner - d * d
        if left <= 0.0:
            return corner, np.inf
        root = math.sqrt(left)
        return corner - root, d / root
    return d * slope, slope


@inner()
def _contact(g, form):  # type: ignore[no-untyped-def]
    """The radius at which the cutter touches a plane that rises by g."""
    flat, corner, slope, radius, aside = form
    if corner > 0.0:
        return aside + flat + corner * g / math.sqrt(1.0 + g * g)
    return aside + (flat if g <= slope else radius)


@inner()
def _over_edge(ax, ay, az, bx, by, bz, form, known):  # type: ignore[no-untyped-def]
    """The lowest tip at 0, 0 over the edge from a to b, or less than is `known` of others: its
    height less the cutter's is concave along it, so its greatest place is found by halving."""
    dx, dy, dz = bx - ax, by - ay, bz - az
    square, half = dx * dx + dy * dy, ax * dx + ay * dy
    reach = form[3] + form[4]
    if square == 0.0:
        return max(az, bz) - _rise(math.sqrt(ax * ax + ay * ay), form)[0]
    under = half * half - square * (ax * ax + ay * ay - reach * reach)
    if under < 0.0:
        return -np.inf
    root = math.sqrt(under)
    low, high = max(0.0, (-half - root) / square), min(1.0, (-half + root) / square)
    if low > high:
        return -np.inf
    best = -np.inf
    for i in range(_HALVINGS + 2):
        t = low if i == 0 else (high if i == 1 else 0.5 * (low + high))
        x, y = ax + t * dx, ay + t * dy
        r = min(math.sqrt(x * x + y * y), reach)
        h, steep = _rise(r, form)
        best = max(best, az + t * dz - h)
        away = half + t * square
        toward = 0.0 if away == 0.0 or steep == 0.0 else steep * away / r
        if i == 0 and dz - toward <= 0.0:
            return best
        if i == 1 and dz - toward >= 0.0:
            return best
        if i > 1 and dz - toward > 0.0:
            low = t
        elif i > 1:
            high = t
        if i > 1:
            more = abs(dz - toward) * (high - low)
            if best + more <= known or more <= _CLOSE:
                return best + more
    return best


@inner()
def _support(x, y, form):  # type: ignore[no-untyped-def]
    """A plane under the cutter that touches it towards a place: h0, px, py, so that its height
    above the tip is nowhere less than h0 + px * x + py * y."""
    r = math.sqrt(x * x + y * y)
    if r == 0.0:
        return 0.0, 0.0, 0.0
    at = min(r, _EDGE * (form[3] + form[4]))
    h, steep = _rise(at, form)
    return h - steep * at, steep * x / r, steep * y / r


@inner()
def _over_triangle(ax, ay, az, bx, by, bz, cx, cy, cz, form, best):  # type: ignore[no-untyped-def]
    """Raises `best` to the lowest tip at 0, 0 over a triangle.

    Its height less the cutter's is concave over it: where it is level inside it is greatest.
    """
    ux, uy, uz = bx - ax, by - ay, bz - az
    vx, vy, vz = cx - ax, cy - ay, cz - az
    area = ux * vy - uy * vx
    gx, gy = (uz * vy - vz * uy) / area, (vz * ux - uz * vx) / area
    g = math.sqrt(gx * gx + gy * gy)
    r = _contact(g, form) if g > 0.0 else 0.0
    x, y = (gx / g * r, gy / g * r) if g > 0.0 else (0.0, 0.0)
    s = ((x - ax) * vy - (y - ay) * vx) / area
    t = (ux * (y - ay) - uy * (x - ax)) / area
    top = az + s * uz + t * vz - _rise(r, form)[0]
    if top <= best:
        return best
    if s >= 0.0 and t >= 0.0 and s + t <= 1.0:
        return top
    # Over an edge the surface less a plane under the cutter is greatest at an end.
    x = min(max(x, min(ax, bx, cx)), max(ax, bx, cx))
    y = min(max(y, min(ay, by, cy)), max(ay, by, cy))
    h, px, py = _support(x, y, form)
    a, b = az - px * ax - py * ay - h, bz - px * bx - py * by - h
    c = cz - px * cx - py * cy - h
    if max(a, b) > best:
        best = max(best, _over_edge(ax, ay, az, bx, by, bz, form, best))
    if max(b, c) > best:
        best = max(best, _over_edge(bx, by, bz, cx, cy, cz, form, best))
    if max(c, a) > best:
        best = max(best, _over_edge(cx, cy, cz, ax, ay, az, form, best))
    return best


@inner()
def _over_square(z, step, row, column, place, form, best):  # type: ignore[no-untyped-def]
    """Raises `best` to the lowest tip at a place over the square between four samples, of whose
    two folds the higher counts.

    Over the square the surface less a plane under the cutter is greatest at a sample.
    """
    x0, y0 = column * step[0] - place[0], row * step[1] - place[1]
    x1, y1 = x0 + step[0], y0 + step[1]
    a, b = z[row, column], z[row, column + 1]
    d, c = z[row + 1, column], z[row + 1, column + 1]
    h, px, py = _support(0.5 * (x0 + x1), 0.5 * (y0 + y1), form)
    one = max(a - px * x0 - py * y0, b - px * x1 - py * y0)
    two = max(d - px * x0 - py * y1, c - px * x1 - py * y1)
    if max(one, two) - h <= best:
        return best
    if a + c >= b + d:
        best = _over_triangle(x0, y0, a, x1, y0, b, x1, y1, c, form, best)
        return _over_triangle(x0, y0, a, x1, y1, c, x0, y1, d, form, best)
    best = _over_triangle(x0, y0, a, x1, y0, b, x0, y1, d, form, best)
    return _over_triangle(x1, y0, b, x1, y1, c, x0, y1, d, form, best)


@inner()
def _over_block(z, step, block, place, form, best):  # type: ignore[no-untyped-def]
    """Raises `best` over a block of squares; returns where it was raised last, or -1."""
    at_row, at_column = -1, -1
    for row in range(block[0] * BLOCK, min(z.shape[0] - 1, (block[0] + 1) * BLOCK)):
        for column in range(block[1] * BLOCK, min(z.shape[1] - 1, (block[1] + 1) * BLOCK)):
            found = _over_square(z, step, row, column, place, form, best)
            if found > best:
                best, at_row, at_column = found, row, column
    return best, at_row, at_column


@inner()
def _block_bound(plane, x, y, wide_x, wide_y, form):  # type: ignore[no-untyped-def]
    """What no tip over a block exceeds: `plane` (height in the middle, rise along x and y) lies
    over its surface; the middle of the block is at x, y from the place.

    Asked with the plane under the cutter where it would touch that one, or as near as the block is.
    """
    half_x, half_y = 0.5 * wide_x, 0.5 * wide_y
    near_x, near_y = max(abs(x) - half_x, 0.0), max(abs(y) - half_y, 0.0)
    reach = form[3] + form[4]
    if near_x * near_x + near_y * near_y > reach * reach:
        return -np.inf
    g = math.sqrt(plane[1] * plane[1] + plane[2] * plane[2])
    share = _contact(g, form) / g if g > 0.0 else 0.0
    at_x = min(max(share * plane[1], x - half_x), x + half_x)
    at_y = min(max(share * plane[2], y - half_y), y + half_y)
    h, px, py = _support(at_x, at_y, form)
    tilt = abs(plane[1] - px) * wide_x + abs(plane[2] - py) * wide_y
    return plane[0] - h - px * x - py * y + 0.5 * tilt


@inner()
def _under(z, planes, levels, step, node, place, form, best):  # type: ignore[no-untyped-def]
    """Raises `best` over all squares of one block, node = (level, row, column): blocks that may
    are parted into four, the others passed over; and the square that it touches, or -1."""
    top, row, column = node
    level, at_row, at_column = top, -1, -1
    while True:
        start, rows, columns = levels[level, 0], levels[level, 1], levels[level, 2]
        if row < rows and column < columns:
            wide_x, wide_y = (BLOCK << level) * step[0], (BLOCK << level) * step[1]
            x, y = (column + 0.5) * wide_x - place[0], (row + 0.5) * wide_y - place[1]
            plane = planes[start + row * columns + column]
            if _block_bound(plane, x, y, wide_x, wide_y, form) > best:
                if level > 0:
                    level, row, column = level - 1, 2 * row, 2 * column
                    continue
                best, r, c = _over_block(z, step, (row, column), place, form, best)
                if r >= 0:
                    at_row, at_column = r, c
        while level < top and row % 2 == 1 and column % 2 == 1:
            level, row, column = level + 1, row // 2, column // 2
        if level == top:
            return best, at_row, at_column
        if column % 2 == 0:
            column += 1
        else:
            row, column = row + 1, column - 1


@inner()
def _drop(z, planes, levels, step, place, form, best):  # type: ignore[no-untyped-def]
    """One place, knowing a tip that is not too high; and the square that it touches, or -1."""
    at_row, at_column = -1, -1
    reach = form[3] + form[4]
    top = 0
    while top + 1 < levels.shape[0] and (BLOCK << top) * min(step[0], step[1]) < SHARE * reach:
        top += 1
    wide_x, wide_y = (BLOCK << top) * step[0], (BLOCK << top) * step[1]
    first = max(0, math.floor((place[1] - reach) / wide_y))
    end = min(levels[top, 1], math.floor((place[1] + reach) / wide_y) + 1)
    left = max(0, math.floor((place[0] - reach) / wide_x))
    right = min(levels[top, 2], math.floor((place[0] + reach) / wide_x) + 1)
    for row in range(first, end):
        for column in range(left, right):
            node = (top, row, column)
            best, r, c = _under(z, planes, levels, step, node, place, form, best)
            if r >= 0:
                at_row, at_column = r, c
    return best, at_row, at_column


@compiled(parallel=True)
def drop_tips(z, planes, levels, step, queries, form, out):  # type: ignore[no-untyped-def]
    """out[n] = the lowest tip at queries[n] (n, 2) that does not enter the surface z, -inf where
    it meets none.

    z (rows, columns) float64 at column * step[0], row * step[1], folded the higher way between
    four samples; form as for `_rise`. planes (., 3) a plane over each block: height in its
    middle, rise along x and y; levels[k] (int64) = where the blocks of BLOCK * 2**k squares a side
    begin in it, and how many rows and columns of them there are, row by row.
    """
    for run in prange((queries.shape[0] + RUN - 1) // RUN):
        off_row, off_column, known = 0, 0, False
        for n in range(run * RUN, min(queries.shape[0], (run + 1) * RUN)):
            place = (queries[n, 0], queries[n, 1])
            here_row = math.floor(place[1] / step[1])
            here_column = math.floor(place[0] / step[0])
            best = -np.inf
            row, column = here_row + off_row, here_column + off_column
            inside = 0 <= row < z.shape[0] - 1 and 0 <= column < z.shape[1] - 1
            if known and inside:
                best = _over_square(z, step, row, column, place, form, best)
            best, row, column = _drop(z, planes, levels, step, place, form, best)
            if row >= 0:
                off_row, off_column, known = row - here_row, column - here_column, True
            out[n] = best
