"""Depths of the passes, and the height at which rapids cross."""

from __future__ import annotations

import math

from toolpath.job.model import Job, Side
from toolpath.plan.allowances import ALLOWANCES


def level_heights(depth: float, stepdown: float, top: float = 0.0) -> tuple[float, ...]:
    """Heights (negative, page frame) of equal passes no deeper than `stepdown` from depth `top`
    down; the last is -depth exactly."""
    count = max(1, math.ceil((depth - top) / stepdown - ALLOWANCES.same))
    return (*(-top - (depth - top) * (i + 1) / count for i in range(count - 1)), -depth)


def clear_height(job: Job, face: Side) -> float:
    """Height above the face at which rapids cross: the machine's, or more over a tall clamp.

    Over a clamp the cutter keeps the clearance, the path error and 1 mm.
    """
    beyond = job.check.clearance + job.machine.path_error + ALLOWANCES.rapid_above
    tall = [clamp.height + beyond for clamp in job.clamps if clamp.face is face]
    return max([job.machine.safe_height, *tall])
