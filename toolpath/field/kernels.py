"""The compiled loops: arrays in, arrays out, no checks. Each has a plain front elsewhere.

No fast-math, no float reduction across threads, outputs and scratch are allocated by the front;
rows are dealt out interleaved, so that no two threads write to one cell.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import config, njit, prange

config.THREADING_LAYER = "workqueue"  # the one that a copy of the process (fork) can go on using


def _compiled(parallel: bool = False) -> Any:
    """`njit`, kept on the disk for later runs where there is a place that can be written."""

    def wrap(function: Any) -> Any:
        try:
            return njit(cache=True, parallel=parallel)(function)
        except RuntimeError:  # no such place
            return njit(parallel=parallel)(function)

    return wrap


BANDS = 16
"""Rows are dealt to this many bands, which the threads share."""


@_compiled()
def _raise_to(target, source, drop):  # type: ignore[no-untyped-def]
    """target = max(target, source - drop); in this form it is compiled to vector code."""
    for i in range(target.size):
        value = source[i] - drop
        target[i] = target[i] if target[i] > value else value


@_compiled(parallel=True)
def dilate(source, run_index, runs, run_top, drop, span, floor, out):  # type: ignore[no-untyped-def]
    """out[y, x] = max over table cells (i, j) of source[y + i - up, x + j - across] - drop[i, j].

    source, out (rows, columns) float32, out filled with -inf; runs (k, 2) int64 first and end
    column of the stretches of a row that hold anything, run_index (rows + 1) where each row's
    runs begin, run_top (k,) their largest heights; drop (2 up + 1, 2 across + 1) float32;
    span (2 up + 1, 2) first and end finite column of the table; results at or under `floor`
    may be left out. What lies outside counts as -inf.
    """
    rows, columns = out.shape
    up = drop.shape[0] // 2
    across = drop.shape[1] // 2
    for band in prange(BANDS):
        for y in range(band, rows, BANDS):
            for i in range(max(0, up - y), min(drop.shape[0], rows - y + up)):
                row = y + i - up
                for k in range(run_index[row], run_index[row + 1]):
                    for j in range(span[i, 0], span[i, 1]):
                        if run_top[k] - drop[i, j] > floor:
                            first = max(runs[k, 0] - (j - across), 0)
                            end = min(runs[k, 1] - (j - across), columns)
                            if end > first:
                                shift = j - across
                                _raise_to(
                                    out[y, first:end],
                                    source[row, first + shift : end + shift],
                                    drop[i, j],
                                )


@_compiled()
def _round_up(value):  # type: ignore[no-untyped-def]
    """The least float32 that is not under the value."""
    near = np.float32(value)
    return np.nextafter(near, np.float32(np.inf)) if np.float64(near) < value else near


@_compiled()
def _round_down(value):  # type: ignore[no-untyped-def]
    """The greatest float32 that is not over the value."""
    near = np.float32(value)
    return np.nextafter(near, np.float32(-np.inf)) if np.float64(near) > value else near


@_compiled()
def _columns(s, place, y, reach, columns):  # type: ignore[no-untyped-def]
    """First and end column of a row that a segment can come within `reach` of (a superset)."""
    x0, y0, cell = place
    low, high = 0.0, 1.0
    dy = s[4] - s[1]
    near, far = y0 + y * cell - reach, y0 + (y + 1) * cell + reach
    if dy != 0.0:
        one, two = (near - s[1]) / dy, (far - s[1]) / dy
        low = max(low, min(one, two) - 1e-9)
        high = min(high, max(one, two) + 1e-9)
    elif s[1] < near or s[1] > far:
        return 0, 0
    if low > high:
        return 0, 0
    one, two = s[0] + low * (s[3] - s[0]), s[0] + high * (s[3] - s[0])
    first = math.floor((min(one, two) - reach - x0) / cell) - 1
    end = math.floor((max(one, two) + reach - x0) / cell) + 2
    return max(0, first), min(columns, end)


@_compiled()
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


@_compiled()
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


@_compiled()
def _nearest(s, cx, cy):  # type: ignore[no-untyped-def]
    """The place t in 0..1 of a segment that is nearest in plan to a point."""
    dx, dy = s[3] - s[0], s[4] - s[1]
    square = dx * dx + dy * dy
    if square == 0.0:
        return 0.0
    return min(1.0, max(0.0, ((cx - s[0]) * dx + (cy - s[1]) * dy) / square))


@_compiled()
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


@_compiled()
def _slab(start, step, low, high):  # type: ignore[no-untyped-def]
    """The stretch of t in which start + t step lies in low..high; empty as (2, -1)."""
    if step == 0.0:
        return (-1.0, 2.0) if low <= start <= high else (2.0, -1.0)
    one, two = (low - start) / step, (high - start) / step
    return (one, two) if one < two else (two, one)


@_compiled()
def _near_distance(s, cx, cy, half):  # type: ignore[no-untyped-def]
    """Least distance in plan of a segment and a closed cell: 0 where they meet, else from a
    corner to the segment or from an end to the cell (two convex bodies)."""
    ax, bx = _slab(s[0], s[3] - s[0], cx - half, cx + half)
    ay, by = _slab(s[1], s[4] - s[1], cy - half, cy + half)
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


@_compiled()
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
        ax, bx = _slab(s[0], dx, cx - half - grow_x, cx + half + grow_x)
        ay, by = _slab(s[1], dy, cy - half - grow_y, cy + half + grow_y)
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


@_compiled()
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


@_compiled(parallel=True)
def sweep_whole(z, place, segments, table, per_step):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to an upper bound of what straight segments leave.

    place = (x0, y0, cell); segments (n, 6) tip start and end; table (m + 1,) profile height at
    radius k / per_step. Only cells that lie wholly under the cutter are lowered.
    """
    half = 0.5 * place[2]
    reach = (table.size - 1) / per_step
    for band in prange(BANDS):
        for n in range(segments.shape[0]):
            s = segments[n]
            floor = _round_up(min(s[2], s[5]) + table[0])
            first = math.floor((min(s[1], s[4]) - reach - place[1]) / place[2]) - 1
            end = math.floor((max(s[1], s[4]) + reach - place[1]) / place[2]) + 2
            first = max(0, first)
            for y in range(first + (band - first) % BANDS, min(z.shape[0], end), BANDS):
                left, right = _columns(s, place, y, reach, z.shape[1])
                cy = place[1] + (y + 0.5) * place[2]
                for x in range(left, right):
                    if z[y, x] > floor:
                        cx = place[0] + (x + 0.5) * place[2]
                        bound = _whole(s, cx, cy, half, table, per_step)
                        if bound < z[y, x]:
                            z[y, x] = min(z[y, x], _round_up(bound))


