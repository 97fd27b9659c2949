"""Embedded pieces as they are drawn: footprints in plan, heights, and cuts through them.

For drawing only: no verdict rests on it. Footprints are in the blank frame; sections are in the
frame of a line as seen from a face, s along the line and z above that face. Where a shape has to
be approached it is drawn at its true size within a twentieth of a millimetre or a three-hundredth
of the piece, whichever is more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, area_of
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
from toolpath.show.seen import Seen

FloatArray = NDArray[np.float64]

_TURNS = 5
"""Turned positions drawn across a drift in turn."""
_SHIFTS = 5
"""Slices drawn across a drift to the side."""
_FEW_TRIANGLES = 3000
_SLIVER = 1e-3
"""Smaller holes in the outline of a mesh are none, mm²."""
_QUARTER = 40
"""Chords of a quarter of a ball."""
_PIECES = 2048
"""Pieces whose outlines are kept for the pictures that follow."""
_FLATTEN = 0.02
"""Largest distance in mm of a drawn chord from the curve of a prism."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """An upright plane: through `origin` (as seen from a face) along the unit `direction`."""

    origin: tuple[float, float]
    direction: tuple[float, float]

    def local(self, xy: FloatArray) -> FloatArray:
        """(n, 2) seen points as (s along the line, distance to its left)."""
        (ux, uy), from_origin = self.direction, xy - self.origin
        along = from_origin @ np.array([ux, uy])
        return np.column_stack([along, from_origin @ np.array([-uy, ux])])

    def intervals(self, area: BaseGeometry) -> tuple[tuple[float, float], ...]:
        """Stretches of s on which the line lies inside an area given as seen."""
        if area.is_empty:
            return ()
        ends = self._span(area)
        (ox, oy), (ux, uy) = self.origin, self.direction
        line = shapely.LineString([(ox + s * ux, oy + s * uy) for s in ends])
        shared = shapely.get_parts(shapely.intersection(line, area))
        found = []
        for part in shared:
            along = self.local(shapely.get_coordinates(part))[:, 0]
            if len(along) and along.max() > along.min():
                found.append((float(along.min()), float(along.max())))
        return tuple(sorted(found))

    def _span(self, area: BaseGeometry) -> tuple[float, float]:
        """Two values of s between which all of the area lies."""
        xmin, ymin, xmax, ymax = area.bounds
        corners = np.array([(xmin, ymin), (xmin, ymax), (xmax, ymin), (xmax, ymax)])
        along = self.local(corners)[:, 0]
        return float(along.min()) - 1.0, float(along.max()) + 1.0


def _turned(xy: FloatArray, angle: float) -> FloatArray:
    """Points turned counter-clockwise about the origin."""
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(xy @ np.array([[c, s], [-s, c]]))


@lru_cache(maxsize=64)
def _mesh_about_centre(piece: Piece) -> tuple[FloatArray, float]:
    """Vertices of a mesh piece, tilted and turned, centre of the bounding box in plan at 0, 0 and
    the lowest vertex at z = 0; and its height."""
    mesh = _as_mesh(piece)
    about_x, about_y = mesh.tilt
    xyz = np.array(mesh.vertices, dtype=np.float64)
    xyz[:, 1:] = _turned(xyz[:, 1:], about_x)
    xyz[:, [2, 0]] = _turned(xyz[:, [2, 0]], about_y)
    xyz[:, :2] = _turned(xyz[:, :2], piece.turn)
    low, high = xyz.min(axis=0), xyz.max(axis=0)
    middle = (low + high) / 2.0
    xyz -= (middle[0], middle[1], low[2])
    return xyz, float(high[2] - low[2])


@lru_cache(maxsize=64)
def _as_mesh(piece: Piece) -> Mesh:
    """A piece of triangles; measured tops get walls and a flat foot."""
    if isinstance(piece.solid, Mesh):
        return piece.solid
    assert isinstance(piece.solid, Heights)
    points, top = piece.solid.points, _upwards(piece.solid)
    count = len(points)
    foot = points * [1.0, 1.0, 0.0]
    edges = np.concatenate([top[:, [0, 1]], top[:, [1, 2]], top[:, [2, 0]]])
    shared = {(b, a) for a, b in edges.tolist()}
    rim = np.array([e for e in edges.tolist() if tuple(e) not in shared], dtype=np.int64)
    a, b = rim.reshape(-1, 2).T
    walls = [np.column_stack(c) for c in ((b, a, a + count), (b, a + count, b + count))]
    triangles = np.concatenate([top, top[:, ::-1] + count, *walls])
    return Mesh(file=piece.solid.file, vertices=np.concatenate([points, foot]), triangles=triangles)


def _upwards(heights: Heights) -> NDArray[np.int64]:
    """Its triangles, counter-clockwise seen from above."""
    area = _double_area(heights.points[:, :2], heights.triangles)
    turned = np.where((area < 0.0)[:, None], heights.triangles[:, ::-1], heights.triangles)
    return np.asarray(turned[area != 0.0])


def height_of(piece: Piece) -> float:
    """Height of a piece as it lies, mm."""
    match piece.solid:
        case Box(size=size):
            return size[2]
        case Cylinder(height=height) | Prism(height=height):
            return height
        case Sphere(diameter=diameter):
            return diameter
        case Mesh() | Heights():
            return _mesh_about_centre(piece)[1]


def z_range(piece: Piece, blank: Blank) -> tuple[float, float]:
    """Lowest and highest z of a piece in the blank frame, nominal."""
    height = height_of(piece)
    if piece.measured_from is Side.FRONT:
        return -piece.depth - height, -piece.depth
    low = -blank.thickness + piece.depth
    return low, low + height


def depth_below(piece: Piece, blank: Blank, side: Side) -> float:
    """Depth of a piece's nearest point below a face, nominal."""
    low, high = z_range(piece, blank)
    return -high if side is Side.FRONT else blank.thickness + low


