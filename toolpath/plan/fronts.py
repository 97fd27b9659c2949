"""Where stock stands and where a cutter may begin to go along it.

Frame: x, y in cells of `Near`. A front is where the centre would be if the rim just missed the
stock, walked with the stock on the right.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from contourpy import contour_generator
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from toolpath.plan.near import FieldArray, Mask, Near

FloatArray = NDArray[np.float64]

OFF = 1.5
"""How far the rim of a cutter on a front is from the stock, cells."""
LEAST = 4
"""Fronts of fewer places are none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """(n, 2) places in cells, the stock on the right; closed where it comes back to its start."""

    points: FloatArray = field(repr=False)
    closed: bool

    def begun_near(self, place: FloatArray) -> FloatArray:
        """The places from where it can be begun: its start, or where a closed one is nearest."""
        if not self.closed:
            return self.points
        first = int(np.hypot(*(self.points - place).T).argmin())
        return np.roll(self.points[:-1], -first, axis=0)


def to_take(room: FieldArray, reach: float, spare: FieldArray) -> Mask:
    """Cells that a cutter gets to with its centre further than `spare` within the room."""
    return np.asarray(distance_transform_edt(room < spare) <= reach)


def fronts_of(near: Near, room: FieldArray, wanted: Mask, every: int) -> list[Front]:
    """The fronts of all wanted stock, looked at in every so manyth cell."""
    stock = (near.walked[::every, ::every] > near.reach) & wanted[::every, ::every]
    if not stock.any():
        return []
    away = distance_transform_edt(~stock) * every
    found: list[Front] = []
    for line in contour_generator(z=away).lines(near.reach + OFF):
        found += _within(room, np.asarray(line) * every)
    return found


def _within(room: FieldArray, line: FloatArray) -> list[Front]:
    """The parts of a line along which the centre may be."""
    column, row = np.clip(np.round(line).astype(np.intp), 0, np.array(room.shape)[::-1] - 1).T
    good = room[row, column] > -0.7
    closed = bool(np.hypot(*(line[0] - line[-1])) < 1e-6)
    if good.all():
        return [Front(points=line, closed=closed)] if len(line) >= LEAST else []
    if closed:
        first = int(np.argmin(good))
        line, good = np.roll(line[:-1], -first, axis=0), np.roll(good[:-1], -first)
    rows = np.flatnonzero(good)
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    return [Front(points=line[run], closed=False) for run in runs if len(run) >= LEAST]
