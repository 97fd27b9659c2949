"""Compiled loops of sweeping: arrays in, arrays out, no checks. The front is `field/sweep.py`."""

from __future__ import annotations

import math

import numpy as np
from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled, inner


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


@inner()
def _within(s, y, radius):  # type: ignore[no-untyped-def]
    """The stretch of x of a line along y = `y` within `radius` of a segment in plan; (1, 0) where
    there is none. It is that of two discs and what lies square to the segment; they are convex."""
    low, high = np.inf, -np.inf
    if radius <= 0.0:
        return 1.0, 0.0
    for end in range(0, 6, 3):
        off = radius * radius - (y - s[end + 1]) * (y - s[end + 1])
        if off >= 0.0:
            half = math.sqrt(off)
            low, high = min(low, s[end] - half), max(high, s[end] + half)
    dx, dy = s[3] - s[0], s[4] - s[1]
    square = dx * dx + dy * dy
    if square > 0.0:
        aside = radius * math.sqrt(square)
        along, across = (y - s[1]) * dy, (y - s[1]) * dx
        one, two = _slab(along, dx, 0.0, square, np.inf)
        three, four = _slab(-across, dy, -aside, aside, np.inf)
        if max(one, three) <= min(two, four):
            low = min(low, s[0] + max(one, three))
            high = max(high, s[0] + min(two, four))
    return (low, high) if low <= high else (1.0, 0.0)


@inner()
def _may_reach(s, place, y, radius, columns):  # type: ignore[no-untyped-def]
    """First and end column of a row with every cell whose middle is within `radius`."""
    low, high = _within(s, place[1] + (y + 0.5) * place[2], radius * (1.0 + 1e-9))
    if low > high:
        return 0, 0
    first = math.floor((low - place[0]) / place[2] - 0.5 - 1e-6) + 1
    return max(0, first), min(columns, math.floor((high - place[0]) / place[2] - 0.5 + 1e-6) + 1)


@inner()
def _must_reach(s, place, y, radius, span):  # type: ignore[no-untyped-def]
    """First and end column, in `span`, of cells whose middles are all surely within `radius`."""
    low, high = _within(s, place[1] + (y + 0.5) * place[2], radius * (1.0 - 1e-9))
    if low > high:
        return span[1], span[1]
    first = math.floor((low - place[0]) / place[2] - 0.5 + 1e-6) + 1
    end = math.floor((high - place[0]) / place[2] - 0.5 - 1e-6) + 1
    first = min(max(first, span[0]), span[1])
    return first, max(first, min(end, span[1]))


@inner(inlined=True)
def _segment(segments, n):  # type: ignore[no-untyped-def]
    """One segment by its numbers, so that they are not fetched again for each cell."""
    a, b = segments[n, :3], segments[n, 3:]
    return a[0], a[1], a[2], b[0], b[1], b[2]


@inner()
def _rows(s, place, reach, rows, band):  # type: ignore[no-untyped-def]
    """First and end row of a band that a segment can come within `reach` of."""
    first = math.floor((min(s[1], s[4]) - reach - place[1]) / place[2]) - 1
    end = math.floor((max(s[1], s[4]) + reach - place[1]) / place[2]) + 2
    first = max(0, first)
    return first + (band - first) % BANDS, min(rows, end)


@inner()
def _lower(row, height):  # type: ignore[no-untyped-def]
    """row = min(row, height); in this form it is compiled to vector code."""
    for i in range(row.size):
        row[i] = row[i] if row[i] < height else height


@inner()
def _far_end(s, cx, cy, half, radius):  # type: ignore[no-untyped-def]
    """The place t of the lower end of the stretch of a segment from which all four corners of a
    cell lie within `radius`; -1 where there is none. The caller measures again at t."""
    dx, dy, dz = s[3] - s[0], s[4] - s[1], s[5] - s[2]
    square = dx * dx + dy * dy
    low, high = 0.0, 1.0
    if square > 0.0:
        for corner in range(4):
            ox = s[0] - (cx + half if corner & 1 else cx - half)
            oy = s[1] - (cy + half if corner & 2 else cy - half)
            b = dx * ox + dy * oy
            root = b * b - square * (ox * ox + oy * oy - radius * radius)
            if root < 0.0:
                return -1.0
            low = max(low, (-b - math.sqrt(root)) / square)
            high = min(high, (-b + math.sqrt(root)) / square)
    if low > high:
        return -1.0
    return high if dz < 0.0 else low


@inner()
def _whole_at(s, t, cx, cy, half, table, per_step):  # type: ignore[no-untyped-def]
    """Upper bound of what the cutter at place t leaves of a closed cell; +inf if not all of it.

    The farthest corner is at `far`; the profile never falls outward, so at every point of the
    cell it is at or under its value at `far`, which is at or under the next table entry.
    """
    x = abs(s[0] + t * (s[3] - s[0]) - cx) + half
    y = abs(s[1] + t * (s[4] - s[1]) - cy) + half
    index = int(math.sqrt(x * x + y * y) * per_step * (1.0 + 1e-12)) + 1
    if index >= table.size:
        return np.inf
    return s[2] + t * (s[5] - s[2]) + table[index]


@inner()
def _nearest(s, cx, cy):  # type: ignore[no-untyped-def]
    """The place t in 0..1 of a segment that is nearest in plan to a point."""
    dx, dy = s[3] - s[0], s[4] - s[1]
    square = dx * dx + dy * dy
    if square == 0.0:
        return 0.0
    return min(1.0, max(0.0, ((cx - s[0]) * dx + (cy - s[1]) * dy) / square))


