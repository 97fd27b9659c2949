"""Areas read off heights at the nodes of a grid.

Frame: that of the nodes, millimetres.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from contourpy import FillType, contour_generator
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def area_below(x: FloatArray, y: FloatArray, z: FloatArray, level: float) -> BaseGeometry:
    """Where heights z (rows, columns) over x (columns,) and y (rows,), linear between, lie at or
    below a level."""
    if float(z.min()) > level:
        return Polygon()
    capped = np.clip(z, level - 1.0, level + 1.0)
    drawn = contour_generator(x, y, capped, fill_type=FillType.OuterOffset)
    filled: Any = drawn.filled(level - 2.0, level + 1e-9)
    parts = []
    for corners, ends in zip(*filled, strict=True):
        loops = [corners[a:b] for a, b in pairwise(ends)]
        parts.append(Polygon(loops[0], loops[1:]))
    return shapely.union_all(shapely.make_valid(np.array(parts, dtype=object)))


def area_near(x: FloatArray, y: FloatArray, which: BoolArray, within: float) -> BaseGeometry:
    """Where the nearest of the chosen nodes (rows, columns) of an even grid is `within` reach."""
    if not which.any():
        return Polygon()
    away = ndimage.distance_transform_edt(~which, sampling=(y[1] - y[0], x[1] - x[0]))
    return area_below(x, y, np.asarray(away, dtype=np.float64), within)
