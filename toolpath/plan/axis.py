"""The middle of channels: discs that touch both of their walls.

Frame: x, y of the blank frame or its mirror image, millimetres, radians. The places with more than
one nearest place on the edge of an area are its medial axis (H. Blum, "A transformation for
extracting new descriptors of shape", 1967); here they come from the Voronoi diagram of places
along the edge (scipy).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import Voronoi
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from toolpath.plan.lines import along

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Box = tuple[float, float, float, float]

FACING = math.radians(120.0)
"""Seen from the middle of a disc its two walls are at least so far apart: else it lies in a
corner."""
FAR = 20.0
"""Sites so far away, in sizes of the box, hold no disc in it."""
FEWEST = 4
"""Sites with which there is a diagram to speak of."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """Discs one after another along a channel, and where each touches the walls to the left and
    to the right of the way from the first to the last. Rows n."""

    middle: FloatArray = field(repr=False)
    """(n, 2)"""
    left: FloatArray = field(repr=False)
    """(n, 2)"""
    right: FloatArray = field(repr=False)
    """(n, 2)"""

    def __len__(self) -> int:
        return len(self.middle)

    @property
    def along(self) -> FloatArray:
        """(n,) distance of each middle from the first, mm."""
        return along(self.middle)

    @property
    def back(self) -> Axis:
        """From the last to the first."""
        return Axis(middle=self.middle[::-1], left=self.right[::-1], right=self.left[::-1])

    def dense(self, pitch: float) -> Axis:
        """With discs between that are no further apart than `pitch`, held by the same walls as the
        one after."""
        counts = np.maximum(1, np.ceil(np.diff(self.along) / pitch)).astype(np.intp)
        then = np.repeat(np.arange(1, len(self)), counts)
        share = np.concatenate([np.arange(1, count + 1) / count for count in counts])[:, None]
        middle = self.middle[then - 1] + share * (self.middle[then] - self.middle[then - 1])
        first = np.zeros(1, dtype=np.intp)
        rows = np.concatenate([first, then])
        return Axis(
            middle=np.vstack([self.middle[:1], middle]),
            left=self.left[rows],
            right=self.right[rows],
        )

    def radius(self, row: int) -> float:
        """Of a disc, mm."""
        return math.dist(self.middle[row], self.left[row])

    def front(self, rows: FloatArray, shares: FloatArray) -> FloatArray:
        """(n, 2) places on the parts of discs that look ahead: of each disc, its row (n,) with a
        part of the way to the next, at a share (n,) of the way from the left wall to the right."""
        low = np.clip(np.floor(rows).astype(np.intp), 0, len(self) - 1)
        high = np.minimum(low + 1, len(self) - 1)
        part = (rows - low)[:, None]
        return (1.0 - part) * self._ahead(low, shares) + part * self._ahead(high, shares)

    def _ahead(self, rows: IntArray, shares: FloatArray) -> FloatArray:
        """The same at whole rows."""
        middle = self.middle[rows]
        touched = (self.left[rows] - middle, self.right[rows] - middle)
        left, right = (np.arctan2(each[:, 1], each[:, 0]) for each in touched)
        angle = left - shares * ((left - right) % (2.0 * math.pi))
        radius = np.hypot(*touched[0].T)[:, None]
        return np.asarray(middle + radius * np.column_stack([np.cos(angle), np.sin(angle)]))

    def around(self, row: int, pitch: float) -> FloatArray:
        """(n, 2) places on all of a disc's edge."""
        radius = self.radius(row)
        angle = np.linspace(0.0, 2.0 * math.pi, max(16, math.ceil(2.0 * math.pi * radius / pitch)))
        circle = np.column_stack([np.cos(angle), np.sin(angle)])
        return np.asarray(self.middle[row] + radius * circle)


def axes_of(area: BaseGeometry, within: Box, pitch: float, widest: float) -> Iterator[Axis]:
    """The longest way along the middle of each channel of an area in a box, of discs no larger
    than `widest`; places along the edge and discs are no more than `pitch` apart."""
    ridges = _ridges(area, within, pitch, widest)
    for way in _ways(ridges) if ridges is not None else ():
        yield way.dense(pitch)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ridges:
    """Straight pieces of the middle: the numbers (n, 2) of their ends, which those that meet
    share, the ends (n, 2, 2), and the two places on the walls (n, 2, 2) that hold their discs."""

    ends: IntArray = field(repr=False)
    spots: FloatArray = field(repr=False)
    walls: FloatArray = field(repr=False)


