"""Where the passes over a relief meet the one round its walls: nothing is gone over twice.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from toolpath.job.cusps import plan_step
from toolpath.job.model import Cutter
from toolpath.plan.lines import along
from toolpath.plan.target import Target, form_of, rise

FloatArray = NDArray[np.float64]

_NEAR = 0.05
"""What lies no further from a pass round a wall is on it, mm."""
_FLANK = 0.02
"""So much nearer to the wall the tip would be in it where a flank touches it, mm."""
_LOOK = 0.5
"""Places along a line at which it is asked whether a wall is touched, mm."""
_WHOLE = 0.5
"""A line that touches along more than this share is kept whole: one way in serves it."""
_SHARE = 0.45
"""Passes end this share of what they lie apart short of the one round the wall: half would leave
ridges as high as between them."""
_HOLLOW = 2.0
"""In sharper hollows the cutter itself fills them."""


def touching(target: Target, lines: Sequence[FloatArray]) -> list[FloatArray]:
    """The stretches of lines (n, 2) round walls along which a flank touches the wall: where the
    floor is nearer to the face than the round end is high, passes run on over its rim instead."""
    found: list[FloatArray] = []
    form = form_of(target.cutter)
    rim = -float(rise(form, np.array([form.radius - _FLANK]))[0])
    for line in lines:
        dense = shapely.get_coordinates(shapely.segmentize(LineString(line), _LOOK))
        touched = target.found(dense).tips <= rim
        if float(touched.mean()) >= _WHOLE:
            found.append(line)
            continue
        touched |= np.append(touched[1:], False) | np.append(False, touched[:-1])
        starts = np.flatnonzero(np.diff(np.concatenate([[0], touched.astype(np.int8)])) == 1)
        ends = np.flatnonzero(np.diff(np.concatenate([touched.astype(np.int8), [0]])) == -1) + 1
        parts = [dense[i:j] for i, j in zip(starts, ends, strict=True) if j - i > 1]
        found += _joined(parts, closed=bool(np.hypot(*(line[0] - line[-1])) <= _NEAR))
    return found


def _joined(parts: list[FloatArray], *, closed: bool) -> list[FloatArray]:
    """Parts of a closed line with the last joined to the first across where it begins."""
    if closed and len(parts) > 1 and np.hypot(*(parts[0][0] - parts[-1][-1])) <= _NEAR:
        return [np.vstack([parts[-1], parts[0][1:]]), *parts[1:-1]]
    return parts


def foot_of(paths: Sequence[FloatArray]) -> BaseGeometry:
    """What paths (n, 3) went along, in plan."""
    return MultiLineString([path[:, :2] for path in paths if len(path) > 1])


def beside(lines: Sequence[FloatArray], foot: BaseGeometry, long: float) -> list[FloatArray]:
    """Lines without what lies on the foot of a wall for longer than `long`, mm: it was gone
    along."""
    on = foot.buffer(_NEAR)
    shapely.prepare(on)
    found: list[FloatArray] = []
    for points in lines:
        line = LineString(points)
        if not on.intersects(line) or on.intersection(line).length <= long:
            found.append(points)
            continue
        rest = shapely.get_parts(line.difference(on))
        found += [shapely.get_coordinates(part) for part in rest if part.length > _NEAR]
    return found


def short_of(
    paths: Sequence[FloatArray], foot: BaseGeometry, cutter: Cutter, cusp: float
) -> list[FloatArray]:
    """Paths (n, 3) that end on the foot of a wall end short of it: what is left there is as far
    from the pass along the wall as from them. What is short enough is left out."""
    if not paths or foot.is_empty:
        return list(paths)
    ends = np.array([[path[0, :2], path[-1, :2]] for path in paths])
    on = np.asarray(shapely.distance(foot, shapely.points(ends)) <= _NEAR).tolist()
    found: list[FloatArray] = []
    for path, (first, last) in zip(paths, on, strict=True):
        at = along(path[:, :2])
        low = _spare(path, at, cutter, cusp) if first else 0.0
        back = np.column_stack([path[::-1, :2], path[::-1, 2]])
        high = at[-1] - (_spare(back, at[-1] - at[::-1], cutter, cusp) if last else 0.0)
        if not first and not last:
            found.append(path)
        elif high - low > _NEAR:
            found.append(_part(path, at, low, high))
    return found


def _spare(path: FloatArray, at: FloatArray, cutter: Cutter, cusp: float) -> float:
    """How far short a path may begin: less where it rises there, or lies in a hollow."""
    level = float(plan_step(cutter, cusp, np.zeros(1))[0])
    z = np.interp([0.0, level / 2.0, level], at, path[:, 2])
    slope = float(np.abs(np.diff(z)).max()) / (level / 2.0)
    bent = float(z[0] - 2.0 * z[1] + z[2]) / (level / 2.0) ** 2
    hollow = min(max(1.0 + cutter.point_length * bent / math.hypot(1.0, slope) ** 3, 1.0), _HOLLOW)
    step = float(plan_step(cutter, cusp, np.array([slope]))[0])
    return _SHARE * step / math.sqrt(hollow)


def _part(path: FloatArray, at: FloatArray, low: float, high: float) -> FloatArray:
    """A path from one distance along it in plan to another."""
    inside = path[(at > low) & (at < high)]
    ends = [[np.interp(place, at, path[:, axis]) for axis in range(3)] for place in (low, high)]
    return np.vstack([ends[0], inside, ends[1]])
