"""The true silhouette of a piece in plan, with its drift or without.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import (
    about_z,
    closed_triangles,
    footprint,
    own_radius,
    placed_area,
    placed_tops,
    placed_vertices,
)
from toolpath.field import kernels
from toolpath.field.grid import Grid
from toolpath.job.model import Drift, Heights, Mesh, Piece, Prism

FloatArray = NDArray[np.float64]

SHADOW_ERROR = 0.02
"""The most that a shadow may reach past the true one, mm, but for very many triangles."""

_THIN = 0.003
"""Outlines are thinned by this after they were grown by it, mm."""
_ARC = 0.003
"""Rounding of grown corners, mm."""
_SWING = 0.005
"""How far what turns is taken to swing past its chords, mm."""
_CLOSE = 1e-6
"""What is joined is grown by this first, so that rounding leaves no slits, mm."""
_MOST_JOINED = 20_000
"""Triangles that are joined one by one; more are looked at in cells."""
_MOST_CELLS = 4_000_000
_MOST_SWEPT = 30_000


def shadow(piece: Piece, *, drifted: bool, grow: float) -> BaseGeometry:
    """What a piece covers in plan, grown by `grow` all round.

    Parameters
    ----------
    drifted : with all places to which it may have drifted (`side` and `turn`), else as stated.
    grow : mm, >= 0.

    Returns
    -------
    Polygons, holes kept. Errs outward, by at most `SHADOW_ERROR`: what it leaves free is free. A
    mesh of over 20 000 triangles errs by a cell and a half of 4 million over its box, one that may
    turn far by its own radius times the square of a step of some degrees. A mesh that is not
    watertight counts as its convex hull.
    """
    wide = grow + (piece.drift.side if drifted else 0.0)
    turn = min(piece.drift.turn, math.pi) if drifted else 0.0
    return grown(_turned(piece, turn), wide)


def grown(area: BaseGeometry, distance: float) -> BaseGeometry:
    """An area grown by a distance >= 0. Errs outward, by at most 0.006 mm."""
    if distance <= 0.0:
        return area
    quarter = max(8, math.ceil(0.75 * (math.pi / 2) / math.acos(1.0 - min(_ARC / distance, 0.5))))
    more = distance * (1.0 - math.cos(0.75 * (math.pi / 2) / quarter))
    return area.buffer(distance + more, quad_segs=quarter)


@lru_cache(maxsize=2048)
def _turned(piece: Piece, turn: float) -> BaseGeometry:
    """Without growing: as stated, and at all angles up to `turn` either way."""
    if not isinstance(piece.solid, Mesh | Heights | Prism):
        shape = footprint(piece, Drift(turn=turn))
        parts = [shapely.convex_hull(shapely.MultiPoint(p)) for p in shape.polygons]
        whole = shapely.union_all(shapely.buffer(np.array(parts), _CLOSE))
        return grown(whole, shape.radius)
    area = _silhouette(piece)
    if turn == 0.0:
        return area
    if turn >= math.pi:
        return grown(shapely.Point(piece.at), own_radius(piece) + 2.0 * _THIN)
    return _swung(area, np.array(piece.at), turn)


def _silhouette(piece: Piece) -> BaseGeometry:
    solid, at = piece.solid, np.array(piece.at)
    if isinstance(solid, Prism):
        return cast(BaseGeometry, placed_area(piece))
    if isinstance(solid, Heights):
        return _joined(placed_tops(piece)[:, :, :2] + at)
    points = placed_vertices(piece)
    return _joined(points[closed_triangles(cast(Mesh, solid), points)][:, :, :2] + at)


def _joined(triangles: FloatArray) -> BaseGeometry:
    """The union of triangles (t, 3, 2), its outline thinned outward."""
    if len(triangles) > _MOST_JOINED:
        return _thinned(_touched(triangles))
    flat = np.asarray(shapely.polygons(triangles))
    whole = shapely.union_all(flat[shapely.area(flat) > 0.0])
    return _thinned(whole)


def _thinned(area: BaseGeometry) -> BaseGeometry:
    """A little larger, with fewer corners: thinning moves an outline by no more than it grew."""
    return area.buffer(_THIN, join_style="mitre").simplify(_THIN)


def _touched(triangles: FloatArray) -> BaseGeometry:
    """The cells that many triangles touch, as one area."""
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    cell = max(0.01, math.sqrt(float(np.prod(high - low)) / _MOST_CELLS))
    grid = Grid.over((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), cell)
    found = np.full(grid.shape, -np.inf)
    corners = np.concatenate([triangles, np.zeros((*triangles.shape[:2], 1))], axis=2)
    place = (float(grid.x0), float(grid.y0), float(grid.cell))
    kernels.top_of_triangles(np.ascontiguousarray(corners), place, 1e-9, np.empty((3, 9, 3)), found)
    return cells_as_area(np.isfinite(found), grid)


def cells_as_area(mask: NDArray[np.bool_], grid: Grid) -> BaseGeometry:
    """The closed cells of a mask (rows, columns) as polygons."""
    step = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(step == 1)
    _, end = np.nonzero(step == -1)
    x, y = grid.x0 + first * grid.cell, grid.y0 + row * grid.cell
    boxes = shapely.box(x, y, grid.x0 + end * grid.cell, grid.y0 + (row + 1) * grid.cell)
    return shapely.union_all(boxes)


def _swung(area: BaseGeometry, at: FloatArray, turn: float) -> BaseGeometry:
    """All that an area covers turning about `at` by up to `turn` either way.

    Every edge, parted where it is nearest to `at`, sweeps a stretch between two angles that the
    hull of its two places holds but for the bulge of the arcs, which is added.
    """
    edges = _edges(area, at)
    radius = float(np.hypot(*(edges - at).reshape(-1, 2).T).max())
    step = 2.0 * math.acos(1.0 - min(_SWING / radius, 0.5))
    count = max(1, math.ceil(2.0 * turn / step))
    count = min(count, max(1, _MOST_SWEPT // len(edges)))
    angles = np.linspace(-turn, turn, count + 1)
    bulge = radius * (1.0 - math.cos(turn / count))
    turned = np.array([(edges - at) @ about_z(a)[:2, :2].T + at for a in angles])
    quads = np.concatenate([turned[:-1], turned[1:]], axis=2).reshape(-1, 4, 2)
    hulls = shapely.convex_hull(shapely.multipoints(quads))
    still = shapely.transform(area, lambda xy: (xy - at) @ about_z(-turn)[:2, :2].T + at)
    swept = np.asarray(shapely.buffer(hulls, _CLOSE, quad_segs=1))
    whole = shapely.union_all([*swept, still])
    return _thinned(grown(whole, bulge))


def _edges(area: BaseGeometry, at: FloatArray) -> FloatArray:
    """(n, 2, 2) edges of all loops, parted at the point nearest to `at`."""
    found = []
    for part in shapely.get_parts(area):
        for loop in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(loop)
            found.append(np.stack([points[:-1], points[1:]], axis=1))
    edges = np.concatenate(found)
    along = edges[:, 1] - edges[:, 0]
    square = np.maximum((along**2).sum(axis=1), 1e-300)
    share = ((at - edges[:, 0]) * along).sum(axis=1) / square
    split = (share > 0.0) & (share < 1.0)
    middle = edges[split, 0] + share[split, None] * along[split]
    one = np.stack([edges[split, 0], middle], axis=1)
    two = np.stack([middle, edges[split, 1]], axis=1)
    return np.concatenate([edges[~split], one, two])
