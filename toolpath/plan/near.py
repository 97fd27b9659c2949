"""How far every place lies from what a cutter walked so far: the stock, finer than any cell.

Frame: x, y of the blank frame, or its mirror image, millimetres; angles in radians. What was cut
is where the distance from the path is less than the cutter's radius. Linear between the middles of
cells a 25th of the radius wide, its edge is right to some 0.002 mm (measured; the distance is a
smooth function wherever the edge is).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.field import kernels

FloatArray = NDArray[np.float64]
FieldArray = NDArray[np.float32]
Mask = NDArray[np.bool_]

CELLS = 25
"""Cells in a radius."""
MOST = 8_000_000
"""Cells of a field; larger pockets get wider cells."""
FAR = np.float32(1e6)
"""Distance where nothing was walked."""
BEYOND = 6
"""Cells round what the cutter can reach."""
BAND = 2.5
"""Cells on both sides of an edge in which distances are exact."""
RIM_SLACK = 0.8
"""Stock no further within the rim than this, in cells, is not seen on ways through cleared room."""
_ANGLES = np.linspace(-math.pi / 2.0, math.pi / 2.0, 61)
RIM = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
"""Places on the leading half of a cutter's rim."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """Where cells lie: the middle of cell [0, 0] is at x0, y0."""

    x0: float
    y0: float
    size: float
    shape: tuple[int, int]

    @classmethod
    def over(cls, area: BaseGeometry, radius: float) -> Cells:
        """The cells round all that a cutter can reach from an area."""
        x0, y0, x1, y1 = area.bounds
        wide, high = x1 - x0 + 2.0 * radius, y1 - y0 + 2.0 * radius
        size = max(radius / CELLS, math.sqrt(wide * high / MOST))
        beyond = radius + BEYOND * size
        shape = math.ceil(high / size) + 2 * BEYOND + 2, math.ceil(wide / size) + 2 * BEYOND + 2
        return cls(x0=x0 - beyond, y0=y0 - beyond, size=size, shape=shape)

    def of(self, points: FloatArray) -> FloatArray:
        """(n, 2) places in cells."""
        return np.ascontiguousarray((points - [self.x0, self.y0]) / self.size)

    def back(self, places: FloatArray) -> FloatArray:
        """(n, 2) places in mm."""
        return np.asarray(places * self.size + [self.x0, self.y0])

    def inside(self, area: BaseGeometry) -> Mask:
        """Whether the middle of each cell lies in an area."""
        rows, columns = self.shape
        flips = np.zeros((rows, columns + 1), dtype=np.int32)
        for part in shapely.get_parts(area):
            if isinstance(part, Polygon):
                for loop in (part.exterior, *part.interiors):
                    _flip(flips, self.of(shapely.get_coordinates(loop)))
        return np.asarray(np.cumsum(flips, axis=1)[:, :columns] % 2 == 1)

    def depth(self, area: BaseGeometry) -> FieldArray:
        """How far each cell lies within an area, in cells, negative outside; exact near its edge
        and to a cell elsewhere."""
        inside = self.inside(area)
        if not inside.any():
            return np.full(self.shape, -FAR, dtype=np.float32)
        within = distance_transform_edt(inside) - 0.5
        found = np.where(inside, within, 0.5 - distance_transform_edt(~inside))
        row, column = np.nonzero(np.abs(found) < BAND)
        edge = area.boundary
        shapely.prepare(edge)
        spots = shapely.points(self.back(np.column_stack([column, row])))
        exact = shapely.distance(edge, spots) / self.size
        found[row, column] = np.where(inside[row, column], exact, -exact)
        return np.asarray(found, dtype=np.float32)


def _flip(flips: NDArray[np.int32], loop: FloatArray) -> None:
    """Counts, in each row, the edges of a loop that end before each column."""
    start, end = loop[:-1], loop[1:]
    low = np.ceil(np.minimum(start[:, 1], end[:, 1])).astype(np.intp)
    high = np.ceil(np.maximum(start[:, 1], end[:, 1])).astype(np.intp)
    count = high - low
    edge = np.repeat(np.arange(len(start)), count)
    row = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[edge]
    share = (row - start[edge, 1]) / (end[edge, 1] - start[edge, 1])
    column = np.ceil(start[edge, 0] + share * (end[edge, 0] - start[edge, 0])).astype(np.intp)
    within = (row >= 0) & (row < flips.shape[0])
    np.add.at(flips, (row[within], np.clip(column[within], 0, flips.shape[1] - 1)), 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Near:
    """Stock as distances from what was walked; `walked` changes as the cutter goes."""

    cells: Cells
    radius: float
    """Of the cutter, mm."""
    walked: FieldArray = field(repr=False)
    """(rows, columns) in cells."""

    @classmethod
    def fresh(cls, cells: Cells, radius: float, gone: BaseGeometry) -> Near:
        """Before the cutter walks; `gone` is cut already."""
        walked = np.full(cells.shape, FAR, dtype=np.float32)
        if not gone.is_empty:
            np.maximum(radius / cells.size - cells.depth(gone), 0.0, out=walked)
        return cls(cells=cells, radius=radius, walked=walked)

    @property
    def reach(self) -> float:
        """The radius in cells."""
        return self.radius / self.cells.size

    def copy(self) -> Near:
        """The same stock once more, to try something on."""
        return Near(cells=self.cells, radius=self.radius, walked=self.walked.copy())

    def window(self, box: tuple[float, float, float, float]) -> Near:
        """A copy of the stock within x0, y0, x1, y1, to try something on."""
        low, high = self.cells.of(np.array([box[:2], box[2:]]))
        rows, columns = self.cells.shape
        left, bottom = max(0, math.floor(low[0])), max(0, math.floor(low[1]))
        right, top = min(columns, math.ceil(high[0]) + 1), min(rows, math.ceil(high[1]) + 1)
        x0, y0 = self.cells.back(np.array([left, bottom], dtype=np.float64)).tolist()
        cells = replace(self.cells, x0=x0, y0=y0, shape=(top - bottom, right - left))
        return replace(self, cells=cells, walked=self.walked[bottom:top, left:right].copy())

    def beside(self, points: FloatArray) -> Near:
        """A copy of the stock round (n, 2) places, to walk there."""
        far = 2.0 * self.radius
        low, high = points.min(axis=0) - far, points.max(axis=0) + far
        return self.window((*low.tolist(), *high.tolist()))

    def sweep(self, points: FloatArray) -> None:
        """The cutter walks along (n, 2)."""
        kernels.sweep_near(self.walked, self.cells.of(points), self.reach + 3.0)

    def engaged(self, points: FloatArray, chip: float = 0.0, film: float = 0.0) -> FloatArray:
        """(n,) engaged angle as the cutter walks along (n, 2); chips thinner than `chip` mm from
        one place to the next are left out, and what lies no more than `film` mm within its rim."""
        angle = np.zeros(len(points))
        edge, rim = self.reach + chip / self.cells.size, self.reach - film / self.cells.size
        kernels.engaged_along(self.walked, self.cells.of(points), edge, rim, RIM, angle)
        return angle

    def clear(self, points: FloatArray, beside: float = 0.0) -> bool:
        """Whether the cutter, wider by `beside` mm all round, touches nothing at (n, 2), but for a
        hair at its rim."""
        reach = self.reach
        wide = reach + beside / self.cells.size
        return bool(
            kernels.clear_along(self.walked, self.cells.of(points), reach, wide - RIM_SLACK)
        )
