"""Compiled loops of sweeping: arrays in, arrays out, no checks. The front is `field/sweep.py`."""

from __future__ import annotations

import math

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled, inner

DEEP = 16
"""Rows of a block; a band is every BANDS-th block. Neighbouring rows share an edge."""

WIDE = DEEP + 1
"""Places that scratch needs at least: those of the edges of a block."""


@inner()
def _round_up(value):  # type: ignore[no-untyped-def]
    """The least float32 that is not under the value."""
    near = np.float32(value)
    return np.nextafter(near, np.float32(np.inf)) if np.float64(near) < value else near


@inner()
def _round_down(value):  # type: ignore[no-untyped-def]
    """The greatest float32 that is not over the value."""
    near = np.float32(value)
    return np.nextafter(near, np.float32(-np.inf)) if np.float64(near) > value else near


@inner()
def _slab(start, step, low, high, most):  # type: ignore[no-untyped-def]
    """The stretch of t in which start + t step lies in low..high, where `step` is 0 all of
    -most..most or, if there is none, (most, -most)."""
    if step == 0.0:
        return (-most, most) if low <= start <= high else (most, -most)
    one, two = (low - start) / step, (high - start) / step
    return (one, two) if one < two else (two, one)


@inner(inlined=True)
def _strip(start, inverse, low, high):  # type: ignore[no-untyped-def]
    """The stretch of x, from the start of a segment on, in which x less `start`, times a step of
    which this is the inverse, lies in low..high; an inverse of 0 is a step of 0."""
    if inverse == 0.0:
        return (-np.inf, np.inf) if low <= start <= high else (np.inf, -np.inf)
    one, two = (low - start) * inverse, (high - start) * inverse
    return min(one, two), max(one, two)


@inner()
def _stretches(s, start, step, radius, low, high):  # type: ignore[no-untyped-def]
    """The stretch of x of each line y = start + i step, i from 0 on, within `radius` of a segment
    in plan, low[i] to high[i]; (inf, -inf) where there is none. It is that of two discs and what
    lies square to the segment; they are convex. In this form it is compiled to vector code."""
    square, aside = radius * abs(radius), radius * math.sqrt(s[6])
    width, depth, sloped = s[3] - s[0], s[4] - s[1], s[6] > 0.0
    for i in range(low.size):
        one, two = start + i * step - s[1], start + i * step - s[4]
        first, last = square - one * one, square - two * two
        half, other = math.sqrt(max(first, 0.0)), math.sqrt(max(last, 0.0))
        left = min(s[0] - half if first >= 0.0 else np.inf, s[3] - other if last >= 0.0 else np.inf)
        right = max(
            s[0] + half if first >= 0.0 else -np.inf, s[3] + other if last >= 0.0 else -np.inf
        )
        ahead = _strip(one * depth, s[8], 0.0, s[6])
        across = _strip(-one * width, s[9], -aside, aside)
        begin, end = max(ahead[0], across[0]), min(ahead[1], across[1])
        meets = sloped and begin <= end
        low[i] = min(left, s[0] + begin if meets else np.inf)
        high[i] = max(right, s[0] + end if meets else -np.inf)


@inner(inlined=True)
def _lines(s, place, lines, radius, scratch):  # type: ignore[no-untyped-def]
    """`_stretches` of so many lines of a grid, lines = (first, count), in rows of cells, in the
    last two rows of the scratch."""
    low, high = scratch[4, : lines[1]], scratch[5, : lines[1]]
    _stretches(s, place[1] + lines[0] * place[2], place[2], radius, low, high)
    return low, high


@inner(inlined=True)
def _middles(stretch, place, columns):  # type: ignore[no-untyped-def]
    """First and end column of the cells of a row whose middles lie in a stretch of x."""
    if stretch[0] > stretch[1]:
        return 0, 0
    first = math.floor((stretch[0] - place[0]) / place[2] - 0.5 - 1e-6) + 1
    end = math.floor((stretch[1] - place[0]) / place[2] - 0.5 + 1e-6) + 1
    return max(0, first), min(columns, end)


@inner()
def _covered(before, after, place, columns):  # type: ignore[no-untyped-def]
    """First and end column of the cells of a row that lie wholly in a convex body, from its
    stretches of x on the row's two edges: those whose corners do."""
    low, high = max(before[0], after[0]), min(before[1], after[1])
    if low > high:
        return 0, 0
    first = max(0, math.ceil((low - place[0]) / place[2] + 1e-6))
    return first, max(first, min(columns, math.floor((high - place[0]) / place[2] - 1e-6)))


