"""Corners that an earlier cutter left round, cut to and fro on ever smaller roundings.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. Every pass begins where the one before ended, so that there is no way back
between; the last comes back along the wall to where the corner begins, and a skin stays along the
walls for the climbing pass after it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corner_arcs import SPARE
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.lines import along, length_of, starting_at, stretch
from toolpath.plan.near import Near
from toolpath.plan.places import Place
from toolpath.plan.rings import polygons_of, quad_segments

FloatArray = NDArray[np.float64]

SKIN = 0.05
"""What stays along the walls, in radii."""
SMALLEST = 0.05
"""The last rounding, in radii; larger where the skin before it would meet more than the bound."""
LARGEST = 0.6
"""... but no larger than this."""
NEXT = 0.95
"""From one rounding that is tried to the next; a pass is on the smallest that keeps the bound."""
AIM = math.radians(2.0)
"""The passes keep this much less than the bound."""
FILM = 0.03
"""A pass ends where what it meets gets thinner than this, in radii: the next begins there."""
THIN = 0.01
"""The pass home goes on to where that is thinner than this, mm."""
DENSE = 0.04
"""Places at which the angle is asked, in radii."""
SPARSE = 5
"""In every so manyth of them at once it is asked whether more than a film is met, and so from each
of the first on: from one to the next the cutter goes on by more than that."""
AROUND = 2.5
"""So far round a place its walls are looked at, in radii."""
APART = 1.5
"""What is met further apart than this, in radii, is not one corner."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corner:
    """A place as the passes find it: its stock, the loops of all roundings, and the bound."""

    near: Near
    rings: tuple[tuple[float, FloatArray], ...] = field(repr=False)
    """Radius and closed loop (n, 2), climbing, the largest first."""
    bound: float

    def met(self, ring: FloatArray, film: float) -> FloatArray:
        """Distances along a loop at which more than such a film is met."""
        angle = np.zeros(len(ring))
        for first in range(SPARSE):
            rows = slice(first, None, SPARSE)
            angle[rows] = self.near.copy().engaged(ring[rows], film=film)
        return along(ring)[angle > 0.0]

    def keeps(self, way: FloatArray) -> bool:
        """Whether a way keeps the bound."""
        return bool(self.near.copy().engaged(way).max() <= self.bound - AIM)


def smallest(bound: float) -> float:
    """The last rounding, in radii, after which a pass with all of the skin keeps the bound.

    The pass goes round `last + SKIN`, what stands begins at `last + 1` from the same middle: the
    rim meets it from where it is that far away on (law of cosines).
    """
    room = 2.0 * (1.0 - SKIN - math.cos(bound - SPARE))
    if room <= 0.0:
        return LARGEST
    return min(LARGEST, max(SMALLEST, SKIN * (2.0 - SKIN) / room - SKIN))


def cut_to_and_fro(walk: Walk, area: BaseGeometry, place: Place, bound: float) -> float | None:
    """To and fro through one corner, from the first rounding that meets something on. Returns the
    radius of the last rounding; None where the place is no such corner, or nothing was cut."""
    corner = _corner(walk.near, area, place, bound)
    if corner is None:
        return None
    ways, last = _ways(corner)
    if last is None:
        return None
    for row, way in enumerate(ways):
        if row == 0:
            walk.cut(Kind.CUT, way)
        else:
            walk.near.sweep(way)
            walk.take(Kind.CUT, way)
    return last


def _ways(corner: _Corner) -> tuple[list[FloatArray], float | None]:
    """The passes one after another, and the radius of the last rounding, None if there is none."""
    ways: list[FloatArray] = []
    side, last, row = 1, -1, 0
    while row < len(corner.rings):
        found = _deepest(corner, row, side, ways[-1][-1] if ways else None)
        if found is None:
            break
        last, way = found
        corner.near.sweep(way)
        ways.append(way)
        side, row = -side, last + 1
    if last < 0:
        return [], None
    home = _home(corner, corner.rings[last][1], ways[-1][-1])
    if home is not None:
        ways.append(home)
    return ways, corner.rings[last][0]


