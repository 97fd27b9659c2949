"""Which part of a room is opened first: a slot along its middle, where it is long for its width.

Frame: cells of `Near`. From such a slot closed loops grow that come to all walls at about the same
time, so that little is left for ways from wall to wall. Source of the middle: places where the
distance from the edge has no clear direction of growth, so that two or more walls are about as
near and face each other (the medial axis, with the branches into corners left out).
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt, gaussian_filter

from toolpath.plan.near import FieldArray

SMOOTH = 3.0
"""Distances are smoothed over so many cells before their slope is taken."""
FACING = 0.45
"""The middle is where the distance grows by less than this a cell: walls that meet at more than
some 55 degrees have none."""
ROOMY = 18.0
"""... and where there is more room than this, in half widths of the slot."""


def slot_in(depth: FieldArray, room: FieldArray, half: float) -> FieldArray:
    """The part of a room within `half` cells of its middle, as distances to its edge.

    depth : how far each cell lies within where the centre may be; room : the same of the room.
    """
    smooth = gaussian_filter(np.maximum(depth, -SMOOTH), SMOOTH)
    down, across = np.gradient(smooth)
    middle = (np.hypot(down, across) < FACING) & (depth > ROOMY * half)
    if not middle.any():
        return np.full(room.shape, -1.0, dtype=np.float32)
    away = distance_transform_edt(~middle)
    return np.asarray(np.minimum(room, half - away), dtype=np.float32)