@inner()
def _met(s, before, after, edges, radius, place, columns):  # type: ignore[no-untyped-def]
    """First and end column of the cells of a row that a segment comes within `radius` of: what is
    farthest to a side lies on an edge, or beside an end between the two."""
    low, high = min(before[0], after[0]), max(before[1], after[1])
    for end in range(0, 6, 3):
        x = s[0] if end == 0 else s[3]
        y = s[1] if end == 0 else s[4]
        if edges[0] <= y <= edges[1]:
            low, high = min(low, x - radius), max(high, x + radius)
    if low > high:
        return 0, 0
    first = max(0, math.floor((low - place[0]) / place[2] - 1e-6))
    return first, max(first, min(columns, math.floor((high - place[0]) / place[2] + 1e-6) + 1))


@inner(inlined=True)
def _segment(segments, n):  # type: ignore[no-untyped-def]
    """One segment by its numbers, so that they are not fetched again for each cell."""
    a = segments[n]
    return a[0], a[1], a[2], a[3], a[4], a[5], a[6], a[7], a[8], a[9]


@inner()
def _rows(s, place, reach, rows):  # type: ignore[no-untyped-def]
    """First and end row that a segment can come within `reach` of."""
    first = math.floor((min(s[1], s[4]) - reach - place[1]) / place[2]) - 1
    end = math.floor((max(s[1], s[4]) + reach - place[1]) / place[2]) + 2
    return max(0, first), min(rows, end)


