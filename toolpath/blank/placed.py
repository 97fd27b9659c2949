"""Where a piece stands: its heights, its footprint, and how both grow with its drift."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.blank.frames import bounds_of
from toolpath.drawing.outline import Err, Loop, Region, area_of
from toolpath.job.model import (
    Blank,
    Box,
    Cylinder,
    Drift,
    Heights,
    Mesh,
    Piece,
    Prism,
    Side,
    Sphere,
)
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


def z_range(blank: Blank, piece: Piece) -> tuple[float, float]:
    """Lowest and highest z of a piece in the blank frame, as the job says, without drift."""
    height = _height(piece)
    if piece.measured_from is Side.FRONT:
        return -piece.depth - height, -piece.depth
    return piece.depth - blank.thickness, piece.depth - blank.thickness + height


def page_top(blank: Blank, piece: Piece, side: Side) -> float:
    """Highest z of a piece in the page frame of a face, grown by its rise, and by what the
    thickness may differ if it was measured from the other face."""
    bottom, top = z_range(blank, piece)
    nominal = top if side is Side.FRONT else -blank.thickness - bottom
    other = 0.0 if piece.measured_from is side else blank.thickness_within
    return nominal + piece.drift.rise + other


def plan_radius(piece: Piece) -> float:
    """Radius about `Piece.at` that holds the piece in plan, grown by its drift, mm."""
    return own_radius(piece) + piece.drift.side


@dataclass(frozen=True, slots=True, kw_only=True)
class Footprint:
    """What a piece covers in plan: the union of convex polygons, grown by a disc of `radius`."""

    polygons: tuple[FloatArray, ...]
    radius: float


def footprint(piece: Piece, drift: Drift) -> Footprint:
    """The footprint of a piece moved by a drift, blank frame; of a mesh, a prism or measured tops
    its convex hull (`toolpath.blank.shadow` has the true one).

    A box that may turn covers its two extreme positions and what its corners sweep: four
    sectors about its middle. The sectors' arcs are tangents, so it errs outward.
    """
    at = np.array(piece.at)
    if isinstance(piece.solid, Cylinder | Sphere):
        return Footprint(polygons=(at[None, :],), radius=piece.solid.diameter / 2.0 + drift.side)
    if isinstance(piece.solid, Box):
        return _box_footprint(piece.solid, piece, drift)
    hull = hull_of(_plan_points(piece) + at)
    grow = min(drift.turn, math.pi) * own_radius(piece)
    return Footprint(polygons=(hull,), radius=drift.side + grow)


def footprint_area(piece: Piece) -> shapely.Geometry:
    """The nominal footprint as a shapely area, for warnings and pictures; rounds as chords.

    That of a prism with its holes, of measured tops as their triangles cover it; of a mesh the
    convex hull.
    """
    if isinstance(piece.solid, Prism):
        return placed_area(piece)
    if isinstance(piece.solid, Heights):
        return shapely.union_all(shapely.polygons(placed_tops(piece)[:, :, :2] + piece.at))
    shape = footprint(piece, Drift())
    return shapely.union_all(
        [
            shapely.convex_hull(shapely.MultiPoint(p)).buffer(shape.radius, quad_segs=64)
            for p in shape.polygons
        ]
    )


def placed_vertices(piece: Piece) -> FloatArray:
    """(v, 3) vertices of a mesh piece, tilted and turned, with the middle of the plan box at
    x = y = 0 and the middle of its height at z = 0; x, y, z directions of the blank frame."""
    if not isinstance(piece.solid, Mesh):
        raise ValueError(f'piece "{piece.name}" is not a mesh')
    mesh = piece.solid
    points = mesh.vertices @ _about_x(mesh.tilt[0]).T @ _about_y(mesh.tilt[1]).T
    points = points @ about_z(piece.turn).T
    return np.asarray(points - 0.5 * (points.min(axis=0) + points.max(axis=0)))


def placed_tops(piece: Piece) -> FloatArray:
    """(t, 3, 3) triangles of measured tops, turned, with the middle of the plan box at x = y = 0;
    z above the flat foot."""
    if not isinstance(piece.solid, Heights):
        raise ValueError(f'piece "{piece.name}" is not measured tops')
    corners = (piece.solid.points @ about_z(piece.turn).T)[piece.solid.triangles]
    plan = corners[:, :, :2].reshape(-1, 2)
    corners[:, :, :2] -= 0.5 * (plan.min(axis=0) + plan.max(axis=0))
    return np.asarray(corners)


def placed_area(piece: Piece) -> shapely.Geometry:
    """The outline of a prism, turned and moved to its place, blank frame, arcs as tangents.

    The middle of its box is that of its true arcs. Errs outward, by `TOLERANCES.flatten` and
    twice the error of its drawing.
    """
    if not isinstance(piece.solid, Prism):
        raise ValueError(f'piece "{piece.name}" is not a prism')
    turned = tuple(_turned_region(region, piece.turn) for region in piece.solid.outline)
    boxes = np.array([bounds_of(region) for region in turned])
    middle = 0.5 * (boxes[:, 0].min(axis=0) + boxes[:, 1].max(axis=0))
    area = area_of(turned, TOLERANCES.flatten, Err.OUTWARD)
    return shapely.transform(area, lambda xy: xy - middle + np.array(piece.at))


def _turned_region(region: Region, angle: float) -> Region:
    return Region(
        outer=_turned_loop(region.outer, angle),
        holes=tuple(_turned_loop(hole, angle) for hole in region.holes),
    )


def _turned_loop(loop: Loop, angle: float) -> Loop:
    """Bulges stay as they are under a turn."""
    if angle == 0.0:
        return loop
    xy = loop.points[:, :2] @ about_z(angle)[:2, :2].T
    return Loop(points=np.column_stack([xy, loop.points[:, 2]]), error=loop.error)


def _plan_points(piece: Piece) -> FloatArray:
    """(n, 2) points about `Piece.at` whose hull holds a mesh, prism or measured tops in plan."""
    if isinstance(piece.solid, Prism):
        return np.asarray(shapely.get_coordinates(placed_area(piece)) - np.array(piece.at))
    if isinstance(piece.solid, Heights):
        return placed_tops(piece)[:, :, :2].reshape(-1, 2)
    return placed_vertices(piece)[:, :2]


def _about_x(angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def _about_y(angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def about_z(angle: float) -> FloatArray:
    """The (3, 3) turn about z, counter-clockwise seen from above."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _height(piece: Piece) -> float:
    solid = piece.solid
    if isinstance(solid, Box):
        return solid.size[2]
    if isinstance(solid, Cylinder | Prism):
        return solid.height
    if isinstance(solid, Sphere):
        return solid.diameter
    if isinstance(solid, Heights):
        return float(solid.points[solid.triangles, 2].max())
    return float(np.ptp(placed_vertices(piece)[:, 2]))


