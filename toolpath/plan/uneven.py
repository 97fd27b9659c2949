"""A face that was measured: how it tilts and bulges, and what of it a skim leaves.

Frame: page frame of the face, millimetres. The tilt is that of the plane that fits the places
measured best, the crown what the middle stands above it.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.uneven import Plane, heights_at
from toolpath.job.model import Job, Skim, Surface
from toolpath.units import show_area, show_mm, show_place

FloatArray = NDArray[np.float64]

ACROSS = 200
"""Cells along the longer side of the blank by which it is reckoned what stays uncut."""
_LEVEL = 0.005
"""Tilts and crowns below this are not worth a word, mm."""


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
    area, deepest = stays_uncut(surface, blank, cut.depth)
    if area > 0.0:
        words.append(
            f"about {show_area(area, unit)} lie lower than the new face, by up to "
            f"{show_mm(deepest, unit)}, and stay uncut: skim deeper for a whole face"
        )
    return ["; ".join(words)]


def stays_uncut(surface: Surface, blank: BaseGeometry, depth: float) -> tuple[float, float]:
    """mm² of the blank that lie lower than `depth` below Z 0, and by how much at most."""
    x0, y0, x1, y1 = blank.bounds
    cell = max(x1 - x0, y1 - y0) / ACROSS
    x, y = np.meshgrid(np.arange(x0 + cell / 2, x1, cell), np.arange(y0 + cell / 2, y1, cell))
    spots = np.column_stack([x.ravel(), y.ravel()])
    spots = spots[shapely.contains_xy(blank, *spots.T)]
    low = -depth - heights_at(surface, spots)
    below = low[low > 0.0]
    return float(below.size) * cell**2, float(below.max(initial=0.0))
