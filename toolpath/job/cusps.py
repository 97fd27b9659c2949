"""How far passes lie apart that leave ridges of a height between them.

A round end of radius R leaves R - sqrt(R^2 - (s / 2)^2) at a distance s along the surface, the
flanks of a vee half of what is over its tip by the tangent of half its angle, and a flat end steps
of s times the sine of the slope (all elementary geometry).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.job.spindle import Cutter, Shape

FloatArray = NDArray[np.float64]


def level_step(cutter: Cutter, cusp: float) -> float:
    """The distance of passes on a level, mm; at most the stepover of the cutter."""
    return float(plan_step(cutter, cusp, np.zeros(1))[0])


def plan_step(cutter: Cutter, cusp: float, slope: FloatArray) -> FloatArray:
    """The distance in plan of passes beside which the surface rises by `slope` (tangent)."""
    cosine = 1.0 / np.hypot(1.0, slope)
    flat, along = _flat_width(cutter), _round_step(cutter, cusp)
    steps = cusp / np.maximum(slope * cosine, 1e-12)
    found = np.maximum(along * cosine, np.minimum(flat + along, steps) if flat > 0.0 else 0.0)
    return np.asarray(np.minimum(found, cutter.stepover * cutter.diameter))


def _flat_width(cutter: Cutter) -> float:
    """Diameter of what is level at the end of a cutter, mm."""
    if cutter.shape is Shape.VEE:
        return cutter.tip_diameter
    return cutter.diameter - 2.0 * cutter.point_length


def _round_step(cutter: Cutter, cusp: float) -> float:
    """The distance along the surface for what is round or slanted at the end of a cutter."""
    if cutter.shape is Shape.VEE:
        return 2.0 * cusp * math.tan(cutter.angle / 2.0)
    round_ = cutter.point_length
    return 2.0 * math.sqrt(max(cusp * (2.0 * round_ - cusp), 0.0))
