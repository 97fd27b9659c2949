"""What the last cutter of a relief reaches only here and there is gone over once more: high up in
corners, along the rim of a wall, into the middle of a groove.

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
from shapely.geometry.base import BaseGeometry

from toolpath.field.carve import carve, radii_of
from toolpath.job.model import Cutter
from toolpath.plan.follow import follow
from toolpath.plan.lines import along
from toolpath.plan.relief_finish import RISE_STEP, band_of, walk_all
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_levels import LEAST
from toolpath.plan.relief_reach import split
from toolpath.plan.ridge_lines import lines_through
from toolpath.plan.ridge_tips import Tall, tips_for
from toolpath.plan.route import Route
from toolpath.plan.stripes import Laid, parallel_lines
from toolpath.plan.target import Target, form_of, rise

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_ON = 0.2
"""Passes go on so far past what they take at either end, mm."""


def tidy(route: Route, target: Target, left: Left) -> None:
    """Over what stands though the cutter reaches it: through the very tips that take it, and
    parallel passes, as many of both as take something; ends lifted."""
    uncut, _ = split(left, target)
    if float(uncut.sum()) * left.nodes.step**2 < LEAST:
        return
    cut, band = left.cut, band_of(left.cut)
    tips = tips_for(_tall(left, uncut), target, cut.cusp)
    laid = Laid(angle=cut.angle, cusp=cut.cusp, least=RISE_STEP)
    lines = lines_through(tips.xy, tips.apart)
    lines += parallel_lines(target, _taking(left, target, uncut), laid)
    paths = [path for each in follow(target, lines, band, walls=True) for path in each]
    walk_all(route, target, [worth_while(paths, left, target.cutter)], left, band)
    route.lift()


def _tall(left: Left, which: BoolArray) -> Tall:
    """Chosen nodes (rows, columns) as what stands too high."""
    ground = left.ground.reshape(which.shape)
    across, up = np.gradient(ground, left.nodes.step)
    row, column = np.nonzero(which)
    return Tall(
        row=row,
        column=column,
        xy=left.places.reshape(*which.shape, 2)[row, column],
        z=left.nodes.z[row, column],
        ground=ground[row, column],
        slope=np.hypot(across, up)[row, column],
        up=np.column_stack([up[row, column], across[row, column]]),
    )


def _taking(left: Left, target: Target, wanted: BoolArray) -> BaseGeometry:
    """Where a tip takes something of what stands about wanted nodes: mostly little of all that
    lies within its radius."""
    near = left.area_of(wanted, target.cutter.radius).intersection(target.roam)
    shapely.prepare(near)
    rows = np.flatnonzero(shapely.contains_xy(near, left.places[:, 0], left.places[:, 1]))
    tips = np.maximum(target.found(left.places[rows]).tips, -left.cut.depth)
    places = np.column_stack([left.places[rows], tips])
    stands, _ = left.under(places, target.cutter, math.inf)
    which = np.zeros(wanted.size, dtype=np.bool_)
    which[rows] = stands > tips + left.cut.cusp
    return left.area_of(which.reshape(wanted.shape), left.nodes.step).intersection(near)


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
