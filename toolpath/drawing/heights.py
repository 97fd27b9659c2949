"""Measured tops of a piece as a surface of triangles: from a grid or from a list of points.

Frame: x right and y up over the piece's plan, z above its foot, millimetres.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.samples import check_file, first_line, read_table
from toolpath.drawing.shapes import show_point
from toolpath.errors import DrawingError

MOST_POINTS = 200_000
"""Longest list of points that is read: triangulating more takes many seconds."""

_HEADER = re.compile(r"\s*x\s*[,;\s]\s*y\s*[,;\s]\s*z\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A surface over a plan: `points` (v, 3) float64, mm, and `triangles` (t, 3) int64 into them,
    counter-clockwise seen from above, which do not overlap in plan. Both read-only."""

    points: NDArray[np.float64] = field(repr=False)
    triangles: NDArray[np.int64] = field(repr=False)

    def __post_init__(self) -> None:
        points = np.ascontiguousarray(self.points, dtype=np.float64)
        triangles = np.ascontiguousarray(self.triangles, dtype=np.int64)
        points.flags.writeable = triangles.flags.writeable = False
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "triangles", triangles)


def grid_surface(heights: NDArray[np.float64], size: tuple[float, float]) -> Surface:
    """The surface through a grid of heights, never lower than what is linear between them.

    Of the two ways to split the square between four samples into triangles the higher is taken.
    With corners a, b, c, d in turn and K = (a + c) - (b + d), the split along the diagonal a-c
    stands K v (1 - u) or K u (1 - v) above the bilinear patch and K min(u, v, 1 - u, 1 - v)
    above the other split: nowhere lower where K >= 0.

    Parameters
    ----------
    heights : (rows, columns) array
        mm, >= 0, row along +y; at least 2 by 2.
    size : (float, float)
        mm along x and y, from the first to the last column and row.
    """
    rows, columns = heights.shape
    x, y = np.meshgrid(np.linspace(0.0, size[0], columns), np.linspace(0.0, size[1], rows))
    points = np.column_stack([x.ravel(), y.ravel(), heights.ravel()])
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    a, b, c, d = first, first + 1, first + columns + 1, first + columns
    z = points[:, 2]
    along = z[a] + z[c] >= z[b] + z[d]
    triangles = np.empty((2, len(a), 3), dtype=np.int64)
    for place, corner in enumerate((a, b, np.where(along, c, d))):
        triangles[0, :, place] = corner
    for place, corner in enumerate((np.where(along, a, b), c, d)):
        triangles[1, :, place] = corner
    return Surface(points=points, triangles=triangles.reshape(-1, 3))


def is_point_list(path: Path) -> bool:
    """Whether a file is a CSV whose first line says ``x,y,z``.

    Raises
    ------
    DrawingError
        The file is missing, empty or too large.
    """
    check_file(path)
    return path.suffix.lower() == ".csv" and bool(_HEADER.fullmatch(first_line(path)))


def point_surface(path: Path, unit: float) -> Surface:
    """The surface over a list of measured points, whose plan is the hull around them.

    The triangles are those that avoid slivers (Delaunay's); between points they are linear.

    Parameters
    ----------
    path : Path
        A CSV file: the line ``x,y,z``, then one point a line.
    unit : float
        Millimetres per unit of the file.

    Raises
    ------
    DrawingError
        Not three numbers a line, fewer than 3 points or more than `MOST_POINTS`, a point measured
        twice, all on one line, or a height below 0.
    """
    try:
        points = _points(path, unit)
        return Surface(points=points, triangles=_triangles(points[:, :2]))
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error


def _points(path: Path, unit: float) -> NDArray[np.float64]:
    table = read_table(path, skip=1)
    if table.shape[1] != 3:
        raise DrawingError(f"its lines hold {table.shape[1]} numbers: give x, y and z in each")
    if not 3 <= len(table) <= MOST_POINTS:
        raise DrawingError(f"it holds {len(table)} points: from 3 to {MOST_POINTS} are read")
    if not (np.abs(table) < 1e9).all():
        place = int(np.argwhere(~(np.abs(table) < 1e9))[0, 0])
        raise DrawingError(f"point {place + 1} is not three numbers below 1e9: leave it out")
    low = int(np.argmin(table[:, 2]))
    if table[low, 2] < 0.0:
        raise DrawingError(
            f"point {low + 1} has z = {table[low, 2]:g}: measure heights from the foot of the "
            "piece, 0 or more"
        )
    if table[:, 2].max() <= 0.0:
        raise DrawingError("every z is 0: the piece has no height")
    return np.asarray(table * unit, dtype=np.float64)


def _triangles(plan: NDArray[np.float64]) -> NDArray[np.int64]:
    from scipy.spatial import Delaunay, QhullError

    order = np.lexsort(plan.T)
    again = np.flatnonzero((np.diff(plan[order], axis=0) == 0.0).all(axis=1))
    if len(again):
        _twice(plan, int(order[again[0]]), int(order[again[0] + 1]))
    try:
        found = Delaunay(plan - plan.mean(axis=0))
    except (QhullError, ValueError) as error:
        raise DrawingError("its points lie on one line: measure beside it too") from error
    if len(found.coplanar):
        _twice(plan, int(found.coplanar[0, 0]), int(found.coplanar[0, 2]))
    return _counter_clockwise(plan, np.asarray(found.simplices, dtype=np.int64))


def _twice(plan: NDArray[np.float64], first: int, second: int) -> None:
    one, two = sorted((first + 1, second + 1))
    raise DrawingError(
        f"points {one} and {two} lie at one place, {show_point(*plan[second])}: keep the higher"
    )


def _counter_clockwise(
    plan: NDArray[np.float64], triangles: NDArray[np.int64]
) -> NDArray[np.int64]:
    a, b, c = (plan[triangles[:, corner]] for corner in range(3))
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return np.where((doubled < 0.0)[:, None], triangles[:, ::-1], triangles)
