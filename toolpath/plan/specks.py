"""Bits that stay where the ways of a bounded clearing met, too small to be followed.

Frame: x, y of the blank frame or its mirror image, millimetres. Each is visited from the nearest
place where the cutter touches nothing, and left the same way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, find_objects, label
from shapely.geometry.base import BaseGeometry

from toolpath.plan.cover import reachable, swept
from toolpath.plan.fronts import to_take
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.rest import thick_of

FloatArray = NDArray[np.float64]

SPECK = 0.5
"""Bits larger than a square with this side, in radii, are no specks."""
ROUNDS = 4
"""How often they are looked for: long ones are not gone at once."""
HAIR = 0.02
"""Along walls less than this is not looked for, mm."""


def visit_specks(walk: Walk, area: BaseGeometry, gone: BaseGeometry) -> None:
    """Over what is left of what a cutter reaches from an area; `gone` was cut before."""
    for _ in range(ROUNDS):
        _visit(walk, list(_in_cells(walk)))
    _visit(walk, list(_thinner_than_cells(walk, area, gone)))


def _in_cells(walk: Walk) -> Iterator[FloatArray]:
    """(2,) the middle of each bit that holds a few cells, in cells."""
    spare = np.full(walk.room.depth.shape, HAIR / walk.near.cells.size, dtype=np.float32)
    stock = walk.near.walked > walk.near.reach
    left, _ = label(stock & to_take(walk.room.depth, walk.near.reach, spare))
    most = (SPECK * walk.near.radius / walk.near.cells.size) ** 2
    for bit, box in enumerate(find_objects(left), start=1):
        row, column = np.nonzero(left[box] == bit)
        if 2 <= len(row) <= most:
            middle = column.mean() + box[1].start, row.mean() + box[0].start
            yield np.array(middle, dtype=np.float64)


def _thinner_than_cells(walk: Walk, area: BaseGeometry, gone: BaseGeometry) -> Iterator[FloatArray]:
    """The same for bits so thin that no middle of a cell lies in them."""
    radius = walk.near.radius
    cut = swept(walk.lines, radius).union(gone)
    for part in shapely.get_parts(thick_of(reachable(area, radius).difference(cut))):
        if 0.0 < part.length / 2.0 <= SPECK * radius:
            yield walk.near.cells.of(shapely.get_coordinates(part.centroid))[0]


def _visit(walk: Walk, spots: list[FloatArray]) -> None:
    """Over each of some places, in cells."""
    stock = walk.near.walked > walk.near.reach
    clear = (distance_transform_edt(~stock) >= walk.near.reach + 1.0) & (walk.room.depth >= 0.0)
    if not spots or not clear.any():
        return
    nearest, inside = (
        distance_transform_edt(far, return_distances=False, return_indices=True)
        for far in (~clear, walk.room.depth < 0.5)
    )
    visited = set()
    for spot in spots:
        column, row = np.round(spot).astype(np.intp)
        over = tuple(inside[:, row, column])
        if over in visited:
            continue
        visited.add(over)
        begin = tuple(nearest[:, over[0], over[1]])
        points = walk.near.cells.back(np.array([begin[::-1], over[::-1]], dtype=np.float64))
        if math.dist(*points) < walk.near.cells.size / 2.0:
            points = _stirred(walk, points[0])
        if not walk.room.holds(points):
            continue
        walk.cut(Kind.CUT, points)
        walk.take(Kind.CUT, points[::-1])


def _stirred(walk: Walk, place: FloatArray) -> FloatArray:
    """A very short way from a place at which the cutter touches nothing that a cell would see."""
    ways = [place + walk.near.cells.size * np.array(step) for step in ((1, 0), (-1, 0), (0, 1))]
    return np.vstack([place, next((end for end in ways if walk.room.holds(end[None])), ways[0])])
