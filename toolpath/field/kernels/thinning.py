"""Compiled loops over the vertices of a path: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

from toolpath.field.kernels.compiled import compiled, inner


@inner()
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


@compiled()
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