def _ridges(area: BaseGeometry, within: Box, pitch: float, widest: float) -> _Ridges | None:
    """What of the diagram's ridges has walls that face each other, no further apart than that."""
    sites = _sites(area, within, pitch)
    if len(sites) < FEWEST:
        return None
    found = Voronoi(np.vstack([sites, _outside(within)]))
    ends = np.asarray(found.ridge_vertices)
    known = (ends >= 0).all(axis=1) & (found.ridge_points < len(sites)).all(axis=1)
    ends, walls = ends[known], sites[found.ridge_points[known]]
    apart = np.hypot(*(walls[:, 0] - walls[:, 1]).T) / 2.0
    between, spots = walls.mean(axis=1), found.vertices[ends]
    length = np.maximum(np.hypot(*(spots[:, 1] - spots[:, 0]).T), 1e-12)
    ahead = (spots[:, 1] - spots[:, 0]) / length[:, None]
    far = np.einsum("nkj,nj->nk", spots - between[:, None], ahead)
    most = np.minimum(
        apart / math.tan(FACING / 2.0), np.sqrt(np.maximum(widest**2 - apart**2, 0.0))
    )
    clipped = np.clip(far, -most[:, None], most[:, None])
    cut = clipped != far
    spots = np.where(cut[..., None], between[:, None] + clipped[..., None] * ahead[:, None], spots)
    fresh = len(found.vertices) + np.arange(ends.size).reshape(ends.shape)
    long = np.flatnonzero((clipped[:, 1] > clipped[:, 0]) & (apart < widest))
    long = long[_good(area, within, spots[long].reshape(-1, 2)).reshape(-1, 2).all(axis=1)]
    return _Ridges(ends=np.where(cut, fresh, ends)[long], spots=spots[long], walls=walls[long])


def _sites(area: BaseGeometry, within: Box, pitch: float) -> FloatArray:
    """(n, 2) places along the edge of an area in a box."""
    edge = area.boundary.intersection(box(*within))
    spots = shapely.get_coordinates(shapely.segmentize(edge, pitch))
    return np.unique(np.round(spots, 6), axis=0)


def _outside(within: Box) -> FloatArray:
    """(4, 2) places so far from a box that they change nothing in it, with which no ridge there
    goes on for ever."""
    low, high = np.array(within[:2]), np.array(within[2:])
    far = FAR * (high - low).max() * np.array([[1, 0], [-1, 0], [0, 1], [0, -1]])
    return np.asarray((low + high) / 2.0 + far)


def _good(area: BaseGeometry, within: Box, spots: FloatArray) -> NDArray[np.bool_]:
    """(n,) which places lie in an area, and nearer to its edge than to that of the box, beyond
    which nothing is known."""
    x0, y0, x1, y1 = within
    x, y = spots.T
    room = np.minimum.reduce([x - x0, x1 - x, y - y0, y1 - y])
    near = np.flatnonzero(room > 0.0)
    points = shapely.points(spots[near])
    shapely.prepare(area)
    good = np.zeros(len(spots), dtype=np.bool_)
    good[near] = shapely.contains(area, points)
    near = near[good[near]]
    good[near] = shapely.distance(area.boundary, shapely.points(spots[near])) < room[near]
    return good


def _ways(ridges: _Ridges) -> Iterator[Axis]:
    """The longest way through each tree of ridges."""
    if not len(ridges.ends):
        return
    known, first_seen, numbered = np.unique(ridges.ends, return_index=True, return_inverse=True)
    first, last = numbered.reshape(ridges.ends.shape).T
    length = np.hypot(*(ridges.spots[:, 0] - ridges.spots[:, 1]).T)
    size = len(known)
    graph = coo_array((np.maximum(length, 1e-9), (first, last)), (size, size)).tocsr()
    rows_of = {frozenset(pair): row for row, pair in enumerate(zip(first, last, strict=True))}
    vertices = ridges.spots.reshape(-1, 2)[first_seen]
    count, part = connected_components(graph, directed=False)
    for number in range(count):
        rows = _longest(graph, int(np.flatnonzero(part == number)[0]))
        if len(rows) > 1:
            chosen = [rows_of[frozenset(pair)] for pair in pairwise(rows)]
            yield _axis(vertices[rows], ridges.walls[chosen])


def _longest(graph: csr_array, start: int) -> list[int]:
    """From the vertex furthest from one to that furthest from it."""
    begin = _furthest(dijkstra(graph, False, np.array([start]))[0])
    away, before = dijkstra(graph, False, np.array([begin]), True)
    rows = [_furthest(away[0])]
    while rows[-1] != begin:
        rows.append(int(before[0][rows[-1]]))
    return rows[::-1]


def _furthest(away: FloatArray) -> int:
    return int(np.where(np.isfinite(away), away, -1.0).argmax())


def _axis(middle: FloatArray, walls: FloatArray) -> Axis:
    """From the ends (n + 1, 2) of the ridges of a way and the places (n, 2, 2) on the walls that
    hold the discs of each."""
    walls = np.concatenate([walls[:1], walls])
    ahead = np.diff(middle, axis=0)
    ahead = np.concatenate([ahead[:1], ahead])
    aside = walls[:, 0] - middle
    first_left = (ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0] > 0.0)[:, None]
    return Axis(
        middle=middle,
        left=np.where(first_left, walls[:, 0], walls[:, 1]),
        right=np.where(first_left, walls[:, 1], walls[:, 0]),
    )
