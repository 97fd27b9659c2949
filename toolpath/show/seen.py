"""A face as the maker sees it on the machine, measured from that face's zero.

Pictures are drawn in these coordinates: they are the X and Y that the machine shows, so a mirror
is in the numbers and never in the lettering.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.frames import Frame, bounds_of
from toolpath.job.model import Job, Side

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The map from the blank frame to what is seen of one face: seen = mirror * (x, y) + shift.

    `low` is the lower left corner of the blank's bounding box as seen, `size` its width and
    height; lengths mm.
    """

    side: Side
    mirror: tuple[float, float]
    shift: tuple[float, float]
    low: tuple[float, float]
    size: tuple[float, float]
    thickness: float

    def xy(self, points: FloatArray) -> FloatArray:
        """(n, 2) points of the blank frame as seen."""
        return np.asarray(points, dtype=np.float64) * self.mirror + self.shift

    def point(self, x: float, y: float) -> tuple[float, float]:
        """One point of the blank frame as seen."""
        return x * self.mirror[0] + self.shift[0], y * self.mirror[1] + self.shift[1]

    def geometry(self, shape: BaseGeometry) -> BaseGeometry:
        """A shapely geometry of the blank frame as seen."""
        return shapely.transform(shape, self.xy)

    def height(self, z: float) -> float:
        """Height above this face of a height z of the blank frame; negative into the blank."""
        return z if self.side is Side.FRONT else -self.thickness - z


def seen_from(job: Job, side: Side) -> Seen:
    """How `side` is seen on the machine, from its zero: X and Y as in the programs of that face."""
    frame = Frame.of(job, side)
    corners = frame.xy_to_program(np.array(bounds_of(job.blank.outline)))
    low, high = corners.min(axis=0), corners.max(axis=0)
    return Seen(
        side=side,
        mirror=frame.scale,
        shift=frame.shift,
        low=(float(low[0]), float(low[1])),
        size=(float(high[0] - low[0]), float(high[1] - low[1])),
        thickness=job.blank.thickness,
    )
