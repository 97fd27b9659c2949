"""Ways through cleared room from the end of one cut to the start of the next.

Frame: x, y of the blank frame or its mirror image, millimetres, radians. A way leaves along the
cut that ends and comes in along the one that begins, on arcs and a straight between them: the
shortest ways of bounded curvature are such (L. E. Dubins, "On curves of minimal length with a
constraint on average curvature", American Journal of Mathematics 79(3), 1957), but for those of
three arcs, which are left out.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry.base import BaseGeometry

from toolpath.plan.near import Cells, FieldArray, Near

FloatArray = NDArray[np.float64]

RADII = (1.0, 0.5, 0.25, 0.15, 0.1)
"""Of the arcs, in radii of the cutter."""
PITCH = 0.15
"""Places of a way are this far apart, in radii of the cutter."""
COARSE = 8
"""Where no such way is free one is looked for on a grid this many cells wide."""
SIGHT = 40
"""So many places of the grid are tried for the first and the last of such a way."""
TOUCH = 0.002
"""How far a way may leave the room, mm: the edge itself is in it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Within:
    """Where the centre may be: how far each cell lies within it, in cells, and the area itself,
    grown by `TOUCH`."""

    depth: FieldArray = field(repr=False)
    area: BaseGeometry = field(repr=False)

    @classmethod
    def of(cls, cells: Cells, area: BaseGeometry) -> Within:
        """Of an area, on cells."""
        grown = area.buffer(TOUCH, quad_segs=4)
        shapely.prepare(grown)
        return cls(depth=cells.depth(area), area=grown)

    def holds(self, points: FloatArray) -> bool:
        """Whether all of the way through (n, 2) lies in it."""
        line = shapely.linestrings(points) if len(points) > 1 else shapely.points(points[0])
        return bool(self.area.covers(line))


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A place and the direction of travel there."""

    x: float
    y: float
    angle: float

    @property
    def place(self) -> FloatArray:
        """(2,)"""
        return np.array([self.x, self.y])

    @property
    def back(self) -> Heading:
        """The other way from the same place."""
        return Heading(x=self.x, y=self.y, angle=self.angle + math.pi)

    @classmethod
    def at_start(cls, points: FloatArray) -> Heading:
        """At the first of (n, 2) points."""
        ahead = points[1] - points[0]
        return cls(x=float(points[0, 0]), y=float(points[0, 1]), angle=_angle(ahead))

    @classmethod
    def at_end(cls, points: FloatArray) -> Heading:
        """At the last of (n, 2) points."""
        ahead = points[-1] - points[-2]
        return cls(x=float(points[-1, 0]), y=float(points[-1, 1]), angle=_angle(ahead))


def _angle(ahead: FloatArray) -> float:
    return math.atan2(float(ahead[1]), float(ahead[0]))


def way_back(near: Near, room: Within, start: Heading, end: Heading) -> FloatArray | None:
    """(n, 2) the way from one heading to another in cleared room; None where there is none.

    room : where the centre may be.
    """
    found = [way for share in RADII for way in _smooth_ways(start, end, share * near.radius)]
    pitch = PITCH * near.radius
    for way in sorted(found, key=lambda each: each.length):
        points = way.points(pitch)
        if _free(near, room, points):
            return points
    return _by_grid(near, room, start.place, end.place)


def _free(near: Near, room: Within, points: FloatArray) -> bool:
    return room.holds(points) and near.clear(points)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """An arc, a straight and an arc: of each arc the middle (a complex number), the first
    heading, the side it turns to (1 left) and by how much."""

    radius: float
    one: tuple[complex, float, float, float]
    two: tuple[complex, float, float, float]

    @property
    def length(self) -> float:
        """Length, mm."""
        straight = abs(_on(self.one, 1.0, self.radius) - _on(self.two, 0.0, self.radius))
        return self.radius * (self.one[3] + self.two[3]) + straight

    def points(self, pitch: float) -> FloatArray:
        """(n, 2) places along it."""
        parts = [_arc(turn, self.radius, pitch) for turn in (self.one, self.two)]
        straight = _between(parts[0][-1], parts[1][0], pitch)
        return np.vstack([parts[0], straight, parts[1][1:]])


def _smooth_ways(start: Heading, end: Heading, radius: float) -> Iterator[_Way]:
    """All ways of arc, straight and arc."""
    for first in (1.0, -1.0):
        for last in (1.0, -1.0):
            one = complex(start.x, start.y) + first * radius * 1j * cmath.exp(1j * start.angle)
            two = complex(end.x, end.y) + last * radius * 1j * cmath.exp(1j * end.angle)
            across = two - one
            lean = 0.0
            if first != last:
                if abs(across) < 2.0 * radius:
                    continue
                lean = first * math.asin(2.0 * radius / abs(across))
            ahead = cmath.phase(across) + lean if across else start.angle
            turn_one = first * (ahead - start.angle) % (2.0 * math.pi)
            turn_two = last * (end.angle - ahead) % (2.0 * math.pi)
            yield _Way(
                radius=radius,
                one=(one, start.angle, first, turn_one),
                two=(two, ahead, last, turn_two),
            )


def _on(turn: tuple[complex, float, float, float], share: float, radius: float) -> complex:
    centre, heading, side, sweep = turn
    return centre - side * radius * 1j * cmath.exp(1j * (heading + side * sweep * share))


def _arc(turn: tuple[complex, float, float, float], radius: float, pitch: float) -> FloatArray:
    centre, heading, side, sweep = turn
    count = max(1, math.ceil(radius * sweep / pitch), math.ceil(sweep / 0.2))
    angle = heading + side * sweep * np.arange(count + 1) / count
    return np.column_stack(
        [
            centre.real + side * radius * np.sin(angle),
            centre.imag - side * radius * np.cos(angle),
        ]
    )


def _between(start: FloatArray, end: FloatArray, pitch: float) -> FloatArray:
    count = max(1, math.ceil(math.dist(start, end) / pitch))
    return np.asarray(start + (end - start) * (np.arange(1, count + 1) / count)[:, None])


def _by_grid(near: Near, room: Within, start: FloatArray, end: FloatArray) -> FloatArray | None:
    """A way of straight pieces, found on a grid and pulled taut."""
    if not (_free(near, room, start[None]) and _free(near, room, end[None])):
        return None
    stock = near.walked > near.reach
    free = distance_transform_edt(~stock)[::COARSE, ::COARSE] >= near.reach + 0.5
    # So far inside that no step of the grid cuts off a corner of what stands in the room.
    free &= room.depth[::COARSE, ::COARSE] >= COARSE / math.sqrt(2.0)
    rows, columns = np.nonzero(free)
    if not len(rows):
        return None
    cells = np.column_stack([columns, rows]).astype(np.float64) * COARSE
    spots = near.cells.back(cells)
    ends = [_in_sight(near, room, spots, place) for place in (start, end)]
    if None in ends:
        return None
    chain = _chain(free, spots, ends)
    if chain is None:
        return None
    points = np.vstack([start, chain, end])
    return _taut(near, room, points)


def _in_sight(near: Near, room: Within, spots: FloatArray, place: FloatArray) -> int | None:
    """The nearest of some spots to which the way is straight and free; None for none nearby."""
    nearest = np.argsort(np.hypot(*(spots - place).T), kind="stable")[:SIGHT]
    pitch = PITCH * near.radius
    ways = ((row, np.vstack([place, _between(place, spots[row], pitch)])) for row in nearest)
    return next((int(row) for row, way in ways if _free(near, room, way)), None)


def _chain(free: NDArray[np.bool_], spots: FloatArray, ends: list[int | None]) -> FloatArray | None:
    number = np.full(free.shape, -1, dtype=np.intp)
    number[free] = np.arange(len(spots))
    pairs = [
        (number[:-1], number[1:], 1.0),
        (number[:, :-1], number[:, 1:], 1.0),
        (number[:-1, :-1], number[1:, 1:], math.sqrt(2.0)),
        (number[1:, :-1], number[:-1, 1:], math.sqrt(2.0)),
    ]
    first, second, cost = [], [], []
    for one, two, length in pairs:
        both = (one >= 0) & (two >= 0)
        first.append(one[both])
        second.append(two[both])
        cost.append(np.full(both.sum(), length))
    size = len(spots)
    graph = coo_array(
        (np.concatenate(cost), (np.concatenate(first), np.concatenate(second))), (size, size)
    ).tocsr()
    begin, finish = ends
    assert begin is not None and finish is not None
    _, found = dijkstra(graph, False, np.array([begin]), True)
    before = found[0]
    if finish != begin and before[finish] < 0:
        return None
    rows = [finish]
    while rows[-1] != begin:
        rows.append(int(before[rows[-1]]))
    return spots[rows[::-1]]


def _taut(near: Near, room: Within, points: FloatArray) -> FloatArray | None:
    """The same with the corners cut off that can be; None where a piece is not free."""
    pitch = PITCH * near.radius
    kept, at = [points[0]], 0
    while at < len(points) - 1:
        ahead, jump = len(points) - 1, len(points) - 1 - at
        while not _free(near, room, _between(points[at], points[ahead], pitch)):
            if ahead == at + 1:
                return None
            jump = (jump + 1) // 2
            ahead = at + max(1, jump)
        kept.append(points[ahead])
        at = ahead
    return np.vstack([kept[0], *[_between(a, b, pitch) for a, b in pairwise(kept)]])
