"""Inside corners that a pocket opens for square parts, as the job says: where its cutter may run
past the outline.

Blank frame, millimetres. Errs outward: the disc of the thinnest cutter that touches each corner of
the outline from inside, also in corners too sharp to be opened.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Corners, Pocket
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


def with_corners(cut: Pocket, area: BaseGeometry) -> BaseGeometry:
    """An outline of a pocket, as an area, with what its cutter takes beyond it in the corners."""
    if cut.corners is not Corners.OVER_CUT:
        return area
    radius = min(cutter.radius for cutter in cut.cutters)
    parts = [part for part in shapely.get_parts(area) if isinstance(part, Polygon)]
    middles = np.vstack([_middles(part, radius) for part in parts] or [np.empty((0, 2))])
    reach = shapely.distance(area.boundary, shapely.points(middles))
    past = middles[reach < radius - TOLERANCES.flatten]
    discs = shapely.buffer(shapely.points(past), radius + TOLERANCES.cover, quad_segs=32)
    return shapely.union(area, shapely.union_all(discs))


def _middles(part: Polygon, radius: float) -> FloatArray:
    """(n, 2) on the bisector of each inside corner, a radius from its point."""
    loop = shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1]
    back, ahead = np.roll(loop, 1, axis=0) - loop, np.roll(loop, -1, axis=0) - loop
    back, ahead = back / np.hypot(*back.T)[:, None], ahead / np.hypot(*ahead.T)[:, None]
    inside = ahead[:, 0] * back[:, 1] - ahead[:, 1] * back[:, 0] > TOLERANCES.rounding
    bisector = (back + ahead)[inside]
    return np.asarray(loop[inside] + radius * bisector / np.hypot(*bisector.T)[:, None])
