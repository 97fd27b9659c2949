"""Channels as wide as the cutter, and what lies beyond those that are narrower.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import polygons_of, quad_segments

TAPER = 1.7
"""Corners end this near, in radii of the largest disc inside what is left of them, to what was
reached (measured on corners of 8 degrees and more); what goes further is a part of its own."""
LEAST_PART = 0.05
"""Parts smaller than this, in squares of the radius, are not worth a word."""


def necks_of(area: BaseGeometry, centres: BaseGeometry, radius: float) -> BaseGeometry:
    """Where the centre goes to cut channels that are as wide as the cutter, or narrower by no
    more than twice `ALLOWANCES.neck`, and on into what they open into: the strips that `centres`
    leaves out."""
    reach = radius - ALLOWANCES.neck
    wide = area.buffer(-reach, quad_segs=quad_segments(reach, ALLOWANCES.neck / 10.0))
    strips = wide.difference(centres.buffer(1.5 * ALLOWANCES.neck))
    long = [part for part in polygons_of(strips) if _extent(part) >= ALLOWANCES.neck_least]
    return joined(shapely.union_all(long), wide)


def joined(parts: BaseGeometry, centres: BaseGeometry) -> BaseGeometry:
    """Narrow parts of a region of the centre, with a little of what they open into."""
    if parts.is_empty:
        return parts
    return parts.union(centres.intersection(parts.buffer(ALLOWANCES.mouth)))


def parts_beyond(area: BaseGeometry, reached: BaseGeometry, radius: float) -> tuple[Polygon, ...]:
    """What of an area no cutter gets to because the way is too narrow, without the corners that
    every round cutter leaves."""
    parts = polygons_of(area.difference(reached.buffer(2.0 * ALLOWANCES.neck)))
    return tuple(part for part in parts if _is_own_part(part, reached, radius))


def _is_own_part(part: Polygon, reached: BaseGeometry, radius: float) -> bool:
    if part.area < LEAST_PART * radius**2:
        return False
    widest = shapely.maximum_inscribed_circle(part, tolerance=radius / 500.0)
    disc = float(widest.length)
    middle = part.buffer(-0.95 * disc)
    if reached.is_empty or middle.is_empty:
        return reached.is_empty
    return furthest(middle, reached, disc / 4.0) > TAPER * disc


def furthest(part: BaseGeometry, other: BaseGeometry, dense: float) -> float:
    """How far the edge of a part gets from another geometry, looked at every `dense` mm."""
    spots = shapely.get_coordinates(shapely.segmentize(part, dense))
    return float(shapely.distance(other, shapely.points(spots)).max())


def _extent(part: Polygon) -> float:
    x0, y0, x1, y1 = part.bounds
    return max(x1 - x0, y1 - y0)