@_compiled(parallel=True)
def sweep_touched(z, place, segments, table, per_step):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to a lower bound of what straight segments leave.

    Arrays as for `sweep_whole`. Every cell that the cutter touches anywhere is lowered.
    """
    half = 0.5 * place[2]
    reach = (table.size - 1) / per_step
    for band in prange(BANDS):
        for n in range(segments.shape[0]):
            s = segments[n]
            floor = _round_down(min(s[2], s[5]) + table[0])
            first = math.floor((min(s[1], s[4]) - reach - place[1]) / place[2]) - 1
            end = math.floor((max(s[1], s[4]) + reach - place[1]) / place[2]) + 2
            first = max(0, first)
            for y in range(first + (band - first) % BANDS, min(z.shape[0], end), BANDS):
                left, right = _columns(s, place, y, reach, z.shape[1])
                cy = place[1] + (y + 0.5) * place[2]
                for x in range(left, right):
                    if z[y, x] > floor:
                        cx = place[0] + (x + 0.5) * place[2]
                        bound = _touched(s, cx, cy, half, table, per_step)
                        if bound < z[y, x]:
                            z[y, x] = _round_down(bound)


@_compiled(parallel=True)
def bite(z, place, segments, table, look, count, depth):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float32 to what segments leave at the middle of each cell.

    Arrays as for `sweep_whole`; look = (per_step, limit); count (2, BANDS, n) how many cells of
    a band a segment lowered by more than a thousandth, and by more than the limit; depth
    (BANDS, n) by how much at most.
    """
    per_step, limit = look
    reach = (table.size - 1) / per_step
    for band in prange(BANDS):
        for n in range(segments.shape[0]):
            s = segments[n]
            first = max(0, math.floor((min(s[1], s[4]) - reach - place[1]) / place[2]) - 1)
            end = math.floor((max(s[1], s[4]) + reach - place[1]) / place[2]) + 2
            for y in range(first + (band - first) % BANDS, min(z.shape[0], end), BANDS):
                left, right = _columns(s, place, y, reach, z.shape[1])
                cy = place[1] + (y + 0.5) * place[2]
                for x in range(left, right):
                    cx = place[0] + (x + 0.5) * place[2]
                    taken = z[y, x] - _whole(s, cx, cy, 0.0, table, per_step)
                    if taken > 1e-3:
                        count[0, band, n] += 1
                        count[1, band, n] += taken > limit
                        depth[band, n] = max(depth[band, n], taken)
                        z[y, x] -= taken


