"""The ledge of a pocket: a shallower rim, drawn or as wide as said."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import LinearRing, Polygon

from toolpath.drawing.outline import (
    Err,
    FloatArray,
    Loop,
    Outline,
    Region,
    arc_centre,
    area_of,
)
from toolpath.job.cross import Parts, check_inside, overhang
from toolpath.job.keys import LEDGES
from toolpath.job.limits import SIZE
from toolpath.job.model import Ledge
from toolpath.job.shapes import Drawn, read_shape
from toolpath.job.table import Table
from toolpath.tolerances import TOLERANCES


def read_ledge(
    table: Table, drawn: Drawn | None, depths: tuple[float, float], parts: Parts
) -> Ledge | None:
    """``ledge`` of a pocket; None where it has none, or after a fault.

    `drawn` is the outline of the pocket, `depths` where its material begins and its floor.
    """
    ledge = table.table("ledge", optional=True)
    if ledge.void:
        return None
    kinds = [kind for kind in LEDGES if ledge.has(kind)]
    if len(kinds) != 1:
        ledge.fault("", "needs a depth and either an outline or a width")
        return None
    ledge.allow(LEDGES[kinds[0]])
    depth = _depth(ledge, depths)
    if kinds[0] == "outline":
        found = read_shape(ledge, "outline")
    else:
        found = _widened(drawn, _width(ledge, parts))
    if found is None:
        return None
    _check(ledge, kinds[0], (found, drawn), parts)
    return Ledge(outline=found.outline, depth=depth)


def _depth(ledge: Table, depths: tuple[float, float]) -> float:
    depth, show = ledge.length("depth", SIZE), ledge.reading.show
    below, floor = depths
    if depth >= floor - TOLERANCES.equal:
        ledge.fault(
            "depth", f"{show(depth)} must be less than the depth of the pocket ({show(floor)})"
        )
    elif depth <= below + TOLERANCES.equal:
        ledge.fault("depth", f"{show(depth)} must be more than below ({show(below)})")
    return depth


def _width(ledge: Table, parts: Parts) -> float:
    """How wide it is; NaN after a fault."""
    width, show = ledge.length("width", SIZE), ledge.reading.show
    if parts.drawn is None:
        return math.nan
    x0, y0, x1, y1 = shapely.bounds(parts.drawn.outer)
    most = float(max(x1 - x0, y1 - y0))
    if width > most:  # to draw it could take minutes
        ledge.fault("width", f"{show(width)} is more than the blank is long ({show(most)})")
        return math.nan
    return width


def _check(ledge: Table, key: str, pair: tuple[Drawn, Drawn | None], parts: Parts) -> None:
    """The ledge's outline must hold the pocket's and lie in the blank."""
    found, pocket = pair
    check_inside(ledge, key, found, parts)
    past = None if pocket is None else overhang(pocket.inner, found.outer)
    if past is not None:
        show = ledge.reading.show
        x, y, far = past
        ledge.fault(
            key,
            f"does not hold the outline of the pocket, which reaches {show(far)} past it (at "
            f"x = {show(x)}, y = {show(y)}): make it larger",
        )


def _widened(drawn: Drawn | None, width: float) -> Drawn | None:
    if drawn is None or math.isnan(width):
        return None
    outline = moved_out(drawn.outline, width)
    return Drawn(
        outline=outline,
        inner=area_of(outline, TOLERANCES.flatten, Err.INWARD),
        outer=area_of(outline, TOLERANCES.flatten, Err.OUTWARD),
    )


def moved_out(outline: Outline, width: float) -> Outline:
    """An outline moved outward by `width` (mm, more than 0), its outer corners rounded.

    Lines stay lines and arcs arcs where nothing has to be cut off: no inward corner is sharp or
    tighter than `width`, and no parts meet. Elsewhere the outline is made of chords that lie
    inside the true one, by no more than the `error` of its loops.
    """
    error = 3.0 * TOLERANCES.flatten + max(_error(region) for region in outline)
    parts = _grown([region.polygon(TOLERANCES.flatten, Err.INWARD) for region in outline], width)
    exact = _exact(outline, width)
    if exact is not None and _same(exact, parts, error):
        return exact
    return tuple(_chords(part, error) for part in parts)


def _error(region: Region) -> float:
    return max(loop.error for loop in (region.outer, *region.holes))


def _grown(flat: list[Polygon], width: float) -> list[Polygon]:
    """Polygons with a strip along every edge and a fan at every outer corner, chords inscribed.

    Not the library's own offset, which first smooths what it moves by a hundredth of the
    distance, and so would let a pocket grow at inward arcs.
    """
    turned = [shapely.orient_polygons(part) for part in flat]
    rings = [ring for part in turned for ring in (part.exterior, *part.interiors)]
    strips = [strip for ring in rings for strip in _strips(np.array(ring.coords), width)]
    grown = shapely.union_all([*flat, *strips])
    return [
        Polygon(part.exterior, [hole for hole in part.interiors if _is_wide(hole)])
        for part in shapely.get_parts(grown)
        if isinstance(part, Polygon)
    ]


def _is_wide(hole: LinearRing) -> bool:
    """Whether a hole is more than a crack that rounding left between two strips."""
    return bool(Polygon(hole).area > TOLERANCES.flatten * hole.length)


def _strips(ring: FloatArray, width: float) -> list[Polygon]:
    """What a closed ring (n, 2) that keeps its area on the left gains on its right."""
    along = np.diff(ring, axis=0)
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    out = width * np.column_stack([along[:, 1], -along[:, 0]])
    strips = [
        Polygon([a, b, b + move, a + move])
        for a, b, move in zip(ring[:-1], ring[1:], out, strict=True)
    ]
    turns = np.arctan2(
        along[:, 0] * np.roll(along[:, 1], -1) - along[:, 1] * np.roll(along[:, 0], -1),
        (along * np.roll(along, -1, axis=0)).sum(axis=1),
    )
    fans = zip(ring[1:], out, np.roll(out, -1, axis=0), turns, strict=True)
    return strips + [_fan(*fan) for fan in fans if fan[3] > _STRAIGHT]


def _fan(corner: FloatArray, first: FloatArray, last: FloatArray, turn: float) -> Polygon:
    half = math.acos(max(1.0 - TOLERANCES.flatten / float(np.hypot(*first)), 0.0))
    count = max(1, math.ceil(turn / (2.0 * half)))
    between = [_turned(first, turn * i / count) for i in range(1, count)]
    return Polygon([corner, *(corner + move for move in (first, *between, last))])


def _chords(part: Polygon, error: float) -> Region:
    loops = [
        Loop(points=Loop.of_polygon(np.array(ring.coords)[:-1]).points, error=error)
        for ring in (part.exterior, *part.interiors)
    ]
    return Region(outer=loops[0], holes=tuple(loops[1:]))


def _same(exact: Outline, parts: list[Polygon], error: float) -> bool:
    """Whether loops moved edge by edge bound what the library's offset does."""
    if len(exact) != len(parts):
        return False
    flat = [region.polygon(TOLERANCES.flatten, Err.INWARD) for region in exact]
    if not all(polygon.is_valid for polygon in flat):
        return False
    ours, theirs = shapely.union_all(flat), shapely.union_all(parts)
    far = shapely.hausdorff_distance(ours.boundary, theirs.boundary)
    return bool(far <= 2.0 * error + TOLERANCES.flatten)


