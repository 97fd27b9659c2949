"""A face that was measured: how high it stands where.

Frame: that of the blank, millimetres, heights above the face's Z 0. Between the places measured
the face is taken as flat triangles, outside them as the plane that fits all best.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.job.model import Surface

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Heights `at_origin` + `slope` · (x, y)."""

    at_origin: float
    slope: tuple[float, float]

    @classmethod
    def through(cls, surface: Surface) -> Plane:
        """The plane that fits the places measured best, by least squares."""
        places = np.array(surface.places)
        columns = np.column_stack([np.ones(len(places)), places])
        fitted = np.linalg.lstsq(columns, np.array(surface.heights), rcond=None)[0]
        return cls(at_origin=float(fitted[0]), slope=(float(fitted[1]), float(fitted[2])))

    def at(self, places: FloatArray) -> FloatArray:
        """(n,) heights at (n, 2) places."""
        return np.asarray(self.at_origin + places @ np.array(self.slope))


def heights_at(surface: Surface, spots: FloatArray) -> FloatArray:
    """(n,) heights of the face at (n, 2) spots."""
    from scipy.interpolate import LinearNDInterpolator  # a tenth of a second, seldom wanted

    plane, places = Plane.through(surface), np.array(surface.places)
    off = LinearNDInterpolator(places, np.array(surface.heights) - plane.at(places), fill_value=0.0)
    return np.asarray(plane.at(spots) + off(spots))
