"""Of many passes over what stands here and there, those that are worth while.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from toolpath.field.carve import carve, radii_of
from toolpath.job.model import Cutter
from toolpath.plan.lines import along
from toolpath.plan.relief_left import Left
from toolpath.plan.target import form_of, rise

FloatArray = NDArray[np.float64]

_ON = 0.2
"""Passes go on so far past what they take at either end, mm."""


def worth_while(paths: Sequence[FloatArray], left: Left, cutter: Cutter) -> list[FloatArray]:
    """The paths (n, 3), and the stretches of them, that take more than a ridge of what stands once
    those that take more were gone along: always the one that takes most."""
    stands = replace(left, nodes=replace(left.nodes, z=left.nodes.z.copy()))
    rises = rise(form_of(cutter), radii_of(cutter.radius))
    dense = [_dense(path, left.nodes.step) for path in paths]
    queue = [(-math.inf, i) for i in range(len(dense))]
    found: list[FloatArray] = []
    while queue:
        _, i = heapq.heappop(queue)
        takes = stands.under(dense[i], cutter, math.inf)[0] - dense[i][:, 2]
        most = float(takes.max())
        if most <= left.cut.cusp:
            continue
        if queue and most < -queue[0][0]:  # others took some of it: perhaps one takes more now
            heapq.heappush(queue, (-most, i))
            continue
        found.append(_stretch(dense[i], takes > left.cut.cusp))
        carve(stands.nodes, found[-1], rises, cutter.radius)
    return found


def _dense(path: FloatArray, apart: float) -> FloatArray:
    """The same path with a place at least so often."""
    line = shapely.segmentize(LineString(path), apart)
    return np.asarray(shapely.get_coordinates(line, include_z=True))


def _stretch(path: FloatArray, takes: NDArray[np.bool_]) -> FloatArray:
    """From the first place that takes something to the last, and a little on."""
    at = along(path[:, :2])
    which = np.flatnonzero(takes)
    near = (at >= at[which[0]] - _ON) & (at <= at[which[-1]] + _ON)
    return np.asarray(path[near])
