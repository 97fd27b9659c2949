"""Where passes over a relief begin, and the way down to them.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import along
from toolpath.plan.relief_left import Left
from toolpath.plan.route import Route
from toolpath.plan.target import Target

FloatArray = NDArray[np.float64]

_BEGINNINGS = 60
"""Places of a closed path at which it might begin."""
_LEVELS_KNOWN = 0.25
"""A ramp begins this far above what stands there, mm."""


def outer_ends(passes: list[list[FloatArray]]) -> FloatArray:
    """(n, 2) where the first and the last of passes side by side begin and end."""
    laid = [each for each in passes if each]
    outer = [path for each in (*laid[:1], *laid[-1:]) for path in each]
    return np.array([end for path in outer for end in (path[0, :2], path[-1, :2])]).reshape(-1, 2)


def begun(
    path: FloatArray, target: Target, left: Left, ends: FloatArray, most: float
) -> FloatArray:
    """A closed path begun so that the passes after it go on from where it was met, if an end of
    theirs is near; else where the least stands over it, so that the way in is short."""
    if not closed(path):
        return path
    loop = LineString(path[:, :2])
    spots = shapely.points(ends)
    near = np.asarray(shapely.distance(loop, spots) <= most)
    places = np.asarray(shapely.line_locate_point(loop, spots))[near]
    ways = [_led_to(path, place, target, left) for place in places.tolist()]
    found = [way for way in ways if way is not None]
    if found:
        return min(found, key=lambda way: way[0])[1]
    return _begun_low(path, target, left)


def _led_to(
    path: FloatArray, place: float, target: Target, left: Left
) -> tuple[float, FloatArray] | None:
    """A closed path begun so far before a place along it that the ramp in ends there, and how
    far that is; None where it is more than once round."""
    at = along(path[:, :2])
    slope = ALLOWANCES.slope * math.tan(target.cutter.ramp)
    z = float(np.interp(place, at, path[:, 2]))
    for before in np.linspace(0.0, at[-1], _BEGINNINGS).tolist():
        start = (place - before) % float(at[-1])
        x, y = (float(np.interp(start, at, path[:, axis])) for axis in (0, 1))
        low = max(left.lowest_tip((x, y), target.cutter), z) + _LEVELS_KNOWN
        if low - z <= slope * before:
            return before, _turned_to(path, at, (start, place))
    return None


def _turned_to(path: FloatArray, at: FloatArray, places: tuple[float, float]) -> FloatArray:
    """A closed path begun at the first of two places along it, with a corner at both."""
    every = np.union1d(at, places)
    dense = np.column_stack([np.interp(every, at, path[:, axis]) for axis in range(3)])
    first = int(np.searchsorted(every, places[0]))
    return np.concatenate([dense[first:-1], dense[: first + 1]])


def _begun_low(path: FloatArray, target: Target, left: Left) -> FloatArray:
    """A closed path begun where the least stands over it, so that the way in is short."""
    places = range(0, len(path) - 1, max(1, len(path) // _BEGINNINGS))
    over = [left.lowest_tip((x, y), target.cutter) - z for x, y, z in path[places].tolist()]
    first = places[int(np.argmin(over))]
    return np.concatenate([path[first:-1], path[: first + 1]])


def come_down(route: Route, path: FloatArray, left: Left, *, turned: bool) -> FloatArray:
    """Down to the start of a path: by rapid to above what stands about it, straight on to where
    the cutter would touch, from there along the path as a ramp, and back on it; `turned`: a closed
    path begins where the ramp ends instead. Returns the path that is left to walk."""
    x, y, z = (float(v) for v in path[0])
    route.lift()
    route.over(x, y)
    radius = route.cutter.radius
    wide = max(left.highest_about((x, y), radius + ALLOWANCES.beside), z)
    route.rapid_z(min(wide + ALLOWANCES.rapid_above, route.at[2]))
    top = max(left.lowest_tip((x, y), route.cutter), z) + _LEVELS_KNOWN
    if top <= z + _LEVELS_KNOWN:
        route.sink(z)
        return path
    route.sink(top)
    slope = ALLOWANCES.slope * math.tan(route.cutter.ramp)
    places, heights = _ramp(path, top, slope)
    for place, height in zip(places, heights, strict=True):
        x, y = path[place, :2].tolist()
        route.straight(x, y, height)
    at = places[-1] if places else 0
    if turned and len(places) == at:
        return np.concatenate([path[at:-1], path[: at + 1]])
    for point in path[:at][::-1]:
        route.straight(*point.tolist())
    return path


def closed(path: FloatArray) -> bool:
    """Whether a path ends over where it began."""
    return bool(np.hypot(*(path[0] - path[-1])[:2]) <= ALLOWANCES.same)


def _ramp(path: FloatArray, top: float, slope: float) -> tuple[list[int], list[float]]:
    """Along a path, to and fro if it is short, from `top` down until it is met: the places of
    the path in turn, and the height at each."""
    step = np.hypot(*np.diff(path[:, :2], axis=0).T)
    places: list[int] = []
    heights: list[float] = []
    if float(step.sum()) <= ALLOWANCES.same:
        return places, heights
    height, at, ahead, lowest = top, 0, 1, float(path[:, 2].min())
    while True:
        following = at + ahead
        if not 0 <= following < len(path):
            ahead = -ahead
            continue
        height -= slope * float(step[min(at, following)])
        at, z = following, float(path[following, 2])
        places.append(at)
        heights.append(max(height, z))
        if height <= max(z, lowest):
            return places, heights
