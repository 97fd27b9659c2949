"""Closed outlines made of lines and true arcs, and regions with islands.

Frame: whatever plane the outline was drawn in, x right and y up, millimetres.

Lines and arcs are exact. Other curves of a drawing come as chords, and ends that did not quite
meet were moved together: how far such a loop may lie from what was drawn is its `Loop.error`,
and `Loop.flatten` keeps that much to the safe side.
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

    `error` (mm) is how far the loop may lie, on either side, from the curve that was drawn: 0
    for true lines and arcs. `area` and `length` are those of the loop as it stands, without it.
    """

    points: FloatArray = field(repr=False)
    error: float = 0.0

    def __post_init__(self) -> None:
        points = np.array(self.points, dtype=np.float64, order="C", copy=True)
        if points.ndim != 2 or points.shape[1] != 3 or len(points) < 2:
            raise ValueError(f"a loop needs (n, 3) points with n >= 2, not {points.shape}")
        if not np.isfinite(points).all():
            raise ValueError("a loop needs finite coordinates")
        if not 0.0 <= self.error < math.inf:
            raise ValueError(f"the error of a loop is a finite length >= 0, not {self.error}")
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
        chord = np.hypot(nx - x, ny - y)
        return chord_area + float(np.sum(chord**2 * _segment_share(bulge)))

    @property
    def length(self) -> float:
        """Length of the whole loop, mm, arcs exact."""
        x, y, bulge = self.points.T
        chord = np.hypot(np.roll(x, -1) - x, np.roll(y, -1) - y)
        half = 2.0 * np.arctan(bulge)
        return float(np.sum(chord / np.sinc(half / np.pi)))

    def reversed(self) -> Loop:
        """The same loop walked the other way."""
        x, y, bulge = self.points.T
        points = np.column_stack([x[::-1], y[::-1], -np.roll(bulge[::-1], -1)])
        return Loop(points=points, error=self.error)

    def flatten(self, tolerance: float, err: Err) -> FloatArray:
        """(m, 2) corners whose chords stay within `tolerance` of the loop, on the side `err`.

        Whether a chord lies inside depends on which way the arc turns relative to the loop, so
        arcs that bulge outward get chords for INWARD and tangents for OUTWARD, arcs that bulge
        inward the other way round. A loop with an `error` is then moved by it towards `err`, so
        that what was drawn is kept to as well: the chords stay within tolerance + 2 error of it.

        Raises
        ------
        ValueError
            The loop is so thin that nothing is left of it after moving it inward by its error.
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
                pieces.append(arc_points(start, end, bulge, tolerance, inscribed=inscribed))
        corners = np.concatenate(pieces)
        return corners if self.error == 0.0 else _moved(corners, self.error, err)


def _segment_share(bulge: FloatArray) -> FloatArray:
    """Area between each arc and its chord, as a share of the chord squared; signed."""
    theta = 4.0 * np.arctan(bulge)
    small = np.abs(bulge) < 1e-3  # where theta - sin(theta) would cancel; the next term is b^4
    safe = np.where(small, 1.0, bulge)
    radius = (1.0 + safe**2) / (4.0 * safe)
    return np.where(
        small, bulge / 3.0 * (1.0 + bulge**2 / 5.0), 0.5 * radius**2 * (theta - np.sin(theta))
    )


def _moved(corners: FloatArray, error: float, err: Err) -> FloatArray:
    """The ring of corners with every edge moved by `error` towards `err`, the same way round.

    What falls apart inward keeps its largest part, what closes on itself outward loses the gap:
    both err on the side asked for. The library thins its input by a hundredth of the distance,
    hence the two hundredths more.
    """
    ring = Polygon(corners)
    distance = 1.02 * error if err is Err.OUTWARD else -1.02 * error
    moved = ring.buffer(distance, join_style="mitre")
    parts = [part for part in shapely.get_parts(moved) if not part.is_empty]
    if not parts:
        raise ValueError(f"a loop thinner than twice its error of {error} mm has no inside")
    largest = max(parts, key=lambda part: float(part.area))
    turned = shapely.orient_polygons(largest, exterior_cw=not ring.exterior.is_ccw)
    return np.array(turned.exterior.coords)[:-1]


def arc_points(
    start: FloatArray, end: FloatArray, bulge: float, tolerance: float, *, inscribed: bool
) -> FloatArray:
    """Points between the ends of an arc: on it (chords) or outside it (tangents).

    Worked from the chord, not from the centre, so that arcs of a vast radius lose nothing.

    Parameters
    ----------
    start, end : (2,) arrays
        Ends of the arc, mm; not among the points returned.
    bulge : float
        Tangent of a quarter of the arc's angle, not 0.
    tolerance : float
        Largest distance of a chord or a tangent from the arc, mm.
    inscribed : bool
        Chords, which lie on the centre's side of the arc; else tangents, which lie outside.
    """
    theta = 4.0 * math.atan(bulge)
    chord = complex(end[0] - start[0], end[1] - start[1])
    if chord == 0 or abs(bulge) < 1e-15:  # rises less than float64 tells from the chord
        return np.empty((0, 2))
    along = chord / math.sin(theta / 2.0)  # twice the signed radius, along the chord
    ratio = min(max(2.0 * tolerance / abs(along), 1e-12), 1.0)
    half = 2.0 * math.asin(math.sqrt((ratio if inscribed else ratio / (1.0 + ratio)) / 2.0))
    count = max(2, math.ceil(abs(theta) / (2.0 * half) - 1e-9))
    if inscribed:
        turned, excess = theta * np.arange(1, count) / count, 0.0
    else:
        turned = theta * (np.arange(count) + 0.5) / count
        excess = 2.0 * math.sin(theta / (4 * count)) ** 2 / math.cos(theta / (2 * count))
    on_arc = along * np.sin(turned / 2.0) * np.exp(1j * (turned - theta) / 2.0)
    outward = -0.5j * along * np.exp(1j * (turned - theta / 2.0))
    offsets = on_arc + excess * outward
    return np.column_stack([start[0] + offsets.real, start[1] + offsets.imag])


def arc_centre(start: FloatArray, end: FloatArray, bulge: float) -> tuple[FloatArray, float]:
    """Centre (2,) and radius of the arc of that bulge (not 0) between two points."""
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
