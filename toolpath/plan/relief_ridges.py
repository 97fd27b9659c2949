"""What finishing passes leave higher than ridges may be, and passes that take it down.

Frame: page frame of the face, millimetres. Passes lie apart as a plane would ask; where lines turn
sharply, end, or meet others, and where the slope changes between two of them, more is left. Here
the cutter is swept along the passes as planned, over nodes much nearer than the passes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from toolpath.field.carve import Nodes, carve, radii_of
from toolpath.job.cusps import plan_step
from toolpath.plan.relief_left import Left
from toolpath.plan.ridge_tips import Tall, Tips, tips_for
from toolpath.plan.stripes import STEEPEST
from toolpath.plan.target import Target, form_of, rise

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

OVER = 1.13
"""What stands more than this times the ridges over the ground is passed again."""
_SHARE = 14.0
"""Nodes from one pass to the next: the top of a ridge lies near one of them."""
_FINEST = 0.02
"""Nodes lie no nearer, mm."""
_FOOT = 0.02
"""... and under a level end no further: what it leaves at the foot of a wall is no wider."""
_MOST_NODES, _MOST_WORK = 6_000_000, 3.0e9
"""Nodes in all, and how often one is looked at: they lie further apart for it."""
_ROWS = 256
"""Rows of nodes that are held against the ground at once."""
_BESIDE = 0.1
"""A tip so much further than its radius from a wall does not touch it, mm."""
_TAKEN = 0.01
"""What a pass took less from than this share of what may stand, it did not reach."""
_WALL = 1.7
"""What rises more is a wall: there a node in plan is no measure."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ridges:
    """Nodes over what one cutter finishes, as its passes leave them."""

    left: Left
    target: Target
    area: BaseGeometry = field(repr=False)
    nodes: Nodes = field(repr=False)
    radius: float
    """So far from its axis the cutter is looked at away from walls, mm: further out it touches
    nothing there."""
    known: list[Tall] = field(default_factory=list)
    """What was too high when it was last looked for."""

    @classmethod
    def of(cls, left: Left, target: Target, within: BaseGeometry) -> Ridges | None:
        """As the moves before left it; None where there is nothing to finish."""
        area = target.area.intersection(within)
        if area.is_empty or area.area <= left.nodes.step**2:
            return None
        slope = _slope_of(left)
        radius = _touching(target, left.cut.cusp, float(slope.max()))
        usual = float(np.quantile(np.minimum(slope, STEEPEST), 0.95))
        apart = float(plan_step(target.cutter, left.cut.cusp, np.array([usual]))[0])
        share = apart / _SHARE
        if form_of(target.cutter).flat > 0.0:
            share = min(share, _FOOT)
        step = _node_step(area, apart, radius, share)
        nodes = Nodes.over(area.bounds, step, 0.0)
        nodes.z[:] = _upsampled(left, nodes)
        shapely.prepare(area)
        return cls(left=left, target=target, area=area, nodes=nodes, radius=radius)

    def after(self, paths: Sequence[FloatArray]) -> None:
        """Take what the cutter takes along paths (n, 3)."""
        if not paths:
            return
        dense = shapely.segmentize(
            [shapely.LineString(path) for path in paths], 2.0 * self.nodes.step
        )
        tips = shapely.get_coordinates(dense, include_z=True)
        form, whole = form_of(self.target.cutter), self.target.cutter.radius
        walls = self.target.wall.buffer(whole + _BESIDE, quad_segs=16)
        free = ~shapely.intersects_xy(walls, tips[:, 0], tips[:, 1])
        for some, radius in ((tips[free], self.radius), (tips[~free], whole)):
            carve(self.nodes, some, rise(form, radii_of(radius)), radius)

    def tips(self) -> Tips:
        """Where the tip should go again. What the passes since then did not take down is not
        asked for a second time."""
        limit = OVER * self.left.cut.cusp
        tall = self._tall()
        if self.known:
            before = self.known[0]
            tall = before.at(self.nodes)
            tall = tall.take(tall.z < before.z - _TAKEN * limit)
        tall = tall.higher_than(tall.ground + limit * np.hypot(1.0, tall.slope))
        found = tips_for(tall, self.target, limit)
        self.known[:] = [_about(tall, found)]
        return found

    def _tall(self) -> Tall:
        found = [each for each in self._bands() if len(each)]
        return Tall.joined(found)

    def _bands(self) -> Iterator[Tall]:
        """What stands over the ground more than it may, some rows at a time."""
        limit, rows = OVER * self.left.cut.cusp, len(self.nodes.z)
        for first in range(0, rows, _ROWS):
            low, high = max(0, first - 1), min(rows, first + _ROWS + 1)
            x, y = self._axes(slice(low, high))
            grid = np.stack(np.meshgrid(x, y), axis=-1)
            ground = self.target.ground.heights(grid.reshape(-1, 2)).reshape(len(y), len(x))
            ground = np.minimum(ground, -self.left.cut.below)
            across, along = np.gradient(ground, self.nodes.step)
            slope = np.hypot(along, across)
            walls = ndimage.maximum_filter(ground, size=3, mode="nearest") + limit
            allowed = np.where(slope > _WALL, walls, ground + limit * np.hypot(1.0, slope))
            high_up = self.nodes.z[low:high] > allowed
            high_up[: first - low] = False
            high_up[first - low + _ROWS :] = False
            row, column = np.nonzero(high_up)
            inside = shapely.contains_xy(self.area, x[column], y[row])
            row, column = row[inside], column[inside]
            yield Tall(
                row=row + low,
                column=column,
                xy=grid[row, column],
                z=self.nodes.z[low:high][row, column],
                ground=ground[row, column],
                slope=slope[row, column],
                up=np.column_stack([along[row, column], across[row, column]]),
            )

    def _axes(self, rows: slice) -> tuple[FloatArray, FloatArray]:
        nodes = self.nodes
        x = nodes.x0 + np.arange(nodes.z.shape[1]) * nodes.step
        y = nodes.y0 + np.arange(len(nodes.z))[rows] * nodes.step
        return np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)


