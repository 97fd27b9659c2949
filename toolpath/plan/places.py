"""The places that an earlier cutter left, each of which is cleared by itself.

Frame: x, y of the blank frame or its mirror image, millimetres; cells of `Near`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, find_objects, label

from toolpath.plan.fronts import to_take
from toolpath.plan.near import Cells, FieldArray, Mask, Near

FloatArray = NDArray[np.float64]
Box = tuple[float, float, float, float]

JOINED = 1.0
"""Bits no further apart than this, in radii, are one place."""
LEAST = 3
"""Places of fewer cells are specks."""
HAIR = 0.02
"""Along walls less than this is not looked for, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Stock that stands together: which cells of a window, and their middles (n, 2), mm."""

    window: tuple[slice, slice]
    inside: Mask = field(repr=False)
    spots: FloatArray = field(repr=False)

    def mask(self, cells: Cells) -> Mask:
        """Its cells among all."""
        found = np.zeros(cells.shape, dtype=np.bool_)
        found[self.window] = self.inside
        return found

    def box(self, beyond: float) -> Box:
        """x0, y0, x1, y1 of what lies no further than `beyond` from it in x and in y."""
        low, high = self.spots.min(axis=0) - beyond, self.spots.max(axis=0) + beyond
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def holds(self, points: FloatArray, beyond: float) -> NDArray[np.bool_]:
        """(n,) which of some points lie in that box."""
        x0, y0, x1, y1 = self.box(beyond)
        x, y = points.T
        return np.asarray((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))

    def apart(self, place: FloatArray) -> float:
        """How far a place (2,) is from it."""
        return float(np.hypot(*(self.spots - place).T).min())


def places_of(near: Near, depth: FieldArray) -> list[Place]:
    """What stands of all that a cutter gets to whose centre may be where `depth` is positive."""
    spare = np.full(depth.shape, HAIR / near.cells.size, dtype=np.float32)
    stock = (near.walked > near.reach) & to_take(depth, near.reach, spare)
    if not stock.any():
        return []
    joined, _ = label(distance_transform_edt(~stock) <= JOINED * near.reach / 2.0)
    found: list[Place] = []
    for number, (rows, columns) in enumerate(find_objects(joined), start=1):
        window = rows, columns
        inside = (joined[window] == number) & stock[window]
        row, column = np.nonzero(inside)
        if len(row) >= LEAST:
            corner = np.array([columns.start, rows.start])
            spots = near.cells.back(np.column_stack([column, row]) + corner)
            found.append(Place(window=window, inside=inside, spots=spots))
    return found