@inner(inlined=True)
def _blocks(first, end, band):  # type: ignore[no-untyped-def]
    """The blocks of rows of a band that hold any of the rows."""
    return range(first // DEEP + (band - first // DEEP) % BANDS, (end + DEEP - 1) // DEEP, BANDS)


@inner()
def _lower(row, height):  # type: ignore[no-untyped-def]
    """row = min(row, height); in this form it is compiled to vector code."""
    for i in range(row.size):
        row[i] = row[i] if row[i] < height else height


@inner(inlined=True)
def _corner(s, x, y, square):  # type: ignore[no-untyped-def]
    """The stretch of t of the line of a segment from which a point lies within a radius, given by
    its square; (1, -1) if there is none."""
    ox, oy = s[0] - x, s[1] - y
    b = (s[3] - s[0]) * ox + (s[4] - s[1]) * oy
    root = b * b - s[6] * (ox * ox + oy * oy - square)
    half = math.sqrt(max(root, 0.0))
    low, high = (-b - half) * s[7], (-b + half) * s[7]
    return (low, high) if root >= 0.0 else (1.0, -1.0)


@inner(inlined=True)
def _far_end(s, cx, cy, half, square):  # type: ignore[no-untyped-def]
    """The lowest place t of a segment from which all four corners of a cell lie within a radius;
    -1 where there is none. The caller measures again at t."""
    a, b = _corner(s, cx - half, cy - half, square), _corner(s, cx + half, cy - half, square)
    c, d = _corner(s, cx - half, cy + half, square), _corner(s, cx + half, cy + half, square)
    low = max(max(a[0], b[0]), max(c[0], max(d[0], 0.0)))
    high = min(min(a[1], b[1]), min(c[1], min(d[1], 1.0)))
    return low if low <= high else -1.0


@inner(inlined=True)
def _nearest(s, cx, cy):  # type: ignore[no-untyped-def]
    """The place t in 0..1 of a segment that is nearest in plan to a point."""
    along = (cx - s[0]) * (s[3] - s[0]) + (cy - s[1]) * (s[4] - s[1])
    return min(1.0, max(0.0, along * s[7]))


@inner()
def _lower_at(s, places, line, half, table, per_step, away, bounds):  # type: ignore[no-untyped-def]
    """Lowers bounds (cells of a row) to what the cutter leaves of each, from one place t each.

    The profile never falls outward, so at every point of a cell it is at or under its value at
    the farthest corner, which is at or under the next table entry. line = x of the middle of the
    first cell, side of a cell, y of the middles.
    """
    x0, cell, cy = line
    for i in range(away.size):  # this loop is compiled to vector code, the next cannot be
        x = abs(s[0] + places[i] * (s[3] - s[0]) - (x0 + i * cell)) + half
        y = abs(s[1] + places[i] * (s[4] - s[1]) - cy) + half
        away[i] = min(math.sqrt(x * x + y * y) * per_step * (1.0 + 1e-12), table.size + 0.0)
    for i in range(away.size):
        index = int(away[i]) + 1
        if index < table.size:
            bounds[i] = min(bounds[i], s[2] + places[i] * (s[5] - s[2]) + table[index])


@inner()
def _bounds(s, line, half, table, per_step, count, scratch):  # type: ignore[no-untyped-def]
    """Upper bounds of what a segment leaves of closed cells of a row; +inf where not all goes.

    Each place on the segment gives a bound by itself, so the least of a few is one too: the
    nearest to the cell, and on a slope the lowest that covers all of it and that half way between;
    under a flat cutter the lowest alone, as no other can be lower.
    scratch (6, columns), of which the fourth row begins with the answers for `count` cells;
    `line` as for `_lower_at`.
    """
    near, low = scratch[0, :count], scratch[1, :count]
    away, bounds = scratch[2, :count], scratch[3, :count]
    x0, cell, cy = line
    sloped, flat = s[2] != s[5], table[0] == table[-1]
    for i in range(near.size):
        near[i], bounds[i] = _nearest(s, x0 + i * cell, cy), np.inf
    if not (sloped and flat):
        _lower_at(s, near, line, half, table, per_step, away, bounds)
    if sloped:
        radius = (table.size - 1) / per_step * (1.0 - 1e-9)
        for i in range(low.size):
            far = _far_end(s, x0 + i * cell, cy, half, radius * radius)
            low[i] = far if far >= 0.0 else near[i]
        _lower_at(s, low, line, half, table, per_step, away, bounds)
    if sloped and not flat:
        for i in range(low.size):
            low[i] = 0.5 * (near[i] + low[i])
        _lower_at(s, low, line, half, table, per_step, away, bounds)


@inner()
def _near_distance(s, cx, cy, half):  # type: ignore[no-untyped-def]
    """Least distance in plan of a segment and a closed cell: 0 where they meet, else from a
    corner to the segment or from an end to the cell (two convex bodies)."""
    ax, bx = _slab(s[0], s[3] - s[0], cx - half, cx + half, 2.0)
    ay, by = _slab(s[1], s[4] - s[1], cy - half, cy + half, 2.0)
    if max(0.0, max(ax, ay)) <= min(1.0, min(bx, by)):
        return 0.0
    best = np.inf
    for corner in range(4):
        x = cx + half if corner & 1 else cx - half
        y = cy + half if corner & 2 else cy - half
        t = _nearest(s, x, y)
        ox, oy = s[0] + t * (s[3] - s[0]) - x, s[1] + t * (s[4] - s[1]) - y
        best = min(best, ox * ox + oy * oy)
    for end in range(0, 6, 3):
        ox = max(0.0, abs(s[end] - cx) - half)
        oy = max(0.0, abs(s[end + 1] - cy) - half)
        best = min(best, ox * ox + oy * oy)
    return math.sqrt(best)


@inner()
def _touch_span(s, cx, cy, half, radius):  # type: ignore[no-untyped-def]
    """The stretch of a segment within `radius` of a closed cell, clipped to 0..1.

    The cell grown by a disc is the union of two slabs and four corner discs; it is convex, so
    the stretch reaches from the first entry into any of them to the last exit.
    """
    dx, dy = s[3] - s[0], s[4] - s[1]
    square = dx * dx + dy * dy
    if square == 0.0:
        return 0.0, 1.0
    low, high = 2.0, -1.0
    for wide in range(2):
        grow_x, grow_y = (radius, 0.0) if wide == 0 else (0.0, radius)
        ax, bx = _slab(s[0], dx, cx - half - grow_x, cx + half + grow_x, 2.0)
        ay, by = _slab(s[1], dy, cy - half - grow_y, cy + half + grow_y, 2.0)
        if max(ax, ay) <= min(bx, by):
            low, high = min(low, max(ax, ay)), max(high, min(bx, by))
    for corner in range(4):
        ox = s[0] - (cx + half if corner & 1 else cx - half)
        oy = s[1] - (cy + half if corner & 2 else cy - half)
        b = dx * ox + dy * oy
        root = b * b - square * (ox * ox + oy * oy - radius * radius)
        if root >= 0.0:
            low = min(low, (-b - math.sqrt(root)) / square)
            high = max(high, (-b + math.sqrt(root)) / square)
    return min(1.0, max(0.0, low - 1e-9)), max(0.0, min(1.0, high + 1e-9))


@inner()
def _touched(s, cx, cy, half, table, per_step):  # type: ignore[no-untyped-def]
    """Lower bound of what one segment leaves anywhere in a closed cell; +inf if untouched.

    At every place on the segment the profile over the cell is at or over its value at the least
    distance of all, and the tip at or over the lower end of the stretch that can touch.
    """
    radius = (table.size - 1) / per_step * (1.0 + 1e-12)
    near = _near_distance(s, cx, cy, half) * (1.0 - 1e-12)
    if near > radius:
        return np.inf
    low, high = _touch_span(s, cx, cy, half, radius)
    rise = s[5] - s[2]
    index = min(int(near * per_step * (1.0 - 1e-12)), table.size - 1)
    return s[2] + min(low * rise, high * rise) + table[index]


@inner()
def _over(row, span, floor):  # type: ignore[no-untyped-def]
    """The span without what at its ends is at or under the floor."""
    first, end = span
    while first < end and not row[first] > floor:
        first += 1
    while first < end and not row[end - 1] > floor:
        end -= 1
    return first, end


@inner()
def _whole_rows(z, place, s, rows, table, per_step, scratch):  # type: ignore[no-untyped-def]
    """Some rows under one segment. The farthest corner of a cell is further than its middle by
    half a side at least."""
    may, floor = (table.size - 1) / per_step - 0.4999 * place[2], _round_up(s[2] + table[0])
    low, high = _lines(s, place, (rows[0] + 0.5, rows[1] - rows[0]), may * (1.0 + 1e-9), scratch)
    for y in range(rows[0], rows[1]):
        row, stretch = z[y], (low[y - rows[0]], high[y - rows[0]])
        first, end = _over(row, _middles(stretch, place, z.shape[1]), floor)
        line = place[0] + (first + 0.5) * place[2], place[2], place[1] + (y + 0.5) * place[2]
        bounds = scratch[3]
        _bounds(s, line, 0.5 * place[2], table, per_step, end - first, scratch)
        for x in range(first, end):
            if bounds[x - first] < row[x]:
                row[x] = min(row[x], _round_up(bounds[x - first]))


@inner()
def _whole_level(z, place, s, rows, radius, floor, scratch):  # type: ignore[no-untyped-def]
    """Some rows under one level move of a flat cutter: what lies wholly under it has one height."""
    low, high = _lines(s, place, (rows[0], rows[1] - rows[0] + 1), radius, scratch)
    for i in range(rows[1] - rows[0]):
        before, after = (low[i], high[i]), (low[i + 1], high[i + 1])
        first, end = _covered(before, after, place, z.shape[1])
        _lower(z[rows[0] + i, first:end], floor)


@inner()
def _whole_band(z, place, segments, table, per_step, band, scratch):  # type: ignore[no-untyped-def]
    reach = (table.size - 1) / per_step
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        floor, even = _round_up(s[2] + table[0]), s[2] == s[5] and table[0] == table[-1]
        first, end = _rows(s, place, reach, z.shape[0])
        for block in _blocks(first, end, band):
            rows = max(first, block * DEEP), min(end, block * DEEP + DEEP)
            if even:
                _whole_level(z, place, s, rows, reach * (1.0 - 1e-9), floor, scratch)
            else:
                _whole_rows(z, place, s, rows, table, per_step, scratch)


@inner()
def _touched_cells(row, span, s, place, cy, floor, table, per_step):  # type: ignore[no-untyped-def]
    for x in range(span[0], span[1]):
        if row[x] > floor:
            cx = place[0] + (x + 0.5) * place[2]
            bound = _touched(s, cx, cy, 0.5 * place[2], table, per_step)
            if bound < row[x]:
                row[x] = _round_down(bound)


@inner()
def _touched_rows(z, place, s, rows, table, per_step, scratch):  # type: ignore[no-untyped-def]
    """As `_whole_rows`; a cell is touched if its middle is."""
    may = (table.size - 1) / per_step + 0.7072 * place[2]
    floor = _round_down(s[2] + table[0])
    low, high = _lines(s, place, (rows[0] + 0.5, rows[1] - rows[0]), may * (1.0 + 1e-9), scratch)
    for y in range(rows[0], rows[1]):
        span = _middles((low[y - rows[0]], high[y - rows[0]]), place, z.shape[1])
        cy = place[1] + (y + 0.5) * place[2]
        _touched_cells(z[y], span, s, place, cy, floor, table, per_step)


@inner()
def _touched_level(z, place, s, rows, radius, floor, scratch):  # type: ignore[no-untyped-def]
    """As `_whole_level`."""
    low, high = _lines(s, place, (rows[0], rows[1] - rows[0] + 1), radius, scratch)
    for i in range(rows[1] - rows[0]):
        y = rows[0] + i
        edges = place[1] + y * place[2], place[1] + (y + 1) * place[2]
        before, after = (low[i], high[i]), (low[i + 1], high[i + 1])
        first, end = _met(s, before, after, edges, radius, place, z.shape[1])
        _lower(z[y, first:end], floor)


@inner()
def _touched_band(z, place, segments, table, per_step, band, scratch):  # type: ignore[no-untyped-def]
    reach = (table.size - 1) / per_step
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        floor, even = _round_down(s[2] + table[0]), s[2] == s[5] and table[0] == table[-1]
        first, end = _rows(s, place, reach, z.shape[0])
        for block in _blocks(first, end, band):
            rows = max(first, block * DEEP), min(end, block * DEEP + DEEP)
            if even:
                _touched_level(z, place, s, rows, reach * (1.0 + 1e-9), floor, scratch)
            else:
                _touched_rows(z, place, s, rows, table, per_step, scratch)


@inner()
def _bite_row(row, span, s, n, line, look, table, scratch, count, depth):  # type: ignore[no-untyped-def]
    """One row under one segment; `line` as for `_lower_at`."""
    first, end = span
    bounds = scratch[3]
    _bounds(s, line, 0.0, table, look[0], end - first, scratch)
    for x in range(first, end):
        taken = row[x] - bounds[x - first]
        if taken > 1e-3:
            count[0, n] += 1
            count[1, n] += taken > look[1]
            depth[n] = max(depth[n], taken)
            row[x] -= taken


@inner()
def _bite_band(z, place, segments, table, look, band, scratch, count, depth):  # type: ignore[no-untyped-def]
    reach = (table.size - 1) / look[0]
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        first, end = _rows(s, place, reach, z.shape[0])
        for block in _blocks(first, end, band):
            rows = max(first, block * DEEP), min(end, block * DEEP + DEEP)
            low, high = _lines(s, place, (rows[0] + 0.5, rows[1] - rows[0]), reach, scratch)
            for y in range(rows[0], rows[1]):
                span = _middles((low[y - rows[0]], high[y - rows[0]]), place, z.shape[1])
                line = (
                    place[0] + (span[0] + 0.5) * place[2],
                    place[2],
                    place[1] + (y + 0.5) * place[2],
                )
                _bite_row(z[y], span, s, n, line, look, table, scratch, count, depth)


@compiled(parallel=True)
def sweep_whole(z, place, segments, table, per_step, scratch):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to an upper bound of what straight segments leave.

    place = (x0, y0, cell); segments (n, 10) lower and upper end of the tip's path, the square of
    its length in plan, and one over that, over its x and over its y, 0 for 0; table (m + 1,)
    profile height at radius k / per_step; scratch (BANDS, 6, columns, but WIDE at
    least) float64. Only cells that lie
    wholly under the cutter are lowered.
    """
    for band in prange(BANDS):
        _whole_band(z, place, segments, table, per_step, np.int64(band), scratch[band])


@compiled(parallel=True)
def sweep_touched(z, place, segments, table, per_step, scratch):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to a lower bound of what straight segments leave.

    Arrays as for `sweep_whole`. Every cell that the cutter touches anywhere is lowered.
    """
    for band in prange(BANDS):
        _touched_band(z, place, segments, table, per_step, np.int64(band), scratch[band])


@compiled(parallel=True)
def bite(z, place, segments, table, look, scratch, count, depth):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to what segments leave at the middle of each cell.

    Arrays as for `sweep_whole`; look = (per_step, limit); count (BANDS, 2, n) how many cells of
    a band a segment lowered by more than a thousandth, and by more than the limit; depth
    (BANDS, n) by how much at most.
    """
    for band in prange(BANDS):
        one, taken = np.int64(band), (count[band], depth[band])
        _bite_band(z, place, segments, table, look, one, scratch[band], *taken)
