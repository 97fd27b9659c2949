"""Compiled loops over triangles: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

from toolpath.field.kernels.compiled import compiled, inner


@inner()
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


@inner()
def _range(polygon, count, axis):  # type: ignore[no-untyped-def]
    """Least and greatest coordinate of the first `count` corners."""
    low = high = polygon[0, axis]
    for i in range(1, count):
        low, high = min(low, polygon[i, axis]), max(high, polygon[i, axis])
    return low, high


@compiled()
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


@compiled()
def nodes_of_triangles(corners, place, slack, out):  # type: ignore[no-untyped-def]
    """Raises out (rows, columns) float64 to the height of triangles (n, 3, 3) over each node.

    place = (x0, y0, step): node [row, column] lies at x0 + column * step, y0 + row * step. Nodes
    within `slack` of a triangle's edge belong to it; triangles without area in plan do not count.
    """
    x0, y0, step = place
    for n in range(corners.shape[0]):
        a, b, c = corners[n, 0], corners[n, 1], corners[n, 2]
        area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if area == 0.0:
            continue
        x_low, x_high = _range(corners[n], 3, 0)
        y_low, y_high = _range(corners[n], 3, 1)
        first = max(0, math.ceil((y_low - slack - y0) / step))
        end = min(out.shape[0], math.floor((y_high + slack - y0) / step) + 1)
        left = max(0, math.ceil((x_low - slack - x0) / step))
        right = min(out.shape[1], math.floor((x_high + slack - x0) / step) + 1)
        for row in range(first, end):
            for column in range(left, right):
                x, y = x0 + column * step, y0 + row * step
                u = ((b[0] - x) * (c[1] - y) - (c[0] - x) * (b[1] - y)) / area
                v = ((c[0] - x) * (a[1] - y) - (a[0] - x) * (c[1] - y)) / area
                w = 1.0 - u - v
                if u >= -slack and v >= -slack and w >= -slack:
                    out[row, column] = max(out[row, column], u * a[2] + v * b[2] + w * c[2])