def _deepest(
    corner: _Corner, row: int, side: int, at: FloatArray | None
) -> tuple[int, FloatArray] | None:
    """Of the roundings from a row on the smallest on which a pass keeps the bound, and that."""
    found: tuple[int, FloatArray] | None = None
    for number in range(row, len(corner.rings)):
        ring = corner.rings[number][1][::side]
        met = corner.met(ring, FILM * corner.near.radius)
        if not len(met):
            continue
        if np.diff(met).max(initial=0.0) > APART * corner.near.radius:
            continue
        way = _along(corner, ring, met, at)
        if way is None:
            continue
        if not corner.keeps(way):
            return found
        found = number, way
    return found


def _along(
    corner: _Corner, ring: FloatArray, met: FloatArray, at: FloatArray | None
) -> FloatArray | None:
    """From a place, or a little before what is met, to where nothing is met any more."""
    lead, last = ALLOWANCES.rest_overlap, float(met[-1])
    if at is None:
        return stretch(ring, max(0.0, _last_clear(corner, ring, float(met[0])) - lead), last)
    here = _project(ring, at)
    return (
        np.vstack([at, stretch(ring, here, last)])
        if last - here >= DENSE * corner.near.radius
        else None
    )


def _last_clear(corner: _Corner, ring: FloatArray, before: float) -> float:
    """The last of the places along a loop, before a distance, where the cutter touches nothing."""
    reach = along(ring)
    row = int(np.searchsorted(reach, before))
    while row > 0 and not corner.near.clear(ring[row : row + 1]):
        row -= 1
    return float(reach[row])


def _home(corner: _Corner, ring: FloatArray, at: FloatArray) -> FloatArray | None:
    """Back along the loop to where the corner begins."""
    back = ring[::-1]
    met, here = corner.met(back, THIN), _project(back, at)
    if not len(met) or met[-1] - here < ALLOWANCES.rest_overlap:
        return None
    way = np.vstack([at, stretch(back, here, float(met[-1]))])
    return way if corner.keeps(way) else None


def _project(ring: FloatArray, at: FloatArray) -> float:
    return float(shapely.line_locate_point(shapely.linestrings(ring), shapely.points(at)))


def _corner(near: Near, area: BaseGeometry, place: Place, bound: float) -> _Corner | None:
    radius, least = near.radius, smallest(bound) * near.radius
    x0, y0, x1, y1 = place.box(0.0)
    wide = max(x1 - x0, y1 - y0)
    around = AROUND * radius + wide / 2.0
    local = area.intersection(box(*place.box(around)))
    local = local.buffer(-SKIN * radius, join_style="mitre")
    count = math.ceil(math.log(max(1.0, wide / least)) / -math.log(NEXT))
    sizes = [least / NEXT**power for power in range(count, -1, -1)]
    found = ((size, _ring(_rounded(local, size), place, radius)) for size in sizes)
    rings = tuple((size, ring) for size, ring in found if ring is not None)
    near = near.window(place.box(around + 2.0 * radius))
    return _Corner(near=near, rings=rings, bound=bound) if rings else None


def _rounded(area: BaseGeometry, radius: float) -> BaseGeometry:
    segments = quad_segments(radius, 0.0005)
    shrunk = area.buffer(-radius, quad_segs=segments)
    return shrunk.buffer(radius + 0.0005, quad_segs=segments).intersection(area)


def _ring(area: BaseGeometry, place: Place, radius: float) -> FloatArray | None:
    """The edge of an area near a place, begun far from it; None where there is no single one."""
    parts = [part for part in polygons_of(area) if part.area > radius * radius]
    if len(parts) != 1 or parts[0].interiors:
        return None
    loop = shapely.get_coordinates(shapely.orient_polygons(Polygon(parts[0])).exterior)
    away = np.hypot(*(loop - place.spots.mean(axis=0)).T)
    loop = starting_at(loop, float(along(loop)[int(away.argmax())]))
    if length_of(loop) < radius:
        return None
    return shapely.get_coordinates(shapely.segmentize(shapely.linestrings(loop), DENSE * radius))
