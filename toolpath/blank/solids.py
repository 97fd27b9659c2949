"""The top of one piece, grown by its drift, as an upper bound in each closed cell of a grid.

Frame: the page frame of a face (x, y of the blank frame, z above that face). For the back the
bottom of a piece is its top there.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.blank.placed import (
    about_z,
    closed_triangles,
    footprint,
    hull_of,
    own_radius,
    page_top,
    placed_tops,
    placed_vertices,
    plan_radius,
)
from toolpath.blank.shadow import shadow
from toolpath.drawing.outline import Err, Outline, area_of
from toolpath.field import kernels
from toolpath.field.dilate import dilate
from toolpath.field.grid import NOTHING, Grid
from toolpath.job.model import Blank, Heights, Mesh, Piece, Prism, Side, Sphere
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
HeightArray = NDArray[np.float32]

_SLACK = TOLERANCES.rounding
_FINE_CELLS = 400_000
_FINEST = 4
_MOST_TURNS = 9


def raise_to_piece(z: HeightArray, grid: Grid, blank: Blank, piece: Piece, side: Side) -> None:
    """Raises z, in place, to the upper bound of a piece grown by its drift.

    z is (rows, columns) float32. Boxes, cylinders, spheres and prisms are exact over the closed
    cell (prisms that may turn within `shadow.SHADOW_ERROR`); a mesh or measured tops that drift
    err wide by a third of a cell (by one cell if large), those that may turn by half a cell more
    (more if they may turn by over 9 half cells at their rim).
    A mesh that is not watertight counts as its convex hull, measured tops are closed down to
    their flat foot.
    """
    top = page_top(blank, piece, side)
    window = _window(grid, *_around(piece, plan_radius(piece)))
    if window is None:
        return
    solid = piece.solid
    if isinstance(solid, Prism) or (isinstance(solid, Heights) and side is Side.BACK):
        raise_to_area(z, grid, shadow(piece, drifted=True, grow=0.0), top)
        return
    if isinstance(solid, Mesh | Heights):
        _raise_surface(z, grid, piece, page_triangles(piece, side, top))
        return
    rows, columns, patch = window
    if isinstance(solid, Sphere):
        found = _sphere_top(patch, piece, solid.diameter / 2.0, top)
    else:
        touched = _near_footprint(patch, piece)
        found = np.where(touched, top, -np.inf)
    _paste(z, rows, columns, round_up(found))


def raise_to_outline(z: HeightArray, grid: Grid, outline: Outline, top: float) -> None:
    """Raises z, in place, to `top` in every closed cell that an outline touches."""
    raise_to_area(z, grid, area_of(outline, TOLERANCES.flatten, Err.OUTWARD), top)


def raise_to_area(z: HeightArray, grid: Grid, area: shapely.Geometry, top: float) -> None:
    """Raises z, in place, to `top` in every closed cell that an area touches."""
    bounds = shapely.bounds(area)
    window = _window(grid, bounds[:2], bounds[2:])
    if window is None:
        return
    rows, columns, patch = window
    found = np.full(patch.shape, -np.inf)
    corners = _triangulated(area, top)
    kernels.top_of_triangles(corners, _place(patch), _SLACK, _scratch(), found)
    _paste(z, rows, columns, round_up(found))


def empty(grid: Grid) -> HeightArray:
    """A writable field of nothing."""
    return np.full(grid.shape, NOTHING, dtype=np.float32)


def round_up(values: FloatArray) -> HeightArray:
    """float32 heights that are nowhere under the float64 ones."""
    near = values.astype(np.float32)
    over = np.nextafter(near, np.float32(np.inf))
    return np.where(near.astype(np.float64) < values, over, near)


def _near_footprint(grid: Grid, piece: Piece) -> NDArray[np.bool_]:
    """(rows, columns) whether a closed cell comes within the footprint grown by the drift."""
    shape = footprint(piece, piece.drift)
    half = grid.cell / 2.0
    cell = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    near = np.zeros(grid.shape, dtype=np.bool_)
    for polygon in shape.polygons:
        grown = hull_of((polygon[:, None, :] + cell[None, :, :]).reshape(-1, 2))
        near |= _distance_squared(grid, grown) <= (shape.radius + _SLACK) ** 2
    return near


def _distance_squared(grid: Grid, polygon: FloatArray) -> FloatArray:
    """Squared distance of every cell's middle to a convex counter-clockwise polygon."""
    x, y = grid.centres()
    best = np.full(grid.shape, np.inf)
    inside = np.ones(grid.shape, dtype=np.bool_)
    for start, end in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        length = math.hypot(*(end - start))
        edge = (end - start) / length
        along = (x - start[0])[None, :] * edge[0] + (y - start[1])[:, None] * edge[1]
        across = (y - start[1])[:, None] * edge[0] - (x - start[0])[None, :] * edge[1]
        inside &= across >= 0.0
        beyond = along - np.clip(along, 0.0, length)
        best = np.minimum(best, beyond * beyond + across * across)
    best[inside] = 0.0
    return best


