"""From the blank to the program frame of a face and back, worked out for the check alone.

The planner has its own; a test compares the two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.outline import Loop, arc_centre
from toolpath.job.model import Job, Side, TurnOver, Zero

FloatArray = NDArray[np.float64]

_ACROSS = {
    Zero.LOWER_LEFT: (0.0, 0.0),
    Zero.LOWER_RIGHT: (1.0, 0.0),
    Zero.UPPER_LEFT: (0.0, 1.0),
    Zero.UPPER_RIGHT: (1.0, 1.0),
    Zero.CENTRE: (0.5, 0.5),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """How a face is seen on the machine: program = sign * blank + shift, axis by axis.

    Turning a blank over about a line of the page turns two axes round (one of x and y, and z),
    so it is a rotation of the solid, although a drawing seen through it appears mirrored.
    """

    sign: FloatArray
    shift: FloatArray

    def to_program(self, points: FloatArray) -> FloatArray:
        """(..., 3) points of the blank frame, in the program frame."""
        return np.asarray(points * self.sign + self.shift, dtype=np.float64)

    def to_blank(self, points: FloatArray) -> FloatArray:
        """(..., 3) points of the program frame, in the blank frame."""
        return np.asarray((points - self.shift) * self.sign, dtype=np.float64)


def bounding_box(loop: Loop) -> tuple[float, float, float, float]:
    """x least, y least, x greatest, y greatest of a loop, its arcs by their true extremes."""
    corners = loop.points[:, :2]
    extremes = [corners]
    following = np.roll(corners, -1, axis=0)
    for start, end, bulge in zip(corners, following, loop.points[:, 2], strict=True):
        if bulge != 0.0:
            extremes.append(_arc_extremes(start, end, float(bulge)))
    every = np.concatenate(extremes)
    low, high = every.min(axis=0), every.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _arc_extremes(start: FloatArray, end: FloatArray, bulge: float) -> FloatArray:
    """The points of an arc that lie straight right, above, left of or below its centre."""
    centre, radius = arc_centre(start, end, bulge)
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    theta = 4.0 * math.atan(bulge)
    compass = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))
    found = [
        (centre[0] + radius * cx, centre[1] + radius * cy)
        for cx, cy in compass
        if ((math.atan2(cy, cx) - first) * math.copysign(1.0, theta)) % math.tau <= abs(theta)
    ]
    return np.array(found, dtype=np.float64).reshape(-1, 2)


def frame_of(job: Job, side: Side) -> Frame:
    """The program frame of a face of the job's blank, from the words of the job alone."""
    x0, y0, x1, y1 = bounding_box(job.blank.outline.outer)
    part_x, part_y = _ACROSS[job.zero.get(side, Zero.LOWER_LEFT)]
    zero_x, zero_y = part_x * (x1 - x0), part_y * (y1 - y0)
    if side is Side.FRONT:
        sign, shift = (1.0, 1.0, 1.0), (-x0, -y0, 0.0)
    elif job.blank.turn_over is TurnOver.LEFT_RIGHT:
        sign, shift = (-1.0, 1.0, -1.0), (x1, -y0, -job.blank.thickness)
    else:
        sign, shift = (1.0, -1.0, -1.0), (-x0, y1, -job.blank.thickness)
    return Frame(sign=np.array(sign), shift=np.array(shift) - np.array([zero_x, zero_y, 0.0]))
