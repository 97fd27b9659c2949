"""Compiled loop over arcs through gates: arrays in, arrays out, no checks."""

from __future__ import annotations

import math

import numpy as np

from toolpath.field.kernels.compiled import compiled, inner


@inner(inlined=True)
def _bulge(px, py, qx, qy, x, y, most):  # type: ignore[no-untyped-def]
    """The bulge of the arc from p to q through a place: there it turns from the one to the other
    by half its angle (inscribed angle, Euclid III.20)."""
    ax, ay, bx, by = x - px, y - py, qx - x, qy - y
    cross, dot = ax * by - ay * bx, ax * bx + ay * by
    under = math.sqrt(cross * cross + dot * dot) + dot
    if under > 0.0:
        return min(max(cross / under, -most), most)
    return 0.0 if cross == 0.0 else math.copysign(most, cross)


@inner()
def _interval(gates, rows, chord, limits):  # type: ignore[no-untyped-def]
    """Whether arcs from p to q pass all gates, and the bulge of the one to take."""
    px, py, qx, qy = chord
    bulges, radius, between, slack, most = limits
    low, high = -bulges, bulges
    through, weighty, apart = 0.0, 0, 0.0
    for g in range(rows[0], rows[1]):
        one = _bulge(px, py, qx, qy, gates[g, 2], gates[g, 3], most)
        other = _bulge(px, py, qx, qy, gates[g, 4], gates[g, 5], most)
        low, high = max(low, min(one, other)), min(high, max(one, other))
        if low > high:
            return False, 0.0
        if g % rows[2] == 0:
            through += _bulge(px, py, qx, qy, gates[g, 0], gates[g, 1], most)
            weighty += 1
        apart = max(apart, gates[g, 8])
    bulge = min(max(through / max(weighty, 1), low), high)
    length = math.hypot(qx - px, qy - py)
    width, turned = length * (1.0 + bulge * bulge), 4.0 * abs(bulge)  # radius: width / turned
    good = length > slack and width <= radius * turned
    return good and apart * apart * turned <= 8.0 * between * width, bulge


@inner()
def _off(gates, rows, chord, bulge, slack):  # type: ignore[no-untyped-def]
    """How far an arc lies from the weighty spots on average; -1 where it leaves a gate's reach."""
    px, py, qx, qy = chord
    length = math.hypot(qx - px, qy - py)
    ax, ay = (qx - px) / length, (qy - py) / length
    aside = 0.0 if bulge == 0.0 else length * (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = 0.0 if bulge == 0.0 else length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    total, weighty = 0.0, 0
    for g in range(rows[0], rows[1]):
        x, y = gates[g, 0] - (px + qx) / 2.0, gates[g, 1] - (py + qy) / 2.0
        left = -ay * x + ax * y
        if bulge == 0.0:
            left = -left
        else:
            left = math.copysign(1.0, bulge) * (math.hypot(ax * x + ay * y, left - aside) - radius)
        if left < -gates[g, 6] - slack or left > gates[g, 7] + slack:
            return -1.0
        if g % rows[2] == 0:
            total += abs(left)
            weighty += 1
    return total / max(weighty, 1)


@compiled()
def arcs_through(gates, rows, starts, ends, limits, found):  # type: ignore[no-untyped-def]
    """found (a, b, 2): the bulge of the arc from each of the starts (a, 2) to each of the ends
    (b, 2) through the gates, and how far it lies off the spots; NaN where none passes.

    gates (n, 9): a spot, its post to the right and to the left, the reach to either, the way to the
    next; rows = from which, to before which, and of which multiples the spots weigh; limits =
    greatest bulge and radius, how far an arc may bulge between two gates, rounding, and a bulge far
    over any that is taken.
    """
    for i in range(starts.shape[0]):
        for j in range(ends.shape[0]):
            chord = (starts[i, 0], starts[i, 1], ends[j, 0], ends[j, 1])
            good, bulge = _interval(gates, rows, chord, limits)
            off = _off(gates, rows, chord, bulge, limits[3]) if good else -1.0
            found[i, j, 0] = bulge if off >= 0.0 else np.nan
            found[i, j, 1] = off if off >= 0.0 else np.nan