def _sphere_top(grid: Grid, piece: Piece, radius: float, top: float) -> FloatArray:
    """Top of a sphere whose axis may stand anywhere within the side drift, at the point of each
    closed cell that is nearest to it."""
    x, y = grid.centres()
    half = grid.cell / 2.0
    dx = np.maximum(np.abs(x - piece.at[0]) - half, 0.0)
    dy = np.maximum(np.abs(y - piece.at[1]) - half, 0.0)
    away = np.maximum(np.hypot(dx[None, :], dy[:, None]) - piece.drift.side - _SLACK, 0.0)
    rise = np.sqrt(np.maximum(radius * radius - away * away, 0.0))
    return np.where(away <= radius, top - radius + rise, -np.inf)


def _raise_surface(z: HeightArray, grid: Grid, piece: Piece, corners: FloatArray) -> None:
    """Rasters turned copies of a surface on a finer patch, dilates by what is between them and by
    the side drift, and takes the largest of each cell's fine cells."""
    angles, gap = _turns(piece, grid.cell)
    grow = piece.drift.side + gap
    window = _window(
        grid, *_around(piece, plan_radius(piece) + gap), math.ceil(grow / grid.cell) + 1
    )
    if window is None:
        return
    rows, columns, patch = window
    fine = _finer(patch, grow)
    found = np.full(fine.shape, -np.inf)
    for angle in angles:
        turned = corners @ about_z(angle).T + [piece.at[0], piece.at[1], 0.0]
        kernels.top_of_triangles(turned, _place(fine), _SLACK, _scratch(), found)
    heights = round_up(found + np.where(np.isfinite(found), _SLACK, 0.0))
    if grow > 0.0:
        heights = dilate(heights, _disc_table(grow, fine.cell))
    _paste(z, rows, columns, _largest(heights, fine.rows // patch.rows))


def _turns(piece: Piece, cell: float) -> tuple[FloatArray, float]:
    """Angles at which to raster a surface, and how far any point lies from its nearest copy."""
    turn = min(piece.drift.turn, math.pi)
    if turn == 0.0:
        return np.zeros(1), 0.0
    radius = own_radius(piece)
    count = min(_MOST_TURNS, math.ceil(turn * radius / (0.5 * cell)))
    angles = turn * ((2.0 * np.arange(count) + 1.0) / count - 1.0)
    return angles, radius * turn / count


def page_triangles(piece: Piece, side: Side, top: float) -> FloatArray:
    """(t, 3, 3) corners of a mesh, or of measured tops as the front has them, about `Piece.at`;
    z in the page frame with the highest point at `top`. The highest triangles come first."""
    if isinstance(piece.solid, Mesh):
        points = placed_vertices(piece)
        if side is Side.BACK:
            points = points * [1.0, 1.0, -1.0]
        corners = points[closed_triangles(piece.solid, points)]
    else:
        corners = placed_tops(piece)
    corners[:, :, 2] += top - corners[:, :, 2].max()
    highest_first = np.argsort(-corners[:, :, 2].max(axis=1), kind="stable")
    return np.ascontiguousarray(corners[highest_first])


def _finer(grid: Grid, grow: float) -> Grid:
    """The grid with each cell parted in up to 4 x 4 where a dilation would widen by a cell."""
    parts = int(math.sqrt(_FINE_CELLS / grid.count)) if grow > 0.0 else 1
    parts = max(1, min(_FINEST, parts))
    return Grid(
        x0=grid.x0,
        y0=grid.y0,
        cell=grid.cell / parts,
        rows=grid.rows * parts,
        columns=grid.columns * parts,
    )


def _disc_table(radius: float, cell: float) -> HeightArray:
    """0 where two closed cells at that offset come within the radius, else no entry."""
    count = math.ceil(radius / cell) + 1
    gap = np.maximum(np.abs(np.arange(-count, count + 1)) - 1, 0) * cell
    near = np.hypot(gap[:, None], gap[None, :]) <= radius + _SLACK
    return np.where(near, 0.0, np.inf).astype(np.float32)


def _largest(heights: HeightArray, parts: int) -> HeightArray:
    rows, columns = heights.shape
    blocks = heights.reshape(rows // parts, parts, columns // parts, parts)
    return np.asarray(blocks.max(axis=(1, 3)), dtype=np.float32)


def _paste(z: HeightArray, rows: slice, columns: slice, heights: HeightArray) -> None:
    """Raises z to a patch that may hang over its edges."""
    top, left = max(0, -rows.start), max(0, -columns.start)
    target = z[max(0, rows.start) : max(0, rows.stop), max(0, columns.start) : max(0, columns.stop)]
    part = heights[top : top + target.shape[0], left : left + target.shape[1]]
    np.maximum(target, part, out=target)


def _window(
    grid: Grid, low: FloatArray, high: FloatArray, over: int = 0
) -> tuple[slice, slice, Grid] | None:
    """The rows and columns that a box in plan can touch, and their grid; it may hang over the
    edges of the whole grid by `over` cells. None where it touches nothing."""
    origin = np.array([grid.x0, grid.y0])
    size = np.array([grid.columns, grid.rows])
    first = np.maximum(np.floor((low - origin) / grid.cell) - 1, -over).astype(int)
    end = np.minimum(np.floor((high - origin) / grid.cell) + 2, size + over).astype(int)
    if (end <= first).any():
        return None
    corner = origin + first * grid.cell
    patch = Grid(
        x0=float(corner[0]),
        y0=float(corner[1]),
        cell=grid.cell,
        rows=int(end[1] - first[1]),
        columns=int(end[0] - first[0]),
    )
    return slice(int(first[1]), int(end[1])), slice(int(first[0]), int(end[0])), patch


def _around(piece: Piece, radius: float) -> tuple[FloatArray, FloatArray]:
    at = np.array(piece.at)
    return at - radius, at + radius


def _triangulated(area: shapely.Geometry, top: float) -> FloatArray:
    """(t, 3, 3) triangles that cover an area, all at height `top`."""
    rings = _triangles_in(area)
    return np.concatenate([rings, np.full((*rings.shape[:2], 1), top)], axis=2)


@lru_cache(maxsize=256)
def _triangles_in(area: shapely.Geometry) -> FloatArray:
    """(t, 3, 2) triangles that cover an area: the same for every field of a job."""
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(area))
    rings = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    rings.flags.writeable = False
    return np.asarray(rings)


def _scratch() -> FloatArray:
    return np.empty((3, 9, 3))


def _place(grid: Grid) -> tuple[float, float, float]:
    return float(grid.x0), float(grid.y0), float(grid.cell)
