"""What stands over a relief after some moves, at the nodes of a grid.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from toolpath.field.carve import Nodes, carve, radii_of
from toolpath.job.model import Cutter, Relief
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.plan.gone import Gone
from toolpath.plan.target import form_of, rise
from toolpath.plan.zones import area_near

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_MOST_NODES = 400_000
_CLOSEST = 0.15
_AT_ONCE = 250_000
"""So many nodes under tips are held at once: what the processor keeps at hand."""
_WALL = 1.7
"""What rises more is a wall."""
_SLACK = 0.02
"""What stands more than this over ridge and ground is left, mm: paths lie a little above."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Left:
    """Nodes over the box of a relief that stand as the moves so far left them; `ground` (n,) is
    what it is to look like there, `inside` (n,) where it is."""

    cut: Relief
    nodes: Nodes
    places: FloatArray = field(repr=False)
    ground: FloatArray = field(repr=False)
    inside: BoolArray = field(repr=False)

    @classmethod
    def before(cls, cut: Relief, area: BaseGeometry) -> Left:
        """Before the first move."""
        x0, y0, x1, y1 = (float(v) for v in area.bounds)
        step = max(_CLOSEST, math.sqrt((x1 - x0) * (y1 - y0) / _MOST_NODES))
        nodes = Nodes.over((x0, y0, x1, y1), step, -cut.below)
        places = nodes.places()
        shapely.prepare(area)
        inside = np.asarray(shapely.contains_xy(area, places[:, 0], places[:, 1]))
        return cls(
            cut=cut,
            nodes=nodes,
            places=places,
            ground=np.minimum(cut.ground.heights(places), -cut.below),
            inside=inside,
        )

    def after(self, moves: MoveTable, cutter: Cutter) -> None:
        """Take what feed moves take."""
        tips = tips_along(moves, self.nodes.step / 2.0)
        low = tips[tips[:, 2] < -self.cut.below]
        carve(self.nodes, low, rise(form_of(cutter), radii_of(cutter.radius)), cutter.radius)

    def highest(self, area: BaseGeometry) -> float:
        """What stands highest in an area, mm over the face; -inf where no node is."""
        near = self._near(area.bounds)
        x, y = (axis.reshape(self.nodes.z.shape)[near] for axis in self.places.T)
        within = shapely.contains_xy(area, x, y)
        return float(self.nodes.z[near][within].max(initial=-np.inf))

    def highest_about(self, spot: tuple[float, float], radius: float) -> float:
        """The same of a disc."""
        x, y = spot
        near = self._near((x - radius, y - radius, x + radius, y + radius))
        off = (self.places[:, k].reshape(self.nodes.z.shape)[near] - spot[k] for k in (0, 1))
        within = np.hypot(*off) <= radius
        return float(self.nodes.z[near][within].max(initial=-np.inf))

    def lowest_tip(self, spot: tuple[float, float], cutter: Cutter) -> float:
        """How low its tip comes there before it touches what stands, give or take a node."""
        x, y = spot
        step = self.nodes.step
        wide = cutter.radius + step
        near = self._near((x - wide, y - wide, x + wide, y + wide))
        off = (self.places[:, k].reshape(self.nodes.z.shape)[near] - spot[k] for k in (0, 1))
        away = np.maximum(np.hypot(*off) - step, 0.0)
        return float((self.nodes.z[near] - rise(form_of(cutter), away)).max(initial=-np.inf))

    def deeper(self, most: float) -> Beside | None:
        """How far places are from where more than `most` stands over the ground; None where
        nothing does."""
        deep = self.over > most
        if not deep.any():
            return None
        away = ndimage.distance_transform_edt(~deep) * self.nodes.step
        return Beside(nodes=replace(self.nodes, z=away))

    def under(self, tips: FloatArray, cutter: Cutter, most: float) -> tuple[FloatArray, FloatArray]:
        """(n,) how low a cutter comes over tips (n, 3) before it touches what stands, and the area
        that stands more than `most` over its end at them, mm²."""
        wide = math.ceil(cutter.radius / self.nodes.step) + 1
        around = np.arange(-wide, wide + 1)
        z = np.pad(self.nodes.z, wide, constant_values=-np.inf)
        at = (tips[:, :2] - (self.nodes.x0, self.nodes.y0)) / self.nodes.step
        home = np.clip(np.rint(at), 0, np.array(self.nodes.z.shape)[::-1] - 1).astype(np.intp)
        stands, deep = np.empty(len(tips)), np.empty(len(tips))
        some_tips = max(1, _AT_ONCE // len(around) ** 2)
        for first in range(0, len(tips), some_tips):
            some = slice(first, first + some_tips)
            row, column = (home[some, k, None] + around for k in (1, 0))
            off = [(home[some, k, None] + around - at[some, k, None]) for k in (1, 0)]
            away = np.hypot(off[0][:, :, None], off[1][:, None, :]) * self.nodes.step
            over = z[row[:, :, None] + wide, column[:, None, :] + wide]
            over = over - rise(form_of(cutter), away)
            stands[some] = over.max(axis=(1, 2))
            high = over > tips[some, 2, None, None] + most
            deep[some] = high.sum(axis=(1, 2)) * self.nodes.step**2
        return stands, deep

    def _near(self, bounds: tuple[float, float, float, float]) -> tuple[slice, slice]:
        """Rows and columns of the nodes in a box."""
        x0, y0, x1, y1 = bounds
        low = ((y0 - self.nodes.y0), (x0 - self.nodes.x0))
        high = ((y1 - self.nodes.y0), (x1 - self.nodes.x0))
        first = [max(0, math.floor(v / self.nodes.step)) for v in low]
        end = [max(0, math.ceil(v / self.nodes.step) + 1) for v in high]
        return slice(first[0], end[0]), slice(first[1], end[1])

    @property
    def over(self) -> FloatArray:
        """(rows, columns) how far what is left stands over the ground; 0 outside the relief."""
        over = self.nodes.z - self.ground.reshape(self.nodes.z.shape)
        return np.where(self.inside.reshape(over.shape), over, 0.0)

    def limit(self) -> float:
        """What may stand over the ground where a cutter gets to, mm."""
        return self.cut.cusp * 1.1 + _SLACK

    def standing(self) -> BoolArray:
        """(rows, columns) where more is left than ridges."""
        shape = self.nodes.z.shape
        over = self.nodes.z > self.allowed_over(self.ground.reshape(shape))
        return np.asarray(over & self.inside.reshape(shape))

    def allowed_over(self, z: FloatArray) -> FloatArray:
        """(rows, columns) how high something may stand over a surface: ridges along its normal,
        and on walls what a node in plan makes."""
        with np.errstate(invalid="ignore"):
            slope = np.hypot(*np.gradient(z, self.nodes.step))
        slope = np.nan_to_num(slope, nan=np.inf)
        walls = ndimage.maximum_filter(z, size=3, mode="nearest") + self.limit()
        return np.where(slope > _WALL, walls, z + self.limit() * np.hypot(1.0, slope))

    def area_of(self, which: BoolArray, grow: float) -> BaseGeometry:
        """All that lies within `grow` of chosen nodes (rows, columns), and half a step."""
        rows, columns = which.shape
        step = self.nodes.step
        x = np.asarray(self.nodes.x0 + np.arange(columns) * step, dtype=np.float64)
        y = np.asarray(self.nodes.y0 + np.arange(rows) * step, dtype=np.float64)
        return area_near(x, y, which, grow + self.nodes.step / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beside:
    """Nodes that say how far they lie from something, mm."""

    nodes: Nodes

    def near(self, xy: FloatArray, radius: float) -> bool:
        """Whether any of places (n, 2) lies within a radius of it, give or take a node."""
        nodes = self.nodes
        at = np.rint((xy - (nodes.x0, nodes.y0)) / nodes.step).astype(np.intp)
        column, row = np.clip(at, 0, np.array(nodes.z.shape)[::-1] - 1).T
        return bool((nodes.z[row, column] <= radius + nodes.step).any())


class Known(Gone):
    """What a relief has taken away, by depth; `left` is what stands."""

    def __init__(self, top: float, left: Left) -> None:
        super().__init__(top)
        self.left = left

    def touched(self, spot: tuple[float, float], cutter: Cutter) -> float:
        """How low its tip comes there before it touches what stands, give or take a node."""
        return self.left.lowest_tip(spot, cutter)

    def took(self, moves: Sequence[Move], cutter: Cutter) -> None:
        """Take what they take."""
        self.left.after(MoveTable.of(moves), cutter)


def tips_along(moves: MoveTable, step: float) -> FloatArray:
    """(n, 3) places of the tip along all feed moves, at most `step` apart in plan."""
    feed = np.flatnonzero(moves.kind != Kind.RAPID)
    if not feed.size:
        return np.empty((0, 3))
    delta = moves.end[feed] - moves.start[feed]
    wide = np.hypot(delta[:, 0], delta[:, 1])
    radius = np.hypot(*(moves.start[feed, :2] - moves.centre[feed]).T)
    arc = moves.kind[feed] == Kind.ARC
    wide = np.where(arc, np.abs(radius * moves.sweep[feed]), wide)
    count = np.maximum(1, np.ceil(wide / step)).astype(np.intp)
    row = np.repeat(feed, count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return np.concatenate([moves.at(row, within / np.repeat(count, count)), moves.end[feed]])
