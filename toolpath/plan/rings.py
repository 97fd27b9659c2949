"""Offset loops: the centre region of a cutter and the rings that clear it.

Frame: x, y of the blank frame, millimetres. Every loop is offset from the wall itself, never from
the loop before it: rounded corners of rounded corners breed vertices.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import islice
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, Outline, area_of
from toolpath.plan.allowances import ALLOWANCES
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ring:
    """A loop of the cutter's centre, or a single point that it must visit.

    `points` is (n, 2), closed (the last equals the first), walked in climb direction; (1, 2) for
    a point. `inset` counts stepovers from the wall: 0 runs along it, -1 was added to reach
    what the others leave.
    """

    inset: int
    points: FloatArray = field(repr=False)

    @property
    def geometry(self) -> LineString | Point:
        """The loop as a line, or the point."""
        return LineString(self.points) if len(self.points) > 1 else Point(self.points[0])

    @property
    def length(self) -> float:
        """Length of the loop, mm."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


def quad_segments(distance: float, bound: float) -> int:
    """Chords per quarter turn with which the library's arcs stay within `bound` of the true ones.

    The library rounds the number of chords, so that one can span 1.5 times the nominal angle
    (measured): the bound is distance * (1 - cos(1.5 * 90 degrees / (2 * chords))).
    """
    if distance <= bound:
        return 1
    return max(4, math.ceil(0.75 * (math.pi / 2) / math.acos(1.0 - bound / distance)))


def chord_bound(distance: float, quad_segs: int) -> float:
    """How much nearer than `distance` a loop with that many chords may come to its wall, mm."""
    return distance * (1.0 - math.cos(0.75 * (math.pi / 2) / quad_segs))


def shortfall(loops: BaseGeometry, wall: BaseGeometry, distance: float) -> float:
    """How much nearer than `distance` the loops come to the wall at their corners and between."""
    if loops.is_empty:
        return 0.0
    spots = [_spots(line) for line in _lines(loops)]
    shapely.prepare(wall)
    near = shapely.distance(wall, shapely.points(np.concatenate(spots)))
    return max(0.0, distance - float(near.min()))


def wall_offset(area: BaseGeometry, distance: float, *, outward: bool) -> BaseGeometry:
    """The area shrunk (or grown) by `distance`, its edge never nearer to the wall than that.

    Where corners are rounded everything stays away by the bound of the library's chords, at most
    `TOLERANCES.offset` and less for narrow areas, where the strip that it leaves counts for more;
    without such corners the offset is exact.
    """
    strip = TOLERANCES.area * area.area / max(area.length, ALLOWANCES.same) / 4.0
    quad_segs = quad_segments(distance, max(ALLOWANCES.same, min(TOLERANCES.offset, strip)))
    if rounds_corners(area, outward=outward):
        distance += chord_bound(distance, quad_segs)
    if outward:
        return area.buffer(distance, quad_segs=quad_segs)
    return shrunk(area, distance, quad_segs)


def shrunk(area: BaseGeometry, distance: float, quad_segs: int) -> BaseGeometry:
    """The area shrunk by a distance, without what the library at times puts outside the area:
    specks beyond a wall whose opposite wall is nearer than twice the distance."""
    found = cast(BaseGeometry, area.buffer(-distance, quad_segs=quad_segs))
    parts = [part for part in shapely.get_parts(found) if not part.is_empty]
    if not parts:
        return found
    corners = [part.exterior.coords[0] for part in parts]
    inside = shapely.intersects_xy(area, np.array(corners))
    if inside.all():
        return found
    return shapely.union_all([part for part, kept in zip(parts, inside, strict=True) if kept])


def rounds_corners(area: BaseGeometry, *, outward: bool) -> bool:
    """Whether an offset has round corners: growing at convex ones, shrinking at the others."""
    way = 1.0 if outward else -1.0
    oriented = shapely.orient_polygons(area)
    return any(bool((way * _turning(line) > ALLOWANCES.same).any()) for line in _lines(oriented))


def _turning(line: FloatArray) -> FloatArray:
    """Sine of the turn at each corner of a closed loop, positive to the left."""
    ahead = np.diff(line, axis=0)
    ahead = ahead / np.hypot(*ahead.T)[:, None]
    before = np.roll(ahead, 1, axis=0)
    return np.asarray(before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0], dtype=np.float64)


def inner_offset(area: BaseGeometry, distance: float) -> BaseGeometry:
    """The area shrunk by `distance` and the rounding of its arcs, for rings away from walls."""
    quad_segs = quad_segments(distance, ALLOWANCES.inner_bound)
    return shrunk(area, distance + chord_bound(distance, quad_segs), quad_segs)