def rise_seen_from(piece: Piece, blank: Blank, side: Side) -> float:
    """How far a piece may lie higher or lower than stated, from this face: its own rise, and how
    far the thickness may differ where it was measured from the other face."""
    other = blank.thickness_within if piece.measured_from is not side else 0.0
    return piece.drift.rise + other


@lru_cache(maxsize=_PIECES)
def footprint(piece: Piece) -> BaseGeometry:
    """Outline of a piece in plan as stated, blank frame."""
    x, y = piece.at
    shape: BaseGeometry
    match piece.solid:
        case Box(size=(length, width, _)):
            flat = shapely.box(-length / 2, -width / 2, length / 2, width / 2)
            shape = shapely.affinity.rotate(flat, piece.turn, origin=(0, 0), use_radians=True)
        case Cylinder(diameter=diameter) | Sphere(diameter=diameter):
            shape = shapely.buffer(shapely.Point(0, 0), diameter / 2, quad_segs=24)
        case Prism(outline=outline):
            shape = _turned_outline(area_of(outline, _FLATTEN, Err.INWARD), piece.turn)
        case Mesh() | Heights():
            shape = _shadow(_mesh_about_centre(piece)[0][:, :2], _as_mesh(piece))
    return shapely.affinity.translate(shape, x, y)


def _turned_outline(area: shapely.Geometry, turn: float) -> BaseGeometry:
    """An outline turned, then moved so that the middle of its box lies at 0, 0."""
    assert isinstance(area, BaseGeometry)
    shape = shapely.affinity.rotate(area, turn, origin=(0, 0), use_radians=True)
    left, low, right, high = shape.bounds
    return shapely.affinity.translate(shape, -(left + right) / 2.0, -(low + high) / 2.0)