@_compiled()
def _clip(polygon, count, axis, bound, sign, out):  # type: ignore[no-untyped-def]
    """Cuts a convex polygon (count, 3) to sign * (coordinate - bound) >= 0; returns its count."""
    kept = 0
    for i in range(count):
        k = i + 1 if i + 1 < count else 0
        a, b = sign * (polygon[i, axis] - bound), sign * (polygon[k, axis] - bound)
        if a >= 0.0:
            for c in range(3):
                out[kept, c] = polygon[i, c]
            kept += 1
        if (a > 0.0 and b < 0.0) or (a < 0.0 and b > 0.0):
            for c in range(3):
                out[kept, c] = polygon[i, c] + (polygon[k, c] - polygon[i, c]) * (a / (a - b))
            kept += 1
    return kept


@_compiled()
def _range(polygon, count, axis):  # type: ignore[no-untyped-def]
    """Least and greatest coordinate of the first `count` corners."""
    low = high = polygon[0, axis]
    for i in range(1, count):
        low, high = min(low, polygon[i, axis]), max(high, polygon[i, axis])
    return low, high


@_compiled()
def top_of_triangles(corners, place, slack, scratch, out):  # type: ignore[no-untyped-def]
    """Raises out (rows, columns) float64 to the top of triangles (n, 3, 3) in each closed cell.

    place = (x0, y0, cell). A triangle is clipped to the row, then to the cell, each widened by
    `slack`; the top of what is left is at one of its corners. Triangles that come highest first
    are quickest. scratch (3, 9, 3).
    """
    x0, y0, cell = place
    strip, half, piece = scratch[0], scratch[1], scratch[2]
    for n in range(corners.shape[0]):
        y_low, y_high = _range(corners[n], 3, 1)
        first = max(0, math.floor((y_low - slack - y0) / cell) - 1)
        end = min(out.shape[0], math.floor((y_high + slack - y0) / cell) + 2)
        for y in range(first, end):
            count = _clip(corners[n], 3, 1, y0 + y * cell - slack, 1.0, half)
            count = _clip(half, count, 1, y0 + (y + 1) * cell + slack, -1.0, strip)
            if count == 0:
                continue
            x_low, x_high = _range(strip, count, 0)
            top = _range(strip, count, 2)[1]
            left = max(0, math.floor((x_low - slack - x0) / cell) - 1)
            right = min(out.shape[1], math.floor((x_high + slack - x0) / cell) + 2)
            for x in range(left, right):
                if out[y, x] >= top:
                    continue
                kept = _clip(strip, count, 0, x0 + x * cell - slack, 1.0, half)
                kept = _clip(half, kept, 0, x0 + (x + 1) * cell + slack, -1.0, piece)
                for i in range(kept):
                    out[y, x] = max(out[y, x], piece[i, 2])


