"""Polylines as lines and arcs, fitted once and walked at every level.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.arcfit import fit_arcs, moves_along
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import length_of, stretch

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Lines and arcs one after another: `edges` (k, 3) x, y, bulge; `length` mm."""

    edges: FloatArray = field(repr=False)
    length: float
    closed: bool = False


def curve_of(edges: FloatArray, *, closed: bool) -> Curve:
    """Edges with their length."""
    length = sum(move.length for move in moves_along(edges, 0.0, 0.0, 1.0, closed=closed))
    return Curve(edges=edges, length=length, closed=closed)


def curves_of(points: FloatArray, tolerance: float) -> tuple[Curve, ...]:
    """The curves that replace a polyline (n, 2) within `tolerance`, its ends exact.

    A polyline that ends where it begins gives two, so that no arc closes on itself.
    """
    total = length_of(points)
    if total <= ALLOWANCES.same:
        return ()
    parts = [points]
    if np.hypot(*(points[-1] - points[0])) <= ALLOWANCES.same:
        parts = [stretch(points, 0.0, total / 2.0), stretch(points, total / 2.0, total)]
    return tuple(
        curve_of(fit_arcs(part, closed=False, tolerance=tolerance), closed=False) for part in parts
    )


def total_length(curves: Sequence[Curve]) -> float:
    """Length of all curves, mm."""
    return sum(curve.length for curve in curves)
