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

EVERY = 4
"""Gates from one vertex to the next."""

BETWEEN = 0.00032
"""An arc may bulge by so much between two gates, mm: a little over what an arc of chords that lie
0.005 off it does, a sixteenth of that."""

_MUCH = 1e9
"""A bulge far over any that is taken, for points behind both ends."""

_SLACK = 1e-6
"""Rounding of distances, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gates:
    """Gates across a path: `spots` (g, 2) on it, unit vectors to its left `across` (g, 2), and how
    far each reaches to the right and to the left (g,), mm."""

    spots: FloatArray = field(repr=False)
    across: FloatArray = field(repr=False)
    right: FloatArray = field(repr=False)
    left: FloatArray = field(repr=False)
    apart: FloatArray = field(repr=False)
    """How far each lies from the next (g,), mm."""

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
    than `RADIUS_LIMIT` or turns by more than a half. Gates 0, `EVERY`, and so on weigh, the others
    only bound: vertices lie on a curve, and places on chords beside it.
    """
    p, q = starts[:, None, None, :], ends[None, :, None, :]
    return _verified(gates, rows, (p, q), _passing(gates, rows, p, q))


def may_pass(gates: Gates, rows: tuple[int, int], starts: FloatArray, ends: FloatArray) -> bool:
    """Whether any arc of `fit_through` seems to pass, before those found are looked at again."""
    good, _ = _passing(gates, rows, starts[:, None, None, :], ends[None, :, None, :])
    return bool(good.any())


def _passing(
    gates: Gates, rows: tuple[int, int], p: FloatArray, q: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """(a, b) which arcs from p (a, 1, 1, 2) to q (1, b, 1, 2) pass the gates, and their bulges."""
    first, last = rows
    spots = gates.spots[first:last]
    right, left = gates.posts(first, last)
    weighty = spots[-first % EVERY :: EVERY]
    every = _bulges(p, q, np.concatenate([right, left, weighty]))
    one, other, through = np.split(every, [len(right), 2 * len(right)], axis=2)
    low = np.minimum(one, other).max(axis=2, initial=-BULGE_LIMIT)
    high = np.maximum(one, other).min(axis=2, initial=BULGE_LIMIT)
    wanted = through.mean(axis=2) if len(weighty) else np.zeros(low.shape)
    bulge = np.clip(wanted, low, high)
    chord = np.hypot(*(q - p)[:, :, 0].transpose(2, 0, 1))
    apart = float(gates.apart[first:last].max(initial=0.0))
    width, round_ = chord * (1.0 + bulge * bulge), 4.0 * np.abs(bulge)  # radius: width / round_
    good = (low <= high) & (chord > _SLACK) & (width <= RADIUS_LIMIT * round_)
    good &= apart**2 * round_ <= 8.0 * BETWEEN * width
    return good, bulge


def _bulges(p: FloatArray, q: FloatArray, x: FloatArray) -> FloatArray:
    """(a, b, g) bulges of the arcs from p to q through x: at x they turn from the one to the other
    by half their angle (inscribed angle, Euclid III.20)."""
    to, on = x - p, q - x
    cross = to[..., 0] * on[..., 1] - to[..., 1] * on[..., 0]
    dot = to[..., 0] * on[..., 0] + to[..., 1] * on[..., 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = cross / (np.hypot(cross, dot) + dot)
    found[np.isnan(found)] = 0.0
    return np.asarray(np.clip(found, -_MUCH, _MUCH, out=found), dtype=np.float64)


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
    aside = offsets_of(p[a, 0, 0], q[0, b, 0], bulge[a, b], gates.spots[first:last])
    right, left = gates.right[first:last], gates.left[first:last]
    within = (aside >= -right - _SLACK) & (aside <= left + _SLACK)
    good[a, b] = within.all(axis=1)
    weighty = np.abs(aside[:, -first % EVERY :: EVERY])
    off[a, b] = weighty.mean(axis=1) if weighty.shape[1] else 0.0
    return Fit(good=good, bulge=bulge, off=off)


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
