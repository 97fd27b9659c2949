"""Shapes that a job writes out in numbers: rectangle, circle, polygon, slot.

Frame: the plane of the drawing, x right and y up, millimetres. Round parts are true arcs.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
from shapely import is_valid_reason
from shapely.geometry import MultiPoint, Polygon

from toolpath.drawing.outline import Err, Loop, Region
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

QUARTER = math.tan(math.pi / 8.0)
"""The bulge of a quarter circle, counter-clockwise."""

_PLACE = re.compile(r"\[(\S+) (\S+?)(?: \S+)?\]")


def rect(x0: float, y0: float, x1: float, y1: float, corner: float = 0.0) -> Region:
    """A rectangle from its lower left to its upper right corner, corners rounded by `corner`.

    Raises
    ------
    DrawingError
        Corners that are not lower left then upper right, a corner radius that is negative or more
        than half the shorter side, or a number that is not finite.
    """
    _finite("rect", x0, y0, x1, y1, corner)
    if x1 <= x0 or y1 <= y0:
        raise DrawingError(
            f"the rect from {show_point(x0, y0)} to {show_point(x1, y1)} has no size: give the "
            "lower left corner first, then the upper right one"
        )
    half = min(x1 - x0, y1 - y0) / 2.0
    if corner < 0.0 or corner > half * (1.0 + 1e-12):
        raise DrawingError(
            f"the corner radius of {show_mm(corner)} must lie between 0 and half the shorter side "
            f"of the rect, {show_mm(half)}: make it smaller or the rect larger"
        )
    r = min(corner, half) if corner > TOLERANCES.offset else 0.0  # less is a sharp corner
    b = QUARTER if r else 0.0
    rows = [(x0 + r, y0, 0.0), (x1 - r, y0, b), (x1, y0 + r, 0.0), (x1, y1 - r, b)]
    rows += [(x1 - r, y1, 0.0), (x0 + r, y1, b), (x0, y1 - r, 0.0), (x0, y0 + r, b)]
    return Region(outer=Loop(points=_without_empty_edges(np.array(rows))))


def circle(x: float, y: float, radius: float) -> Region:
    """A circle about (x, y), as two half circles.

    Raises
    ------
    DrawingError
        A radius of 0 or less, or a number that is not finite.
    """
    _finite("circle", x, y, radius)
    _positive("radius of the circle", radius)
    return Region(outer=Loop(points=np.array([(x - radius, y, 1.0), (x + radius, y, 1.0)])))


def polygon(points: Sequence[tuple[float, float]]) -> Region:
    """A polygon through its corners, either way round; a repeated closing point is dropped.

    Raises
    ------
    DrawingError
        Fewer than three corners, no area, sides that cross or touch each other, or a number that
        is not finite.
    """
    for x, y in points:
        _finite("polygon", x, y)
    rows = _without_empty_edges(np.array([(x, y, 0.0) for x, y in points]).reshape(-1, 3))
    if len(rows) < 3:
        raise DrawingError(
            f"a polygon needs at least 3 different corners, not {len(rows)}: add corners, or use "
            "a slot for a line"
        )
    region = Region(outer=Loop(points=rows))
    check_region(region, "the polygon")
    return region


def slot(x0: float, y0: float, x1: float, y1: float, width: float) -> Region:
    """A slot with round ends whose centres are (x0, y0) and (x1, y1).

    Raises
    ------
    DrawingError
        Ends that coincide, a width of 0 or less, or a number that is not finite.
    """
    _finite("slot", x0, y0, x1, y1, width)
    _positive("width of the slot", width)
    length = math.hypot(x1 - x0, y1 - y0)
    if length <= _TINY:
        raise DrawingError(
            f"both ends of the slot lie at {show_point(x0, y0)}: use a circle of radius "
            f"{show_mm(width / 2.0)} instead"
        )
    px, py = -(y1 - y0) / length * width / 2.0, (x1 - x0) / length * width / 2.0
    rows = [(x0 - px, y0 - py, 0.0), (x1 - px, y1 - py, 1.0)]
    rows += [(x1 + px, y1 + py, 0.0), (x0 + px, y0 + py, 1.0)]
    return Region(outer=Loop(points=np.array(rows)))


def check_region(region: Region, name: str = "the outline") -> None:
    """Refuse a region whose loops cross or touch themselves or each other, or have no area.

    Judged on both flattenings of the region, so that either can be used afterwards: what comes
    nearer to itself than twice `Tolerances.flatten` is refused as touching.

    Raises
    ------
    DrawingError
        Says near which point, and what to do; `name` is how the message calls the region.
    """
    for loop in (region.outer, *region.holes):
        hull = MultiPoint(loop.flatten(TOLERANCES.flatten, Err.INWARD)).convex_hull
        if hull.area <= _TINY * max(hull.length, _TINY):
            x, y = loop.points[0, :2]
            raise DrawingError(
                f"{name} at {show_point(x, y)} has no area: its points lie on one line; draw a "
                "closed shape"
            )
    for err in Err:
        reason = crossing(region.polygon(TOLERANCES.flatten, err))
        if reason:
            raise DrawingError(
                f"{name} {reason}: move its points so that it goes round once without meeting "
                "itself"
            )


def crossing(flat: Polygon) -> str:
    """What keeps a flattened polygon from being one, with the place in mm; empty if nothing."""
    if flat.is_valid:
        return ""
    found = _PLACE.search(is_valid_reason(flat))
    place = f" near {show_point(float(found[1]), float(found[2]))}" if found else ""
    return f"crosses or touches itself{place}"


def show_point(x: float, y: float) -> str:
    """A place in the drawing for a message: ``(12.5, -3) mm``."""
    return f"({show_mm(x)[:-3]}, {show_mm(y)[:-3]}) mm"


_TINY = 1e-6
"""mm; shorter than any length that a drawing or a machine tells from nothing."""


def _without_empty_edges(
    rows: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """The rows without points that coincide with the next one: their edges have no length."""
    step = np.roll(rows[:, :2], -1, axis=0) - rows[:, :2]
    return rows[np.hypot(step[:, 0], step[:, 1]) > _TINY]


def _finite(what: str, *numbers: float) -> None:
    for number in numbers:
        if not math.isfinite(number):
            raise DrawingError(f"a {what} needs finite numbers, not {number}: write it in mm")


def _positive(what: str, value: float) -> None:
    if value <= _TINY:
        raise DrawingError(f"the {what} is {show_mm(value)}: it must be more than 0")
