"""Closed outlines made of lines and true arcs, and regions with islands.

Frame: whatever plane the outline was drawn in, x right and y up, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

FloatArray = NDArray[np.float64]


class Err(Enum):
    """On which side of a true curve its chords may lie."""

    INWARD = "inward"
    """The flattened shape never reaches outside the true one: for what is removed."""
    OUTWARD = "outward"
    """The flattened shape never stays inside the true one: for what is kept."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loop:
    """A closed loop of lines and arcs.

    `points` is (n, 3): x, y and the bulge of the edge that starts there. The bulge is the
    tangent of a quarter of the arc's angle, positive counter-clockwise, 0 for a line (the
    convention of DXF polylines, group code 42). The last edge closes the loop. A full circle
    is two half-circle edges.
    """

    points: FloatArray = field(repr=False)

    def __post_init__(self) -> None:
        points = np.array(self.points, dtype=np.float64, order="C", copy=True)
        if points.ndim != 2 or points.shape[1] != 3 or len(points) < 2:
            raise ValueError(f"a loop needs (n, 3) points with n >= 2, not {points.shape}")
        if not np.isfinite(points).all():
            raise ValueError("a loop needs finite coordinates")
        points.flags.writeable = False
        object.__setattr__(self, "points", points)

    @classmethod
    def of_polygon(cls, xy: FloatArray | list[tuple[float, float]]) -> Loop:
        """A loop of straight edges through (n, 2) corners."""
        corners = np.asarray(xy, dtype=np.float64)
        return cls(points=np.column_stack([corners, np.zeros(len(corners))]))

    @property
    def area(self) -> float:
        """Signed area, mm², arcs exact; positive when counter-clockwise."""
        x, y, bulge = self.points.T
        nx, ny = np.roll(x, -1), np.roll(y, -1)
        chord_area = 0.5 * float(np.sum(x * ny - nx * y))
        theta = 4.0 * np.arctan(bulge)
        chord = np.hypot(nx - x, ny - y)
        with np.errstate(divide="ignore", invalid="ignore"):
            radius = np.where(bulge == 0.0, 0.0, chord * (1 + bulge**2) / (4 * np.abs(bulge)))
        return chord_area + float(np.sum(0.5 * radius**2 * (theta - np.sin(theta))))

    def reversed(self) -> Loop:
        """The same loop walked the other way."""
        x, y, bulge = self.points.T
        return Loop(points=np.column_stack([x[::-1], y[::-1], -np.roll(bulge[::-1], -1)]))

    def flatten(self, tolerance: float, err: Err) -> FloatArray:
        """(m, 2) corners whose chords stay within `tolerance` of the loop, on the side `err`.

        Whether a chord lies inside depends on which way the arc turns relative to the loop, so
        arcs that bulge outward get chords for INWARD and tangents for OUTWARD, arcs that bulge
        inward the other way round.
        """
        outward_turn = 1.0 if self.area >= 0 else -1.0
        pieces = []
        following = np.roll(self.points[:, :2], -1, axis=0)
        for (x, y, bulge), end in zip(self.points, following, strict=True):
            start = np.array([x, y])
            pieces.append(start[None, :])
            if bulge != 0.0:
                bulges_out = bulge * outward_turn > 0
                inscribed = bulges_out == (err is Err.INWARD)
                pieces.append(_arc_points(start, end, bulge, tolerance, inscribed))
        return np.concatenate(pieces)


def _arc_points(
    start: FloatArray, end: FloatArray, bulge: float, tolerance: float, inscribed: bool
) -> FloatArray:
    """Points between the ends of an arc: on it (chords) or outside it (tangents)."""
    theta = 4.0 * math.atan(bulge)
    centre, radius = arc_centre(start, end, bulge)
    ratio = min(max(tolerance / radius, 1e-12), 1.0)
    step = 2.0 * math.acos(1.0 - ratio) if inscribed else 2.0 * math.acos(1.0 / (1.0 + ratio))
    count = max(2, math.ceil(abs(theta) / step - 1e-9))
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    if inscribed:
        angles, reach = first + theta * np.arange(1, count) / count, radius
    else:
        angles = first + theta * (np.arange(count) + 0.5) / count
        reach = radius / math.cos(theta / (2 * count))
    return np.column_stack([centre[0] + reach * np.cos(angles), centre[1] + reach * np.sin(angles)])


def arc_centre(start: FloatArray, end: FloatArray, bulge: float) -> tuple[FloatArray, float]:
    """Centre (2,) and radius of the arc of that bulge between two points."""
    dx, dy = float(end[0] - start[0]), float(end[1] - start[1])
    factor = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = np.array(
        [(start[0] + end[0]) / 2.0 - dy * factor, (start[1] + end[1]) / 2.0 + dx * factor]
    )
    return centre, math.hypot(dx, dy) * (1.0 + bulge * bulge) / (4.0 * abs(bulge))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """An area of the plane: one outer loop (counter-clockwise) and its holes (clockwise)."""

    outer: Loop
    holes: tuple[Loop, ...] = ()

    def __post_init__(self) -> None:
        if self.outer.area < 0:
            object.__setattr__(self, "outer", self.outer.reversed())
        holes = tuple(h.reversed() if h.area > 0 else h for h in self.holes)
        object.__setattr__(self, "holes", holes)

    @property
    def area(self) -> float:
        """Area in mm², arcs exact."""
        return self.outer.area + sum(hole.area for hole in self.holes)

    def polygon(self, tolerance: float, err: Err) -> Polygon:
        """The region with its arcs flattened once, never past its true edge on the side `err`."""
        opposite = Err.OUTWARD if err is Err.INWARD else Err.INWARD
        return Polygon(
            self.outer.flatten(tolerance, err),
            [hole.flatten(tolerance, opposite) for hole in self.holes],
        )


Outline = tuple[Region, ...]
"""What a drawing gives: regions that do not overlap."""


def area_of(outline: Outline, tolerance: float, err: Err) -> shapely.Geometry:
    """One shapely geometry of all regions of an outline, flattened on the side `err`."""
    return shapely.union_all([region.polygon(tolerance, err) for region in outline])