@_compiled()
def _tip_over(top, x, y, side, look):  # type: ignore[no-untyped-def]
    """top less the table at the least distance of a closed square (lower left x, y) from a place;
    -inf where the table does not reach."""
    qx, qy, shift, table, per_step = look
    dx, dy = max(x - qx, qx - (x + side), 0.0), max(y - qy, qy - (y + side), 0.0)
    away = max(math.sqrt(dx * dx + dy * dy) - shift, 0.0)
    index = int(away * per_step * (1.0 - 1e-12))
    return top - table[index] if index < table.size else -np.inf


@_compiled()
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


@_compiled()
def _lowest_tip(z, tops, size, place, look):  # type: ignore[no-untyped-def]
    """One place: the most promising block first, so that few others are looked into."""
    x0, y0, side = place[0], place[1], size * place[2]
    reach = look[3].size / look[4] + max(look[2], 0.0)
    low_y = max(0, math.floor((look[1] - reach - y0) / side))
    end_y = min(tops.shape[0], math.floor((look[1] + reach - y0) / side) + 1)
    low_x = max(0, math.floor((look[0] - reach - x0) / side))
    end_x = min(tops.shape[1], math.floor((look[0] + reach - x0) / side) + 1)
    hope, chosen = -np.inf, (-1, -1)
    for y in range(low_y, end_y):
        for x in range(low_x, end_x):
            if tops[y, x] - look[3][0] > hope:
                found = _tip_over(tops[y, x], x0 + x * side, y0 + y * side, side, look)
                if found > hope:
                    hope, chosen = found, (y, x)
    if hope == -np.inf:
        return hope
    best = _tip_over_block(z, place, size, chosen, look, -np.inf)
    for y in range(low_y, end_y):
        for x in range(low_x, end_x):
            if tops[y, x] - look[3][0] > best:
                found = _tip_over(tops[y, x], x0 + x * side, y0 + y * side, side, look)
                if found > best:
                    best = _tip_over_block(z, place, size, (y, x), look, best)
    return best


@_compiled(parallel=True)
def lowest_tips(z, tops, size, place, queries, shift, table, per_step, out):  # type: ignore[no-untyped-def]
    """out[n] = max over cells of z - table at the least distance of the closed cell from
    queries[n], less `shift` (which may be negative); -inf where the table does not reach.

    z (rows, columns) float64, -inf for nothing; tops the greatest z of blocks of size x size
    cells; place = (x0, y0, cell); queries (n, 2); table (m,) profile height at radius
    k / per_step, never falling.
    """
    for n in prange(queries.shape[0]):
        look = (queries[n, 0], queries[n, 1], shift, table, per_step)
        out[n] = _lowest_tip(z, tops, size, place, look)


@_compiled()
def _chord_fits(points, bound, first, last, aside, above):  # type: ignore[no-untyped-def]
    """Whether the straight piece between two vertices may stand for what lies between them."""
    ax, ay, az = points[first, 0], points[first, 1], points[first, 2]
    dx, dy, dz = points[last, 0] - ax, points[last, 1] - ay, points[last, 2] - az
    square = dx * dx + dy * dy
    if square == 0.0:
        return False
    before = 0.0
    for k in range(first + 1, last + 1):
        ox, oy = points[k, 0] - ax, points[k, 1] - ay
        share = (ox * dx + oy * dy) / square
        if (before - share) * math.sqrt(square) > aside:
            return False
        cross = ox * dy - oy * dx
        if cross * cross > aside * aside * square:
            return False
        one, two = az + before * dz, az + share * dz
        if min(one, two) < bound[k - 1]:
            return False
        if one > points[k - 1, 2] + above or two > points[k, 2] + above:
            return False
        before = share
    return True


@_compiled()
def thin_over(points, bound, aside, above, keep):  # type: ignore[no-untyped-def]
    """Marks in keep (n,) the vertices of a path (n, 3) that stay when straight pieces replace it.

    bound (n - 1,) is the least height over each stretch; a piece lies nowhere under that of the
    stretches it replaces (one stretch alone is always taken), nor further than `above` over their
    vertices, nor further than `aside` from them in plan.
    """
    n = points.shape[0]
    keep[0] = True
    first = 0
    while first < n - 1:
        last = first + 1
        while last + 1 < n and _chord_fits(points, bound, first, last + 1, aside, above):
            last += 1
        keep[last] = True
        first = last