def _shadow(xy: FloatArray, mesh: Mesh) -> BaseGeometry:
    """Union of triangles in plan; many triangles are first drawn together on a fine raster.

    The upper side of a closed mesh covers all that its lower side does.
    """
    triangles = mesh.triangles
    if mesh.watertight:
        triangles = triangles[_double_area(xy, triangles) > 0.0]
    if len(triangles) > _FEW_TRIANGLES:
        step = float(np.ptp(xy, axis=0).max()) / 300.0
        xy, which = np.unique(np.round(xy / step) * step, axis=0, return_inverse=True)
        triangles = np.unique(np.sort(which.reshape(-1)[triangles], axis=1), axis=0)
    solid = triangles[_double_area(xy, triangles) != 0.0]
    whole = shapely.union_all(shapely.polygons(xy[solid])).simplify(0.02)
    return _without_slivers(whole)


def _without_slivers(area: BaseGeometry) -> BaseGeometry:
    """Without the holes of hardly any area that edges leave which nearly meet: moved they are no
    valid rings."""
    parts = [
        shapely.Polygon(part.exterior, [r for r in part.interiors if _area_in(r) > _SLIVER])
        for part in shapely.get_parts(area)
    ]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def _area_in(ring: shapely.LinearRing) -> float:
    return float(shapely.Polygon(ring).area)


def _double_area(xy: FloatArray, triangles: NDArray[np.int64]) -> FloatArray:
    """Twice the signed area in plan of each triangle."""
    corners = xy[triangles]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])


@lru_cache(maxsize=_PIECES)
def grown_footprint(piece: Piece) -> BaseGeometry:
    """Everything in plan that a piece may cover, drift in turn and to the side added."""
    shape = footprint(piece)
    if piece.drift.turn > 0.0 and not isinstance(piece.solid, Cylinder | Sphere):
        turns = np.linspace(-piece.drift.turn, piece.drift.turn, _TURNS)
        shape = shapely.union_all(
            [shapely.affinity.rotate(shape, t, origin=piece.at, use_radians=True) for t in turns]
        )
    return shapely.buffer(shape, piece.drift.side) if piece.drift.side > 0.0 else shape


def section(piece: Piece, blank: Blank, seen: Seen, line: Line) -> BaseGeometry:
    """What an upright plane cuts out of a piece as stated, in (s, z)."""
    return _cut_through(piece, blank, seen, line, drift=Drift(), rise=0.0)


@lru_cache(maxsize=128)
def grown_section(piece: Piece, blank: Blank, seen: Seen, line: Line) -> BaseGeometry:
    """The same for everything that the piece may take up, its drift added."""
    rise = rise_seen_from(piece, blank, seen.side)
    return _cut_through(piece, blank, seen, line, drift=piece.drift, rise=rise)


def _cut_through(
    piece: Piece, blank: Blank, seen: Seen, line: Line, *, drift: Drift, rise: float
) -> BaseGeometry:
    low, high = sorted(seen.height(z) for z in z_range(piece, blank))
    match piece.solid:
        case Box() | Cylinder() | Prism():
            plan = footprint(piece) if drift == Drift() else grown_footprint(piece)
            strips = line.intervals(seen.geometry(plan))
            return shapely.union_all(
                [shapely.box(a, low - rise, b, high + rise) for a, b in strips]
            )
        case Sphere(diameter=diameter):
            middle = np.array([[*seen.point(*piece.at)]])
            s, off = line.local(middle)[0]
            flat = _ball_profile(diameter / 2, float(off), drift.side, rise)
            return shapely.affinity.translate(flat, float(s), (low + high) / 2.0)
        case Mesh() | Heights():
            return _mesh_section(piece, seen, line, low, drift, rise)


def _ball_profile(radius: float, off: float, side: float, rise: float) -> BaseGeometry:
    """Section of a ball grown by `side` in plan and `rise` upright, `off` from its middle."""
    turn = np.linspace(-math.pi / 2, math.pi / 2, 2 * _QUARTER + 1)
    z = radius * np.sin(turn) + rise * np.sign(turn)
    reach = radius * np.cos(turn) + side
    hit = reach >= abs(off)
    if hit.sum() < 2:
        return shapely.Polygon()
    half, z = np.sqrt(reach[hit] ** 2 - off**2), z[hit]
    ring = np.column_stack([np.concatenate([half, -half[::-1]]), np.concatenate([z, z[::-1]])])
    return shapely.Polygon(ring)


