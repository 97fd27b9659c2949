"""Lines through scattered places in plan, such as those along the top of a ridge.

Frame: millimetres.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

FloatArray = NDArray[np.float64]

_STRIDE = 0.5
"""A line goes on by this share of what passes lie apart there."""
_COVERED = 0.4
"""Places nearer than this share of it to a line need no other."""
_LOOK = 1.6
"""... and within this share of it the way of a ridge is looked for."""
_TURN = 0.5
"""A line turns at once no more than to this cosine."""
_STUB = 0.3
"""A line runs on past its ends by this share."""


def lines_through(places: FloatArray, apart: FloatArray) -> list[FloatArray]:
    """Lines (m, 2) past which no place (n, 2) lies further than two fifths of `apart` (n,): each
    from the first place that has none, both ways as long as places lie ahead."""
    if not len(places):
        return []
    cloud = _Cloud(places, apart)
    found = []
    for start in range(len(places)):
        if cloud.open[start]:
            found.append(cloud.line_from(start))
    return found


class _Cloud:
    """Places, and which of them no line passes yet."""

    def __init__(self, places: FloatArray, apart: FloatArray) -> None:
        self.places, self.apart = places, apart
        self.tree = cKDTree(places)
        self.open = np.ones(len(places), dtype=np.bool_)

    def line_from(self, start: int) -> FloatArray:
        apart = float(self.apart[start])
        at = self.places[start]
        way = self._way(at, apart)
        self._cover(at, apart)
        ahead = self._walk(at, way, apart)
        behind = self._walk(at, -way, apart)
        points = np.array([*behind[::-1], at, *ahead])
        if len(points) > 1:
            first, last = points[0] - points[1], points[-1] - points[-2]
        else:
            first, last = -way, way
        stub = _STUB * apart
        ends = [
            points[0] + first / np.hypot(*first) * stub,
            points[-1] + last / np.hypot(*last) * stub,
        ]
        return np.array([ends[0], *points, ends[1]])

    def _near(self, at: FloatArray, reach: float) -> FloatArray:
        near = np.asarray(self.tree.query_ball_point(at, reach), dtype=np.intp)
        return np.asarray(self.places[near[self.open[near]]])

    def _way(self, at: FloatArray, apart: float) -> FloatArray:
        """The direction in which most places lie about one."""
        near = self._near(at, _LOOK * apart) - at
        _, _, ways = np.linalg.svd(near, full_matrices=True)
        return np.asarray(ways[0])

    def _walk(self, at: FloatArray, way: FloatArray, apart: float) -> list[FloatArray]:
        found: list[FloatArray] = []
        while True:
            ahead = at + way * _STRIDE * apart
            near = self._near(ahead, _STRIDE * apart)
            near = near[(near - at) @ way > _COVERED * _STRIDE * apart] if len(near) else near
            if not len(near):
                return found
            following = near.mean(axis=0)
            step = following - at
            long = float(np.hypot(*step))
            if long <= 0.0 or float(step @ way) / long < _TURN:
                return found
            at, way = following, step / long
            self._cover(at, apart)
            found.append(at)

    def _cover(self, at: FloatArray, apart: float) -> None:
        self.open[self.tree.query_ball_point(at, _COVERED * apart)] = False