def offsets(
    area: BaseGeometry,
    distances: Iterable[float],
    shrink: Callable[[BaseGeometry, float], BaseGeometry] = inner_offset,
) -> Iterator[BaseGeometry]:
    """The area shrunk by each distance, in order, until nothing is left; on two threads."""
    wanted = iter(distances)
    with ThreadPoolExecutor(max_workers=2) as pool:
        while batch := list(islice(wanted, 4)):
            for found in pool.map(lambda distance: shrink(area, distance), batch):
                if found.is_empty:
                    return
                yield found


def flat_area(outline: Outline, tolerance: float, err: Err) -> BaseGeometry:
    """An outline as one area, its arcs flattened on the side `err`."""
    return cast(BaseGeometry, area_of(outline, tolerance, err))


def polygons_of(geometry: BaseGeometry) -> tuple[Polygon, ...]:
    """The polygons of a geometry, by the place of their lower left corner, slivers left out."""
    parts = [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon)]
    whole = [part for part in parts if part.length > ALLOWANCES.same]
    return tuple(sorted(whole, key=lambda part: part.bounds[:2]))


def rings_of(polygon: Polygon, inset: int, turn: float) -> tuple[Ring, ...]:
    """The loops of a polygon of the cutter's centre, climbing with a clockwise spindle.

    The material is outside the polygon and must be on the right of travel: outer loops
    counter-clockwise, holes clockwise for `turn` 1, the other way for -1.
    """
    oriented = shapely.orient_polygons(polygon, exterior_cw=turn < 0)
    return tuple(
        Ring(inset=inset, points=shapely.get_coordinates(loop))
        for loop in (oriented.exterior, *oriented.interiors)
    )


def needless(polygon: Polygon, radius: float, step: float) -> bool:
    """Whether all of a polygon is within the cutter's reach from the ring a step outside it."""
    slack = radius - step - ALLOWANCES.spare
    return slack > 0 and bool(polygon.buffer(-slack).is_empty)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """One connected part of the centre region, with the rings that clear it."""

    area: Polygon
    rings: tuple[Ring, ...]


def rooms_of(
    area: BaseGeometry, *, radius: float, step: float, turn: float, leave: float = 0.0
) -> tuple[Room, ...]:
    """The parts of `area` in which the cutter's centre can move, each with its rings.

    Parameters
    ----------
    area : what is to be cleared, flattened on the safe side.
    radius, step : of the cutter, and from one ring to the next.
    turn : 1 where climbing is counter-clockwise along an outer wall in this frame, else -1.
    leave : what is left on the walls, mm.
    """
    parts = polygons_of(wall_offset(area, radius + leave, outward=False))
    return _with_rings(area, parts, (radius + leave, radius), step, turn)


def rooms_in(centres: BaseGeometry, *, radius: float, step: float, turn: float) -> tuple[Room, ...]:
    """The parts of a region of the cutter's centre, whose edge is itself the first ring."""
    return _with_rings(centres, polygons_of(centres), (0.0, radius), step, turn)


def _with_rings(
    area: BaseGeometry,
    parts: tuple[Polygon, ...],
    reach: tuple[float, float],
    step: float,
    turn: float,
) -> tuple[Room, ...]:
    """Rings at the first of `reach` from the edge of the area and every step from there; the
    second is the cutter's radius."""
    first, radius = reach
    found = [list(rings_of(part, 0, turn)) for part in parts]
    for inset, polygon in _inner_polygons(area, parts, first, step):
        room = _room_at(parts, polygon)
        if room is not None and not needless(polygon, radius, step):
            found[room].extend(rings_of(polygon, inset, turn))
    return tuple(
        Room(area=part, rings=tuple(rings)) for part, rings in zip(parts, found, strict=True)
    )


def _inner_polygons(
    area: BaseGeometry, parts: Sequence[Polygon], first: float, step: float
) -> Iterator[tuple[int, Polygon]]:
    if not parts:
        return
    distances = (first + step * inset for inset in range(1, 1_000_000))
    for inset, geometry in enumerate(offsets(area, distances), start=1):
        for polygon in polygons_of(geometry):
            yield inset, polygon


def _room_at(parts: Sequence[Polygon], polygon: Polygon) -> int | None:
    spot = polygon.representative_point()
    return next((i for i, part in enumerate(parts) if part.intersects(spot)), None)


def _lines(area: BaseGeometry) -> list[FloatArray]:
    """All loops of an area, closed, as they are oriented."""
    polygons = shapely.get_parts(area)
    loops = [loop for part in polygons for loop in (part.exterior, *part.interiors)]
    return [shapely.get_coordinates(loop) for loop in loops]


def _spots(line: FloatArray) -> FloatArray:
    middles = (line[1:] + line[:-1]) / 2.0
    return np.concatenate([line, middles])
