"""Ways through cleared room from the end of one cut to the start of the next.

Frame: x, y of the blank frame or its mirror image, millimetres, radians. A way leaves along the
cut that ends and comes in along the one that begins, on arcs and a straight between them: the
shortest ways of bounded curvature are such (L. E. Dubins, "On curves of minimal length with a
constraint on average curvature", American Journal of Mathematics 79(3), 1957), but for those of
three arcs, which are left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from toolpath.plan.near import FieldArray, Near

FloatArray = NDArray[np.float64]

RADII = (1.0, 0.5, 0.25, 0.1)
"""Of the arcs, in radii of the cutter."""
PITCH = 0.15
"""Places of a way are this far apart, in radii of the cutter."""
COARSE = 8
"""Where no such way is free one is looked for on a grid this many cells wide."""
TOUCH = 0.35
"""How far a way may leave the room, in cells: the edge itself is in it."""


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


def way_back(near: Near, room: FieldArray, start: Heading, end: Heading) -> FloatArray | None:
    """(n, 2) the way from one heading to another in cleared room; None where there is none.

    room : how far places lie within where the centre may be, in cells.
    """
    found = [
        way
        for share in RADII
        for way in _smooth_ways(start, end, share * near.radius, PITCH * near.radius)
    ]
    for _, points in sorted(found, key=lambda each: each[0]):
        if _free(near, room, points):
            return points
    return _by_grid(near, room, start.place, end.place)


def _free(near: Near, room: FieldArray, points: FloatArray) -> bool:
    places = near.cells.of(points)
    column, row = np.round(places).astype(np.intp).T
    rows, columns = room.shape
    if (row < 0).any() or (column < 0).any() or (row >= rows).any() or (column >= columns).any():
        return False
    return bool((room[row, column] >= -TOUCH - 0.71).all()) and near.clear(points)


def _smooth_ways(
    start: Heading, end: Heading, radius: float, pitch: float
) -> Iterator[tuple[float, FloatArray]]:
    """All ways of arc, straight and arc: their length and (n, 2) places."""
    for first in (1.0, -1.0):
        for last in (1.0, -1.0):
            one = _centre(start, first, radius)
            two = _centre(end, last, radius)
            across = two - one
            far = math.hypot(*across)
            lean = 0.0
            if first != last:
                if far < 2.0 * radius:
                    continue
                lean = first * math.asin(2.0 * radius / far)
            ahead = _angle(across) + lean if far > 0.0 else start.angle
            turn_one = math.fmod(first * (ahead - start.angle) + 4.0 * math.pi, 2.0 * math.pi)
            turn_two = math.fmod(last * (end.angle - ahead) + 4.0 * math.pi, 2.0 * math.pi)
            parts = [
                _arc(one, radius, (start.angle, first, turn_one), pitch),
                _arc(two, radius, (ahead, last, turn_two), pitch),
            ]
            straight = _between(parts[0][-1], parts[1][0], pitch)
            points = np.vstack([parts[0], straight, parts[1][1:], end.place[None]])
            length = radius * (turn_one + turn_two) + math.dist(parts[0][-1], parts[1][0])
            yield length, points


def _centre(at: Heading, side: float, radius: float) -> FloatArray:
    return at.place + side * radius * np.array([-math.sin(at.angle), math.cos(at.angle)])


def _arc(
    centre: FloatArray, radius: float, turn: tuple[float, float, float], pitch: float
) -> FloatArray:
    heading, side, sweep = turn
    count = max(1, math.ceil(radius * sweep / pitch), math.ceil(sweep / 0.2))
    angle = heading + side * np.linspace(0.0, sweep, count + 1)
    return centre + side * radius * np.column_stack([np.sin(angle), -np.cos(angle)])


def _between(start: FloatArray, end: FloatArray, pitch: float) -> FloatArray:
    count = max(1, math.ceil(math.dist(start, end) / pitch))
    return np.asarray(start + (end - start) * np.linspace(0.0, 1.0, count + 1)[1:, None])


def _by_grid(
    near: Near, room: FieldArray, start: FloatArray, end: FloatArray
) -> FloatArray | None:
    """A way of straight pieces, found on a grid and pulled taut."""
    if not (_free(near, room, start[None]) and _free(near, room, end[None])):
        return None
    stock = near.walked > near.reach
    free = distance_transform_edt(~stock)[::COARSE, ::COARSE] >= near.reach + 0.5
    free &= room[::COARSE, ::COARSE] >= 0.0
    rows, columns = np.nonzero(free)
    if not len(rows):
        return None
    spots = near.cells.back(np.column_stack([columns, rows]) * float(COARSE))
    chain = _chain(free, spots, start, end)
    if chain is None:
        return None
    points = np.vstack([start, chain, end])
    return _taut(near, room, points)


def _chain(
    free: NDArray[np.bool_], spots: FloatArray, start: FloatArray, end: FloatArray
) -> FloatArray | None:
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
    begin = int(np.hypot(*(spots - start).T).argmin())
    finish = int(np.hypot(*(spots - end).T).argmin())
    _, before = dijkstra(graph, directed=False, indices=begin, return_predecessors=True)
    if finish != begin and before[finish] < 0:
        return None
    rows = [finish]
    while rows[-1] != begin:
        rows.append(int(before[rows[-1]]))
    return spots[rows[::-1]]


def _taut(near: Near, room: FieldArray, points: FloatArray) -> FloatArray | None:
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
