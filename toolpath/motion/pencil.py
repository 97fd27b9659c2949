"""Arcs through two points that pass a row of gates: the pencil of circles of the two points.

Frame: the plane of the points, x right and y up, millimetres. A gate is a short straight across a
path; of all arcs from one point to another those through a gate have their bulge (the tangent of a
quarter of the angle, positive counter-clockwise) between those of the two arcs through its posts,
as arcs of a pencil do not cross (elementary). So the arcs through all gates are an interval.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels

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

_LIMITS = (BULGE_LIMIT, RADIUS_LIMIT, BETWEEN, _SLACK, _MUCH)


@dataclass(frozen=True, kw_only=True, eq=False)
class Gates:
    """Gates across a path: `spots` (g, 2) on it, unit vectors to its left `across` (g, 2), and how
    far each reaches to the right and to the left (g,), mm."""

    spots: FloatArray = field(repr=False)
    across: FloatArray = field(repr=False)
    right: FloatArray = field(repr=False)
    left: FloatArray = field(repr=False)
    apart: FloatArray = field(repr=False)
    """How far each lies from the next (g,), mm."""

    @cached_property
    def table(self) -> FloatArray:
        """(g, 9) a spot, its post to the right and to the left, both reaches, the way on."""
        right, left = self.right[:, None], self.left[:, None]
        posts = self.spots - right * self.across, self.spots + left * self.across
        return np.concatenate([self.spots, *posts, right, left, self.apart[:, None]], axis=1)


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
    only bound: vertices lie on a curve, and places on chords beside it. An arc that is found is
    looked at again, by its distance from the spots.
    """
    found = np.empty((len(starts), len(ends), 2))
    kernels.arcs_through(gates.table, (*rows, EVERY), starts, ends, _LIMITS, found)
    good = ~np.isnan(found[:, :, 0])
    return Fit(good=good, bulge=found[:, :, 0], off=found[:, :, 1])