def _exact(outline: Outline, width: float) -> Outline | None:
    """Every edge moved to its right by `width`, with arcs about the corners; None where an edge
    would vanish or two would cross."""
    regions = []
    for region in outline:
        loops = [_moved(loop, width) for loop in (region.outer, *region.holes)]
        good = [loop for loop in loops if loop is not None]
        if len(good) < len(loops):
            return None
        regions.append(Region(outer=good[0], holes=tuple(good[1:])))
    return tuple(regions)


def _moved(loop: Loop, width: float) -> Loop | None:
    ends = np.roll(loop.points[:, :2], -1, axis=0)
    edges = [_edge(row[:2], end, float(row[2])) for row, end in zip(loop.points, ends, strict=True)]
    rows: list[tuple[float, float, float]] = []
    for (start, end, bulge, leaves, arrives), (_, _, _, onward, _) in zip(
        edges, [*edges[1:], edges[0]], strict=True
    ):
        radius = math.inf if bulge == 0.0 else arc_centre(start, end, bulge)[1]
        if bulge < 0.0 and radius <= width + TOLERANCES.join:
            return None
        turn = math.atan2(
            float(arrives[0] * onward[1] - arrives[1] * onward[0]), float(arrives @ onward)
        )
        if turn < -_STRAIGHT:
            return None
        first, last = start + width * _right(leaves), end + width * _right(arrives)
        rows.append((float(first[0]), float(first[1]), bulge))
        if turn > _STRAIGHT:
            rows.append((float(last[0]), float(last[1]), math.tan(turn / 4.0)))
    return Loop(points=np.array(rows), error=loop.error)


_STRAIGHT = 1e-6
"""Radians; a corner flatter than this is none: over 100 mm it moves a wall by 0.1 µm."""

_Edge = tuple[FloatArray, FloatArray, float, FloatArray, FloatArray]


def _edge(start: FloatArray, end: FloatArray, bulge: float) -> _Edge:
    """An edge with the directions in which it leaves its start and arrives at its end."""
    along = (end - start) / float(np.hypot(*(end - start)))
    half = 2.0 * math.atan(bulge)
    return start, end, bulge, _turned(along, -half), _turned(along, half)


def _turned(direction: FloatArray, angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([c * direction[0] - s * direction[1], s * direction[0] + c * direction[1]])


def _right(direction: FloatArray) -> FloatArray:
    return np.array([direction[1], -direction[0]])