def _about(tall: Tall, tips: Tips) -> Tall:
    """What stands by a place that can be taken down."""
    if not len(tips.xy):
        return tall.take(np.zeros(len(tall), dtype=np.bool_))
    away, nearest = cKDTree(tips.over).query(tall.xy)
    return tall.take(away <= tips.apart[nearest])


def _slope_of(left: Left) -> FloatArray:
    """(rows, columns) how the ground rises at the nodes of what is left."""
    ground = left.ground.reshape(left.nodes.z.shape)
    return np.asarray(np.hypot(*np.gradient(ground, left.nodes.step)), dtype=np.float64)


def _touching(target: Target, cusp: float, slope: float) -> float:
    """How far from its axis a cutter touches what rises by `slope`, and a pass further."""
    cutter = target.cutter
    form = form_of(cutter)
    if form.corner == 0.0 or slope > STEEPEST:
        return cutter.radius
    apart = float(plan_step(cutter, cusp, np.zeros(1))[0])
    return min(cutter.radius, form.flat + form.corner * math.sin(math.atan(slope)) + 1.5 * apart)


def _node_step(area: BaseGeometry, apart: float, radius: float, share: float) -> float:
    """How near nodes lie: near enough for ridges `apart`, as far as there is time for them."""
    x0, y0, x1, y1 = area.bounds
    length = area.area / apart
    work = (1.6 * length * radius**2 / _MOST_WORK) ** (1.0 / 3.0)
    many = math.sqrt((x1 - x0) * (y1 - y0) / _MOST_NODES)
    return float(max(_FINEST, share, work, many))


def _upsampled(left: Left, nodes: Nodes) -> FloatArray:
    """(rows, columns) what is left, straight between the nodes at which it is known."""
    rows, columns = nodes.z.shape
    y = (nodes.y0 + np.arange(rows) * nodes.step - left.nodes.y0) / left.nodes.step
    x = (nodes.x0 + np.arange(columns) * nodes.step - left.nodes.x0) / left.nodes.step
    across = _between(left.nodes.z, np.asarray(y, dtype=np.float64))
    return _between(across.T, np.asarray(x, dtype=np.float64)).T


def _between(z: FloatArray, at: FloatArray) -> FloatArray:
    """(n, columns) rows of z at places between them, counted in rows."""
    low = np.clip(np.floor(at), 0, len(z) - 2).astype(np.intp)
    share = np.clip(at - low, 0.0, 1.0)[:, None]
    return np.asarray(z[low] * (1.0 - share) + z[low + 1] * share)
