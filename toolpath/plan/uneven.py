"""A face that was measured: how it tilts and bulges, and what of it a skim leaves.

Frame: page frame of the face, millimetres. The tilt is the least-squares plane through the places
measured, the crown what the middle stands above it. Between the places the face is taken as flat
triangles, outside them as the plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Job, Skim, Surface
from toolpath.units import show_area, show_mm, show_place

FloatArray = NDArray[np.float64]

ACROSS = 200
"""Cells along the longer side of the blank by which it is reckoned what stays uncut."""
_LEVEL = 0.005
"""Tilts and crowns below this are not worth a word, mm."""


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


def uneven_notes(job: Job, cut: Skim, blank: BaseGeometry) -> list[str]:
    """What the measured face means for its skim; nothing where it was not measured."""
    surface = job.surfaces.get(cut.face)
    if surface is None:
        return []
    plane = Plane.through(surface)
    places, heights = np.array(surface.places), np.array(surface.heights)
    off = heights - plane.at(places)
    x0, y0, x1, y1 = blank.bounds
    fall = [plane.slope[0] * (x1 - x0), plane.slope[1] * (y1 - y0)]
    unit = job.unit
    words = [
        f"the face was measured at {len(places)} places: {show_mm(float(heights.min()), unit)} to "
        f"{show_mm(float(heights.max()), unit)} above Z 0"
    ]
    if max(map(abs, fall)) > _LEVEL:
        tilt = math.degrees(math.atan(math.hypot(*plane.slope)))
        words.append(
            f"it tilts by {show_mm(fall[0], unit)} along x and {show_mm(fall[1], unit)} along y "
            f"over the blank ({tilt:.2f} degrees)"
        )
    if float(np.abs(off).max()) > _LEVEL:
        worst = int(np.abs(off).argmax())
        words.append(
            f"{show_mm(float(off[worst]), unit)} off that plane at "
            f"{show_place(*surface.places[worst], unit)}"
        )
    area, deepest = stays_uncut(surface, plane, blank, cut.depth)
    if area > 0.0:
        words.append(
            f"about {show_area(area, unit)} lie lower than the new face, by up to "
            f"{show_mm(deepest, unit)}, and stay uncut: skim deeper for a whole face"
        )
    return ["; ".join(words)]


def stays_uncut(
    surface: Surface, plane: Plane, blank: BaseGeometry, depth: float
) -> tuple[float, float]:
    """mm² of the blank that lie lower than `depth` below Z 0, and by how much at most."""
    from scipy.interpolate import LinearNDInterpolator  # a tenth of a second, seldom wanted

    x0, y0, x1, y1 = blank.bounds
    cell = max(x1 - x0, y1 - y0) / ACROSS
    x, y = np.meshgrid(np.arange(x0 + cell / 2, x1, cell), np.arange(y0 + cell / 2, y1, cell))
    spots = np.column_stack([x.ravel(), y.ravel()])
    spots = spots[shapely.contains_xy(blank, *spots.T)]
    places, base = np.array(surface.places), plane.at(np.array(surface.places))
    off = LinearNDInterpolator(places, np.array(surface.heights) - base, fill_value=0.0)
    low = -depth - (plane.at(spots) + off(spots))
    below = low[low > 0.0]
    return float(below.size) * cell**2, float(below.max(initial=0.0))
