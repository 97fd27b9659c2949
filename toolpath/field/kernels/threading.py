"""Compiled loops over heights along a path: arrays in, arrays out, no checks."""

from __future__ import annotations

import numpy as np

from toolpath.field.kernels.compiled import compiled


@compiled()
def thread_through(along, low, high, must, z):  # type: ignore[no-untyped-def]
    """The heights z (n,) of few places between which straights stay within low to high at all
    places of a path; NaN at places that need no corner.

    along (n,) the way to each place, never falling; `must` (n,) says where a corner is wanted, 2
    where a new path begins. Greedy: each straight goes as far as one does.
    """
    n = along.size
    first = 0
    for k in range(n):
        z[k] = np.nan
    z[0] = 0.5 * (low[0] + high[0])
    least, most = -np.inf, np.inf
    k = 1
    while k < n:
        if must[k] == 2:
            first, least, most = k, -np.inf, np.inf
            z[k] = 0.5 * (low[k] + high[k])
            k += 1
            continue
        step = along[k] - along[first]
        if step <= 0.0:
            z[k] = 0.5 * (low[k] + high[k])
            first, least, most = k, -np.inf, np.inf
            k += 1
            continue
        new_least = max(least, (low[k] - z[first]) / step)
        new_most = min(most, (high[k] - z[first]) / step)
        if new_least > new_most:
            last = k - 1
            z[last] = z[first] + 0.5 * (least + most) * (along[last] - along[first])
            z[last] = min(max(z[last], low[last]), high[last])
            first, least, most = last, -np.inf, np.inf
            continue
        least, most = new_least, new_most
        ends = must[k] == 1 or k + 1 == n or must[k + 1] == 2
        if ends:
            z[k] = min(max(z[first] + 0.5 * (least + most) * step, low[k]), high[k])
            first, least, most = k, -np.inf, np.inf
        k += 1
