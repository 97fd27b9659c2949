"""Footprints of prisms grown by their turning, in the program frame of a face.

What an outline sweeps while it turns about a pivot by a small step lies in what its edges sweep
and in the outline at any one angle of the step: a point that is inside at one angle and outside
at another was crossed by an edge. An edge stays within the sagitta of the step of the four
corners of its two places, so the hull of these, and that sagitta as pad, covers it. An edge is
first parted at the foot of the perpendicular from the pivot, where its two places cross: then the
hulls reach no more than a few sagittas too far.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.frames import Frame, bounding_box
from toolpath.drawing.outline import Err, Loop, Outline, Region, area_of
from toolpath.job.model import Piece, Prism
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

_SAGITTA = 0.008
"""Sagitta of one step of a turn, mm: with the hulls needless refusal stays under 0.05 mm."""
_CHORD = 0.004
"""Largest distance of a chord from its arc where an outline may turn, mm: each edge costs a hull
a step."""
_PARTS_DEEP = 6
_FULL, _SMALL = 0.98, 1.0
"""An area that fills this share of its hull, or is this small, mm, is not parted further. It
decides speed only, like the number of times that it is halved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feet:
    """Areas that together are a footprint, and how much wider than they the footprint may be."""

    areas: tuple[BaseGeometry, ...]
    pad: float


def feet_of(piece: Piece, prism: Prism, frame: Frame) -> Feet:
    """The footprint of a prism where it nominally lies and wherever it may have turned, program
    frame; curves flattened outward. Side drift is not in it."""
    placed = placed_outline(piece, prism)
    turn = min(piece.drift.turn, math.pi)
    area = area_of(placed, _CHORD if turn > 0.0 else TOLERANCES.flatten, Err.OUTWARD)
    pad = 0.0
    if turn >= math.pi:
        area = _rings(area, piece.at)
    elif turn > 0.0:
        area, pad = _swept(area, np.array(piece.at), turn)
    placed_area = shapely.transform(area, lambda xy: xy * frame.sign[:2] + frame.shift[:2])
    return Feet(areas=tuple(convex_like(placed_area, _PARTS_DEEP)), pad=pad)


def placed_outline(piece: Piece, prism: Prism) -> Outline:
    """The outline of a prism where it nominally lies, blank frame: turned, then moved so that the
    middle of its box, arcs by their true extremes, is at `Piece.at`."""
    turned = [_turned(region, piece.turn) for region in prism.outline]
    boxes = np.array([bounding_box(region.outer) for region in turned])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    shift = np.array(piece.at) - (low + high) / 2.0
    return tuple(
        Region(outer=_shifted(region.outer, shift), holes=_all_shifted(region.holes, shift))
        for region in turned
    )


def convex_like(area: Any, deep: int) -> list[BaseGeometry]:
    """Parts of an area, together the whole of it, most of them nearly convex: an area is halved
    across its longer side until it nearly fills its hull, at most `deep` times."""
    found: list[BaseGeometry] = []
    for part in shapely.get_parts(area):
        if not part.area > 0.0:
            continue
        x0, y0, x1, y1 = part.bounds
        full = part.area >= _FULL * shapely.convex_hull(part).area
        if full or deep == 0 or max(x1 - x0, y1 - y0) <= _SMALL:
            shapely.prepare(part)
            found.append(part)
            continue
        for half in _halves(x0, y0, x1, y1):
            found += convex_like(shapely.intersection(part, half), deep - 1)
    return found


def _halves(x0: float, y0: float, x1: float, y1: float) -> tuple[Any, Any]:
    if x1 - x0 > y1 - y0:
        middle = (x0 + x1) / 2.0
        return shapely.box(x0, y0, middle, y1), shapely.box(middle, y0, x1, y1)
    middle = (y0 + y1) / 2.0
    return shapely.box(x0, y0, x1, middle), shapely.box(x0, middle, x1, y1)


def _turned(region: Region, angle: float) -> Region:
    cos, sin = math.cos(angle), math.sin(angle)

    def turned(loop: Loop) -> Loop:
        x, y, bulge = loop.points.T
        points = np.column_stack([x * cos - y * sin, x * sin + y * cos, bulge])
        return Loop(points=points, error=loop.error)

    return Region(outer=turned(region.outer), holes=tuple(turned(hole) for hole in region.holes))


def _all_shifted(loops: tuple[Loop, ...], shift: FloatArray) -> tuple[Loop, ...]:
    return tuple(_shifted(loop, shift) for loop in loops)


def _shifted(loop: Loop, shift: FloatArray) -> Loop:
    return Loop(points=loop.points + np.array([*shift, 0.0]), error=loop.error)


def _rings(area: Any, pivot: tuple[float, float]) -> Any:
    """What each part of an area sweeps in a whole turn: a ring about the pivot, or a disc."""
    centre, rings = shapely.Point(pivot), []
    for part in shapely.get_parts(area):
        corners = shapely.get_coordinates(part) - np.array(pivot)
        outer, inner = float(np.hypot(*corners.T).max()), float(shapely.distance(part, centre))
        # The library's discs are polygons inside the circle.
        ring = centre.buffer(outer / math.cos(math.pi / 1024.0), quad_segs=256)
        rings.append(ring.difference(centre.buffer(inner, quad_segs=256)) if inner > 0.0 else ring)
    return shapely.union_all(rings)


def _swept(area: Any, pivot: FloatArray, turn: float) -> tuple[Any, float]:
    """An area turned about a pivot by up to `turn` either way, but for the pad returned."""
    start, end = _edges(area, pivot)
    radius = max(float(np.hypot(*start.T).max()), _SAGITTA)
    step = 2.0 * math.acos(1.0 - min(_SAGITTA / radius, 1.0))
    count = max(1, math.ceil(2.0 * turn / step))
    angles = turn * (2.0 * np.arange(count + 1) / count - 1.0)
    corners = np.stack([start, end], axis=1)
    placed = np.stack([_about(corners, angle) for angle in angles])
    four = np.concatenate([placed[:-1], placed[1:]], axis=2).reshape(-1, 4, 2)
    hulls = np.asarray(shapely.convex_hull(shapely.linestrings(four + pivot)))
    swept = shapely.union_all([area, *hulls.tolist()])
    return swept, radius * (1.0 - math.cos(turn / count))


def _edges(area: Any, pivot: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(e, 2) both ends of every edge of an area, from the pivot, parted where they are nearest
    to it."""
    starts, ends = [], []
    for part in shapely.get_parts(area):
        for ring in (part.exterior, *part.interiors):
            corners = shapely.get_coordinates(ring) - pivot
            starts.append(corners[:-1])
            ends.append(corners[1:])
    start, end = np.concatenate(starts), np.concatenate(ends)
    along = end - start
    square = np.maximum(np.einsum("ij,ij->i", along, along), np.finfo(float).tiny)
    share = -np.einsum("ij,ij->i", start, along) / square
    cut = (share > 0.0) & (share < 1.0)
    foot = start[cut] + along[cut] * share[cut, None]
    return (
        np.concatenate([start[~cut], start[cut], foot]),
        np.concatenate([end[~cut], foot, end[cut]]),
    )


def _about(points: FloatArray, angle: float) -> FloatArray:
    cos, sin = math.cos(angle), math.sin(angle)
    x, y = points[..., 0], points[..., 1]
    return np.stack([x * cos - y * sin, x * sin + y * cos], axis=-1)
