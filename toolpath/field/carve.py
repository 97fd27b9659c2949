"""What is left of a surface at single places when a cutter passed over it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.field import kernels

FloatArray = NDArray[np.float64]

_ENTRIES = 20_000
"""Of the table of a cutter over the square of the radius."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nodes:
    """Heights `z` (rows, columns) float64 at x0 + column * step, y0 + row * step, mm."""

    x0: float
    y0: float
    step: float
    z: FloatArray = field(repr=False)

    @classmethod
    def over(cls, bounds: tuple[float, float, float, float], step: float, z: float) -> Nodes:
        """Nodes over a box (x0, y0, x1, y1), all at one height."""
        rows = int(np.ceil((bounds[3] - bounds[1]) / step)) + 1
        columns = int(np.ceil((bounds[2] - bounds[0]) / step)) + 1
        return cls(x0=bounds[0], y0=bounds[1], step=step, z=np.full((rows, columns), z))

    def places(self) -> FloatArray:
        """(rows * columns, 2) where they lie, row by row."""
        rows, columns = self.z.shape
        x = self.x0 + np.arange(columns) * self.step
        y = self.y0 + np.arange(rows) * self.step
        return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def carve(nodes: Nodes, tips: FloatArray, rise: FloatArray, radius: float) -> None:
    """Lowers nodes, in place, to what a cutter leaves that stood at tips (n, 3).

    `rise` (m,) is its height above the tip at the radii `radii_of(radius)`. Right to the table's
    step (a hundredth of a micrometre but at the rim of a round cutter); between tips
    nothing is cut, so give them nearer than the nodes.
    """
    if len(tips):
        place = (float(nodes.x0), float(nodes.y0), float(nodes.step))
        per_square = (len(rise) - 1) / radius**2
        table = np.ascontiguousarray(rise, dtype=np.float64)
        kernels.carve(nodes.z, place, np.ascontiguousarray(tips), table, per_square, float(radius))


def radii_of(radius: float) -> FloatArray:
    """The radii at which `carve` wants the height of a cutter."""
    return np.asarray(radius * np.sqrt(np.linspace(0.0, 1.0, _ENTRIES + 1)), dtype=np.float64)
