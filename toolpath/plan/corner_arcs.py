"""Inner corners of walls: how the last pass rounds them, and the passes that thin what is left.

Frame: x, y of the blank frame or its mirror image, millimetres, radians. A cutter that goes into a
sharp corner at once meets both walls. So the pass along the wall turns early, on an arc, and
others follow it on ever smaller ones, each of which meets no more than the bound, until what is
left for the corner itself is a film.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.necks import furthest, joined
from toolpath.plan.regions import too_tight
from toolpath.plan.rings import polygons_of, quad_segments

FloatArray = NDArray[np.float64]

FILM = 0.012
"""What may be left in a corner for the last pass, mm: less than any chip."""
NARROW = 0.5
"""Where the centre has less room than this to each side, in radii, the way cannot turn: such
channels are slots, cut by a ramp along them."""
LESS = 0.8
"""Where there is no room for a rounding, one of this share of it is tried."""
MOUTH = 0.05
"""A narrow place opens where it comes this near to a wide one, mm."""
LEAST = 0.03
"""Narrower places, in radii to each side of the centre, keep their corners."""
SPARE = math.radians(4.0)
"""The thinning passes keep this much less than the bound."""
SMALL = 0.001
"""The least rounding that is told from none, in radii of the cutter."""
RIM = 361
"""Places on the leading half of a rim."""
MOST = 260
"""Passes in one corner at most; needles narrower than that keep a film. Most of their length is
in the first: in a needle of 10 degrees the last 200 of 260 add a sixth."""


def rounded(
    area: BaseGeometry, radius: float, cutter: float, known: BaseGeometry | None = None
) -> BaseGeometry:
    """Where a centre may be, its inner corners rounded, with the narrow places it has: in those
    the corners are rounded less, as far as there is room. What is narrow lies in `known`, if that
    is given: a needle that is a corner for one rounding is none of a channel for the next."""
    segments = quad_segments(radius, 0.0005)
    shrunk = area.buffer(-radius, quad_segs=segments)
    round_area = shrunk.buffer(radius + 0.0005, quad_segs=segments).intersection(area)
    narrow = channels(area, radius, cutter)
    if known is not None:
        narrow = narrow.intersection(known)
    if narrow.is_empty:
        return round_area
    if radius > LEAST * cutter:
        narrow = rounded(area, LESS * radius, cutter, narrow).intersection(narrow)
    return round_area.union(narrow)


def channels(area: BaseGeometry, room: float, cutter: float) -> BaseGeometry:
    """Where a centre has less room than `room` to each side, with a little of what that opens
    into; corners, however sharp, left out.

    A corner is half as long where it is half as wide; a channel is as long as before or gone. What
    leads from one wide place to another is no corner.
    """
    wide, half = (area.buffer(-each, quad_segs=16) for each in (room, room / 2.0))
    found: list[Polygon] = []
    for part in polygons_of(too_tight(area, wide, cutter, room)):
        whole = furthest(part, wide, room / 4.0) if not wide.is_empty else 1.0
        rest = furthest(part, half, room / 4.0) if not half.is_empty else 1.0
        if not 0.3 * whole < rest < 0.7 * whole:
            found.append(part)
    found += _leading_on(area, wide, room)
    return shapely.union_all(found) if found else Polygon()


def _leading_on(area: BaseGeometry, wide: BaseGeometry, room: float) -> list[Polygon]:
    """The narrow places, however short, that lead from one wide place to another."""
    opened = wide.buffer(room, quad_segs=16)
    beside = opened.buffer(MOUTH)
    parts = polygons_of(area.difference(opened.buffer(ALLOWANCES.sure)))
    necks = [part for part in parts if len(polygons_of(part.intersection(beside))) > 1]
    return list(polygons_of(joined(shapely.union_all(necks), area))) if necks else []


def roundings(turn: float, first: float, bound: float, cutter: float) -> list[float]:
    """Radii of the passes of a cutter that follow one of radius `first` in a corner that turns by
    `turn` > 0; the last is 0."""
    over = 1.0 / math.cos(min(turn, math.radians(176.0)) / 2.0) - 1.0
    found: list[float] = []
    radius = first
    while radius * over > FILM and len(found) < MOST:
        radius *= shrink(round(turn, 3), round(bound - SPARE, 3), round(radius / cutter, 2))
        found.append(radius)
    return [*found, 0.0]


@lru_cache(maxsize=1024)
def shrink(turn: float, bound: float, size: float) -> float:
    """The least share of the radius of a rounding, `size` radii of the cutter, that the next may
    have in a corner that turns by `turn`."""
    shares = np.linspace(0.15, 0.95, 33)
    if _met(turn, float(shares[-1]), size) > bound:
        return 0.97
    low, high = -1, len(shares) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if _met(turn, float(shares[middle]), size) > bound:
            low = middle
        else:
            high = middle
    return float(shares[high])


def _met(turn: float, share: float, size: float) -> float:
    """The greatest engaged angle of a cutter of radius 1 on a rounding of radius share x size,
    after one of radius `size`.

    Both touch both walls of the corner. What the one before left lies between the walls, further
    than size + 1 from its middle; the walls' normals through there bound it (elementary). So small
    a `size` that the rim is as good as straight counts as `SMALL`.
    """
    size = max(size, SMALL)
    on = np.linspace(-turn / 2.0, turn / 2.0, 61)[:, None]
    rim = on + np.linspace(0.0, math.pi, RIM)[None]
    apart = (1.0 - share) * size / math.cos(turn / 2.0)
    x = share * size * np.cos(on) + np.cos(rim) + apart
    y = share * size * np.sin(on) + np.sin(rim)
    left = (np.hypot(x, y) > 1.0 + size + 1e-9) & (np.abs(np.arctan2(y, x)) < turn / 2.0)
    return float(left.sum(axis=1).max()) * math.pi / (RIM - 1)


def beyond(wider: BaseGeometry, narrower: BaseGeometry, turn: float) -> list[FloatArray]:
    """The stretches (n, 2) of the edge of an area that lie outside a narrower one, climbing for
    `turn` 1."""
    found: list[FloatArray] = []
    known = narrower.buffer(0.001, quad_segs=4)
    for part in polygons_of(wider):
        oriented = shapely.orient_polygons(Polygon(part), exterior_cw=turn < 0)
        for loop in (oriented.exterior, *oriented.interiors):
            lines = LineString(loop).difference(known)
            merged = shapely.line_merge(lines, directed=True)
            found += [
                shapely.get_coordinates(line)
                for line in shapely.get_parts(merged)
                if isinstance(line, LineString) and not line.is_ring
            ]
    return found
