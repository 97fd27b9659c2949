"""A triangle mesh as it is seen from above, as a ground.

Frame: x, y and z of the mesh, millimetres, z up.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels

FloatArray = NDArray[np.float64]

STEP = 0.05
"""From one sample to the next, mm, where `MOST_NODES` allow it."""
MOST_NODES = 2_000_000
_SLACK = 1e-9
_CORNERS = ((0, 0), (0, 1), (1, 0), (1, 1))
_STEEP = 6.0
"""Rise over run from which a square between four samples counts as a wall."""


def seen_from_above(corners: FloatArray) -> tuple[FloatArray, tuple[float, float]]:
    """The highest z over a grid of samples across the box of triangles (n, 3, 3).

    Returns the heights (rows, columns), -inf where nothing is seen, and the size along x and y
    from the first to the last sample. Where something stands up between four samples, all of them
    are lifted by what is missing, and where a wall passes between them to its top: it comes out
    wider, by at most a step.
    Raises ValueError where the triangles cover no area.
    """
    flat = corners.reshape(-1, 3)
    low, high = flat.min(axis=0), flat.max(axis=0)
    size = high[:2] - low[:2]
    if not (size > 0.0).all():
        raise ValueError("the mesh covers no area seen from above")
    step = max(STEP, math.sqrt(float(size[0] * size[1]) / MOST_NODES))
    columns, rows = (max(1, math.ceil(float(length) / step)) for length in size)
    # Cells are square, so the last row and column may lie a little beyond the mesh.
    place = (float(low[0]), float(low[1]), step)
    ordered = np.ascontiguousarray(corners[np.argsort(-corners[:, :, 2].max(axis=1))])
    z = np.full((rows + 1, columns + 1), -np.inf)
    kernels.nodes_of_triangles(ordered, place, _SLACK, z)
    cells = np.full((rows, columns), -np.inf)
    kernels.top_of_triangles(ordered, place, _SLACK, np.empty((3, 9, 3)), cells)
    return _lifted(z, cells, _STEEP * step), (columns * step, rows * step)


def _lifted(z: FloatArray, cells: FloatArray, wall: float) -> FloatArray:
    """The samples with those round a cell lifted by what it is higher than all four, or to its
    top where that is by more than `wall` higher than the lowest."""
    corners = [(slice(i, i + len(cells)), slice(j, j + cells.shape[1])) for i, j in _CORNERS]
    around = np.stack([z[corner] for corner in corners])
    steep = cells > around.min(axis=0) + wall
    with np.errstate(invalid="ignore"):
        missing = np.nan_to_num(np.maximum(cells - around.max(axis=0), 0.0), nan=0.0)
    found = z.copy()
    for corner in corners:
        np.maximum(found[corner], np.where(steep, cells, z[corner] + missing), out=found[corner])
    return found