def _mesh_section(
    piece: Piece, seen: Seen, line: Line, low: float, drift: Drift, rise: float
) -> BaseGeometry:
    """Slices of a mesh, swept by the drift to each side and upright."""
    triangles = _as_mesh(piece).triangles
    about, height = _mesh_about_centre(piece)
    up = about[:, 2] if seen.side is Side.FRONT else height - about[:, 2]
    turns = np.linspace(-drift.turn, drift.turn, _TURNS if drift.turn > 0.0 else 1)
    shifts = np.linspace(-drift.side, drift.side, _SHIFTS if drift.side > 0.0 else 1)
    found = []
    for turn in turns:
        xy = seen.xy(_turned(about[:, :2], float(turn)) + piece.at)
        local = np.column_stack([line.local(xy), up + low])
        for shift in shifts:
            flat = _slice(local, triangles, float(shift))
            sideways = math.sqrt(max(drift.side**2 - float(shift) ** 2, 0.0))
            found.append(_swept(flat, sideways, rise))
    return shapely.union_all(found)


def _slice(local: FloatArray, triangles: NDArray[np.int64], shift: float) -> BaseGeometry:
    """The area in (s, z) in which the plane at `shift` to the left cuts a mesh given as
    (s, left, z). Open meshes, whose cut does not close, give the hull of the cut."""
    left = local[:, 1] - shift
    above = (left >= 0.0)[triangles]
    cut = triangles[(above.sum(axis=1) % 3) != 0]
    if len(cut) == 0:
        return shapely.Polygon()
    above = (left >= 0.0)[cut]
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    rows = np.arange(len(cut))
    apex, one, two = (cut[rows, (lone + k) % 3] for k in range(3))
    ends = [_crossing(local, left, apex, other) for other in (one, two)]
    lines = shapely.linestrings(np.round(np.stack(ends, axis=1), 6))
    segments = list(np.atleast_1d(np.asarray(lines, dtype=object)))
    faces = shapely.polygonize(segments)
    if faces.is_empty:
        return shapely.convex_hull(shapely.MultiLineString(segments))
    return shapely.union_all(shapely.get_parts(faces)).simplify(0.02)


def _crossing(
    local: FloatArray, left: FloatArray, first: NDArray[np.int64], second: NDArray[np.int64]
) -> FloatArray:
    """(n, 2) where edges cross the plane; the same edge gives the same point from both sides."""
    a, b = np.minimum(first, second), np.maximum(first, second)
    share = left[a] / (left[a] - left[b])
    return np.asarray((local[a] + share[:, None] * (local[b] - local[a]))[:, [0, 2]])


def _swept(area: BaseGeometry, sideways: float, upright: float) -> BaseGeometry:
    """An area moved anywhere within `sideways` along s and `upright` along z."""
    for step in ((sideways, 0.0), (0.0, upright)):
        if max(step) > 0.0 and not area.is_empty:
            area = _drawn_out(area, np.array(step))
    return area


def _drawn_out(area: BaseGeometry, step: FloatArray) -> BaseGeometry:
    """Everything that an area passes over on its way from -step to +step."""
    parts: list[BaseGeometry] = [
        shapely.affinity.translate(area, *(sign * step)) for sign in (-1.0, 1.0)
    ]
    for ring in shapely.get_rings(area):
        corners = shapely.get_coordinates(ring)
        a, b = corners[:-1], corners[1:]
        slabs = np.stack([a - step, b - step, b + step, a + step], axis=1)
        parts.extend(np.atleast_1d(np.asarray(shapely.polygons(slabs), dtype=object)))
    return shapely.union_all(shapely.make_valid(np.array(parts, dtype=object)))
