"""Cutting polylines at places along them.

Frame: x, y of the blank frame, millimetres; a polyline is (n, 2), closed when its last point
equals its first.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.plan.allowances import ALLOWANCES

FloatArray = NDArray[np.float64]


def along(points: FloatArray) -> FloatArray:
    """(n,) distance from the first point along the polyline."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def length_of(points: FloatArray) -> float:
    """Length of a polyline, mm."""
    return float(along(points)[-1])


def stretch(points: FloatArray, first: float, last: float) -> FloatArray:
    """The part of a polyline between two distances along it, both ends included."""
    reach = along(points)
    inside = points[(reach > first + ALLOWANCES.same) & (reach < last - ALLOWANCES.same)]
    ends = [_at(points, reach, place) for place in (first, last)]
    return np.vstack([ends[0], inside, ends[1]])


def places_on(points: FloatArray, where: FloatArray) -> FloatArray:
    """(n, 2) places of a polyline at distances (n,) along it."""
    reach = along(points)
    return np.column_stack([np.interp(where, reach, points[:, axis]) for axis in (0, 1)])


def evenly(points: FloatArray, pitch: float, least: int) -> FloatArray:
    """(n, 2) places of a polyline no further apart than `pitch`, in at least so many steps."""
    length = length_of(points)
    count = max(least, math.ceil(length / pitch))
    return places_on(points, np.linspace(0.0, length, count + 1))


def starting_at(loop: FloatArray, place: float) -> FloatArray:
    """A closed loop that begins and ends at a distance along it."""
    if not ALLOWANCES.same < place < length_of(loop) - ALLOWANCES.same:
        return loop
    after, before = stretch(loop, place, length_of(loop)), stretch(loop, 0.0, place)
    return np.vstack([after, before[1:]])


def straight(start: FloatArray, end: FloatArray) -> FloatArray:
    """The polyline of a straight link."""
    return np.vstack([start, end])


def _at(points: FloatArray, reach: FloatArray, place: float) -> FloatArray:
    return np.array([np.interp(place, reach, points[:, axis]) for axis in (0, 1)])
