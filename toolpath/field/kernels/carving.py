"""Compiled loops that lower a surface to what tips leave: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

from numba import prange

from toolpath.field.kernels.compiled import BANDS, compiled


@compiled(parallel=True)
def carve(z, place, tips, table, per_square, radius):  # type: ignore[no-untyped-def]
    """Lowers z (rows, columns) float64 to the least of tips[n, 2] + the height of the cutter over
    each node within `radius` of tips[n, :2].

    place = (x0, y0, step): node [row, column] lies at x0 + column * step, y0 + row * step. The
    height at a distance r is read between table[k] and table[k + 1], k = r * r * per_square.
    """
    x0, y0, step = place
    reach = radius * radius
    for band in prange(BANDS):
        for n in range(tips.shape[0]):
            x, y, tip = tips[n, 0], tips[n, 1], tips[n, 2]
            first = max(0, math.ceil((y - radius - y0) / step))
            end = min(z.shape[0], math.floor((y + radius - y0) / step) + 1)
            start = first + (band - first) % BANDS
            for row in range(start, end, BANDS):
                dy = y0 + row * step - y
                half = math.sqrt(max(reach - dy * dy, 0.0))
                left = max(0, math.ceil((x - half - x0) / step))
                right = min(z.shape[1], math.floor((x + half - x0) / step) + 1)
                for column in range(left, right):
                    dx = x0 + column * step - x
                    k = (dx * dx + dy * dy) * per_square
                    i = int(k)
                    if i + 1 < table.size:
                        height = table[i] + (table[i + 1] - table[i]) * (k - i)
                        z[row, column] = min(z[row, column], tip + height)