def own_radius(piece: Piece) -> float:
    """Radius about `Piece.at` that holds the piece in plan, without drift, mm."""
    solid = piece.solid
    if isinstance(solid, Box):
        return math.hypot(solid.size[0], solid.size[1]) / 2.0
    if isinstance(solid, Cylinder | Sphere):
        return solid.diameter / 2.0
    return float(np.hypot(*_plan_points(piece).T).max())


def _box_footprint(box: Box, piece: Piece, drift: Drift) -> Footprint:
    """Extreme turns and corner sectors; a quarter turn either way covers the whole disc."""
    at = np.array(piece.at)
    x, y = box.size[0] / 2.0, box.size[1] / 2.0
    if drift.turn >= math.pi / 2:
        return Footprint(polygons=(at[None, :],), radius=math.hypot(x, y) + drift.side)
    corners = np.array([[x, y], [-x, y], [-x, -y], [x, -y]])
    turns = {piece.turn - drift.turn, piece.turn + drift.turn}
    polygons = [corners @ about_z(turn)[:2, :2].T + at for turn in sorted(turns)]
    if drift.turn > 0.0:
        turned = corners @ about_z(piece.turn)[:2, :2].T
        polygons += [_sector(corner, drift.turn) + at for corner in turned]
    return Footprint(polygons=tuple(polygons), radius=drift.side)


def _sector(corner: FloatArray, half: float) -> FloatArray:
    """The sector about 0 that a corner sweeps turning by `half` either way, arc as tangents."""
    radius, middle = math.hypot(*corner), math.atan2(corner[1], corner[0])
    ratio = max(TOLERANCES.flatten / radius, 1e-6)
    count = max(1, math.ceil(half / math.acos(1.0 / (1.0 + ratio))))
    ends = middle + np.array([-half, half])
    angles = middle - half + (np.arange(count) + 0.5) * (2.0 * half / count)
    reach = radius / math.cos(half / count)
    arc = np.concatenate([ends[:1], angles, ends[1:]])
    radii = np.concatenate([[radius], np.full(count, reach), [radius]])
    rim = np.column_stack([radii * np.cos(arc), radii * np.sin(arc)])
    return np.concatenate([np.zeros((1, 2)), rim])


def hull_of(points: FloatArray) -> FloatArray:
    """(n, 2) corners of the convex hull, counter-clockwise, none repeated."""
    hull = shapely.convex_hull(shapely.MultiPoint(points))
    return shapely.get_coordinates(shapely.orient_polygons(hull))[:-1]


def closed_triangles(mesh: Mesh, points: FloatArray) -> NDArray[np.int64]:
    """The triangles of a mesh into its placed points, or those of the hull where the mesh has
    holes that one could look through."""
    if mesh.watertight:
        return mesh.triangles
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(ConvexHull(points).simplices, dtype=np.int64)
    except QhullError:
        return mesh.triangles