@inner()
def _whole(s, cx, cy, half, table, per_step):  # type: ignore[no-untyped-def]
    """Upper bound of what one segment leaves of a closed cell.

    Each place on the segment gives a bound by itself, so the least over a few is one too: the
    nearest to the cell, and on a slope the lowest from which the whole cell is covered and the
    place half way between.
    """
    near = _nearest(s, cx, cy)
    best = _whole_at(s, near, cx, cy, half, table, per_step)
    if s[2] != s[5]:
        radius = (table.size - 1) / per_step
        low = _far_end(s, cx, cy, half, radius * (1.0 - 1e-9))
        if low >= 0.0:
            best = min(best, _whole_at(s, low, cx, cy, half, table, per_step))
            best = min(best, _whole_at(s, 0.5 * (near + low), cx, cy, half, table, per_step))
    return best


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
def _whole_cells(row, span, s, place, cy, floor, table, per_step):  # type: ignore[no-untyped-def]
    for x in range(span[0], span[1]):
        if row[x] > floor:
            cx = place[0] + (x + 0.5) * place[2]
            bound = _whole(s, cx, cy, 0.5 * place[2], table, per_step)
            if bound < row[x]:
                row[x] = min(row[x], _round_up(bound))


@inner()
def _whole_band(z, place, segments, table, per_step, band):  # type: ignore[no-untyped-def]
    """Under a level move of a flat cutter all cells but those at the rim get one height.

    The farthest corner of a cell is further than its middle by half a side to half a diagonal.
    """
    reach = (table.size - 1) / per_step
    sure, may = reach - 0.7072 * place[2], reach - 0.4999 * place[2]
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        floor = _round_up(min(s[2], s[5]) + table[0])
        even = s[2] == s[5] and table[0] == table[-1]
        first, end = _rows(s, place, reach, z.shape[0], band)
        for y in range(first, end, BANDS):
            span = _may_reach(s, place, y, may, z.shape[1])
            inside = _must_reach(s, place, y, sure, span) if even else (span[1], span[1])
            cy = place[1] + (y + 0.5) * place[2]
            _lower(z[y, inside[0] : inside[1]], floor)
            _whole_cells(z[y], (span[0], inside[0]), s, place, cy, floor, table, per_step)
            _whole_cells(z[y], (inside[1], span[1]), s, place, cy, floor, table, per_step)


@inner()
def _touched_cells(row, span, s, place, cy, floor, table, per_step):  # type: ignore[no-untyped-def]
    for x in range(span[0], span[1]):
        if row[x] > floor:
            cx = place[0] + (x + 0.5) * place[2]
            bound = _touched(s, cx, cy, 0.5 * place[2], table, per_step)
            if bound < row[x]:
                row[x] = _round_down(bound)


@inner()
def _touched_band(z, place, segments, table, per_step, band):  # type: ignore[no-untyped-def]
    """As `_whole_band`; a cell is touched if its middle is."""
    reach = (table.size - 1) / per_step
    may = reach + 0.7072 * place[2]
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        floor = _round_down(min(s[2], s[5]) + table[0])
        even = s[2] == s[5] and table[0] == table[-1]
        first, end = _rows(s, place, reach, z.shape[0], band)
        for y in range(first, end, BANDS):
            span = _may_reach(s, place, y, may, z.shape[1])
            inside = _must_reach(s, place, y, reach, span) if even else (span[1], span[1])
            cy = place[1] + (y + 0.5) * place[2]
            _lower(z[y, inside[0] : inside[1]], floor)
            _touched_cells(z[y], (span[0], inside[0]), s, place, cy, floor, table, per_step)
            _touched_cells(z[y], (inside[1], span[1]), s, place, cy, floor, table, per_step)


@inner()
def _bite_band(z, place, segments, table, look, band, count, depth):  # type: ignore[no-untyped-def]
    per_step, limit = look
    reach = (table.size - 1) / per_step
    for n in range(segments.shape[0]):
        s = _segment(segments, n)
        first, end = _rows(s, place, reach, z.shape[0], band)
        for y in range(first, end, BANDS):
            left, right = _may_reach(s, place, y, reach, z.shape[1])
            cy = place[1] + (y + 0.5) * place[2]
            for x in range(left, right):
                cx = place[0] + (x + 0.5) * place[2]
                taken = z[y, x] - _whole(s, cx, cy, 0.0, table, per_step)
                if taken > 1e-3:
                    count[0, band, n] += 1
                    count[1, band, n] += taken > limit
                    depth[band, n] = max(depth[band, n], taken)
                    z[y, x] -= taken


@compiled(parallel=True)
def sweep_whole(z, place, segments, table, per_step):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to an upper bound of what straight segments leave.

    place = (x0, y0, cell); segments (n, 6) tip start and end; table (m + 1,) profile height at
    radius k / per_step. Only cells that lie wholly under the cutter are lowered.
    """
    for band in prange(BANDS):
        _whole_band(z, place, segments, table, per_step, band)


@compiled(parallel=True)
def sweep_touched(z, place, segments, table, per_step):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to a lower bound of what straight segments leave.

    Arrays as for `sweep_whole`. Every cell that the cutter touches anywhere is lowered.
    """
    for band in prange(BANDS):
        _touched_band(z, place, segments, table, per_step, band)


@compiled(parallel=True)
def bite(z, place, segments, table, look, count, depth):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to what segments leave at the middle of each cell.

    Arrays as for `sweep_whole`; look = (per_step, limit); count (2, BANDS, n) how many cells of
    a band a segment lowered by more than a thousandth, and by more than the limit; depth
    (BANDS, n) by how much at most.
    """
    for band in prange(BANDS):
        _bite_band(z, place, segments, table, look, band, count, depth)
