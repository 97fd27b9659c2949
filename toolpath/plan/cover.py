"""What a path cuts and what it leaves.

Frame: x, y of the blank frame, millimetres. Round ends are chords inside the true circle, so what
is said to be cut is cut.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import Ring, quad_segments
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


def swept(paths: Sequence[FloatArray], radius: float) -> BaseGeometry:
    """The area that a disc sweeps whose centre goes along polylines, each (n, 2)."""
    lines = [shapely.linestrings(path) for path in paths if len(path) > 1]
    lines += [shapely.points(path[0]) for path in paths if len(path) == 1]
    quad_segs = quad_segments(radius, ALLOWANCES.cover_bound)
    return shapely.union_all(
        shapely.buffer(np.array(lines, dtype=object), radius, quad_segs=quad_segs)
    )


def reachable(centres: BaseGeometry, radius: float) -> BaseGeometry:
    """All that the cutter can reach with its centre in `centres`: the opening of the region."""
    return centres.buffer(radius, quad_segs=quad_segments(radius, ALLOWANCES.cover_bound))


def left_standing(can: BaseGeometry, cut: BaseGeometry) -> tuple[Polygon, ...]:
    """The slivers that could be cut and are not, thicker than `TOLERANCES.cover`."""
    rest = can.difference(cut)
    parts = [part for part in shapely.get_parts(rest) if isinstance(part, Polygon)]
    return tuple(part for part in parts if not part.buffer(-TOLERANCES.cover / 2.0).is_empty)


def fix_up(sliver: Polygon, centres: Polygon, radius: float, turn: float) -> tuple[Ring, ...]:
    """What the cutter's centre must visit so that a sliver goes: a point, or loops round it.

    Slivers lie inside the centre region, further than the radius from its edge, as the ring
    along the wall is always cut; for a speck at a wall, which is the rounding of that, nothing is.
    """
    spot = _one_point(sliver, radius)
    if spot is not None and centres.intersects(spot):
        return (Ring(inset=-1, points=shapely.get_coordinates(spot)),)
    found = []
    for part in shapely.get_parts(sliver.simplify(TOLERANCES.cover).intersection(centres)):
        if isinstance(part, Polygon) and not part.is_empty:
            oriented = shapely.orient_polygons(part, exterior_cw=turn < 0)
            loops = (oriented.exterior, *oriented.interiors)
            found += [Ring(inset=-1, points=shapely.get_coordinates(loop)) for loop in loops]
    return tuple(found)


def _one_point(sliver: Polygon, radius: float) -> Point | None:
    """A place from which the whole sliver is within the radius, or None."""
    bound = shapely.minimum_bounding_circle(sliver)
    corners = shapely.get_coordinates(sliver)
    centre = bound.centroid
    reach = np.hypot(*(corners - shapely.get_coordinates(centre)[0]).T).max()
    return centre if reach < radius - TOLERANCES.cover else None
