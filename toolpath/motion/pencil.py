"""Arcs through two points that pass a row of gates: the pencil of circles of the two points.

Frame: the plane of the points, x right and y up, millimetres. A gate is a short straight across a
path; of all arcs from one point to another those through a gate have their bulge (the tangent of a
quarter of the angle, positive counter-clockwise) between those of the two arcs through its posts,
as arcs of a pencil do not cross (elementary). So the arcs through all gates are an interval.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RADIUS_LIMIT = 10_000.0
"""Arcs larger than this (mm) are left as they are; their centres would lose decimals."""

BULGE_LIMIT = 1.0 + 1e-7
"""Arcs turn by a half at most; the excess is for rounding."""

_SLACK = 1e-4
"""Rounding of distances, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gates:
    """Gates across a path: `spots` (g, 2) on it, unit vectors to its left `across` (g, 2), and how
    far each reaches to the right and to the left (g,), mm."""

    spots: FloatArray = field(repr=False)
    across: FloatArray = field(repr=False)
    right: FloatArray = field(repr=False)
    left: FloatArray = field(repr=False)

    def posts(self, first: int, last: int) -> tuple[FloatArray, FloatArray]:
        """Both ends of the gates from one to before another."""
        spots, across = self.spots[first:last], self.across[first:last]
        right, left = self.right[first:last, None], self.left[first:last, None]
        return spots - right * across, spots + left * across


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Arcs from each of some starts to each of some ends, (a, b): whether they pass the gates,
    their bulges, and how far they lie from the spots on average, mm."""

    good: BoolArray
    bulge: FloatArray
    off: FloatArray


def fit_through(gates: Gates, rows: tuple[int, int], starts: FloatArray, ends: FloatArray) -> Fit:
    """The arcs from starts (a, 2) to ends (b, 2) through the gates from one to before another.

    Of those that pass, the one nearest to the mean of those through the spots; none that is larger
    than `RADIUS_LIMIT` or turns by a half or more. The even gates weigh, the odd ones only bound:
    vertices, which lie on a curve, and middles of chords, which lie beside it.
    """
    first, last = rows
    spots = gates.spots[first:last]
    right, left = gates.posts(first, last)
    p, q = starts[:, None, None, :], ends[None, :, None, :]
    one, other = _bulges(p, q, right), _bulges(p, q, left)
    low = np.minimum(one, other).max(axis=2, initial=-BULGE_LIMIT)
    high = np.maximum(one, other).min(axis=2, initial=BULGE_LIMIT)
    even = spots[first % 2 :: 2]
    wanted = _bulges(p, q, even).mean(axis=2) if len(even) else np.zeros(low.shape)
    bulge = np.clip(wanted, low, high)
    chord = np.hypot(*(q - p)[:, :, 0].transpose(2, 0, 1))
    good = (
        (low <= high)
        & (chord > _SLACK)
        & (chord * (1.0 + bulge * bulge) <= 4.0 * RADIUS_LIMIT * np.abs(bulge))
    )
    return _verified(gates, rows, (p, q), (good, bulge))


def _bulges(p: FloatArray, q: FloatArray, x: FloatArray) -> FloatArray:
    """(a, b, g) bulges of the arcs from p to q through x: at x they turn from the one to the other
    by half their angle (inscribed angle, Euclid III.20)."""
    to, on = x - p, q - x
    cross = to[..., 0] * on[..., 1] - to[..., 1] * on[..., 0]
    dot = to[..., 0] * on[..., 0] + to[..., 1] * on[..., 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = cross / (np.hypot(cross, dot) + dot)
    return np.asarray(np.nan_to_num(found, nan=0.0), dtype=np.float64)


def _verified(
    gates: Gates,
    rows: tuple[int, int],
    ends: tuple[FloatArray, FloatArray],
    found: tuple[BoolArray, FloatArray],
) -> Fit:
    """Those of the arcs that do keep within the gates' reach of all spots, by distance."""
    (first, last), (p, q), (good, bulge) = rows, ends, found
    off = np.zeros(good.shape)
    a, b = np.nonzero(good)
    if not len(a) or last <= first:
        return Fit(good=good, bulge=bulge, off=off)
    spots, right, left = _with_halves(gates, first, last)
    aside = offsets_of(p[a, 0, 0], q[0, b, 0], bulge[a, b], spots)
    within = (aside >= -right - _SLACK) & (aside <= left + _SLACK)
    good[a, b] = within.all(axis=1)
    even = np.abs(aside[:, first % 2 : last - first : 2])
    off[a, b] = even.mean(axis=1) if even.shape[1] else 0.0
    return Fit(good=good, bulge=bulge, off=off)


def _with_halves(gates: Gates, first: int, last: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Spots and reaches of gates, and those half way to the ones before and behind: an arc that
    begins or ends within a chord is most off between there and the vertex."""
    near = np.array([[first - 1, first], [last - 1, last]])
    spots = gates.spots[near].mean(axis=1)
    right, left = gates.right[near].max(axis=1), gates.left[near].max(axis=1)
    return (
        np.concatenate([gates.spots[first:last], spots]),
        np.concatenate([gates.right[first:last], right]),
        np.concatenate([gates.left[first:last], left]),
    )


def offsets_of(p: FloatArray, q: FloatArray, bulge: FloatArray, spots: FloatArray) -> FloatArray:
    """(m, g) by how much arcs from p (m, 2) to q (m, 2) lie to the left of spots (g, 2), mm."""
    chord = q - p
    length = np.hypot(chord[:, 0], chord[:, 1])[:, None]
    ahead = chord / length
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    offset = spots[None] - ((p + q) / 2.0)[:, None]
    up = np.einsum("mgi,mi->mg", offset, normal)
    along = np.einsum("mgi,mi->mg", offset, ahead)
    safe = np.where(bulge == 0.0, 1.0, bulge)[:, None]
    aside = length * (1.0 - safe * safe) / (4.0 * safe)
    radius = length * (1.0 + safe * safe) / (4.0 * np.abs(safe))
    bent = np.sign(safe) * (np.hypot(along, up - aside) - radius)
    return np.asarray(np.where(bulge[:, None] == 0.0, -up, bent), dtype=np.float64)
