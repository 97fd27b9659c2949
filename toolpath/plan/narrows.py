"""Narrow places of a bounded way, opened in loops from where the cutter has been.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. Where there is no room for a front and the turns at its ends, and along a wall
the whole cutter would be in stock, it goes round and round instead: as wide as the place is, each
loop so little further along its middle that the bound holds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import (
    distance_transform_edt,
    label,
    maximum_filter,
    uniform_filter1d,
)
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.bounded_walls import Walls, wide_along
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.lines import evenly, length_of
from toolpath.plan.near import Near
from toolpath.plan.returns import Heading

FloatArray = NDArray[np.float64]

WIDEST = 0.9
"""Loops are no wider than this, in radii of the cutter: it clears their middle too."""
SKIN = 0.01
"""What stays along the walls for the last pass, in radii: a chip that it can take."""
LEAST = 0.04
"""Where the centre has less room than this to each side, in radii, the place is a slot."""
AIM = math.radians(2.0)
"""The loops keep this much less than the bound."""
OVER = math.radians(8.0)
"""... and so much more at most, where walls bend so that no shorter step helps."""
START = (1.0, 0.8, 0.6, 0.4, 0.2, 0.1, 0.05)
"""Of the first loop, as shares of the room there."""
GROWN = 0.01
"""Loops about a place grow by this at least, in radii."""
SMOOTH = 15
"""Over so many places the direction of a middle line is taken."""
AHEAD = 0.02
"""Places of the middle are this far apart, in radii."""
BEGIN = 0.3
"""A first loop is at least as wide as this, in radii, or as the place."""
RIDGE = 0.85
"""What has so much of the most room near it lies in the middle."""
BESIDE = 5
"""... in a square of so many cells."""
ROUNDS = 12
"""How many narrow places are looked for at most."""
QUARTER = 12
TURN = np.linspace(math.pi, 3.0 * math.pi, 4 * QUARTER + 1)


def walk_narrows(walk: Walk, area: BaseGeometry, walls: Walls, bound: float) -> None:
    """Loops into all narrow places that join a cleared one; what is left of them is a skin along
    the walls, or is too narrow for any loop."""
    left = math.inf
    for _ in range(ROUNDS):
        spots = wide_along(walk, walls, bound)
        if not len(spots) or len(spots) >= left:
            return
        left = len(spots)
        middle = _middle(walk, spots)
        if middle is None:
            return
        _Loops(near=walk.near, area=area, bound=bound).cut(walk, middle)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Loop:
    """One about a place (a row) of a middle line, its radius in mm."""

    row: int
    size: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """A middle line: (n, 2) places, (n,) the radius of the largest loop about each and the
    direction there."""

    places: FloatArray = field(repr=False)
    size: FloatArray = field(repr=False)
    angle: FloatArray = field(repr=False)

    def ring(self, loop: _Loop) -> FloatArray:
        """Once round, climbing, from its rear."""
        angle = float(self.angle[loop.row]) + TURN
        around = np.column_stack([np.cos(angle), np.sin(angle)])
        return np.asarray(self.places[loop.row] + loop.size * around)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Loops:
    """Loops about places of a middle line."""

    near: Near
    area: BaseGeometry = field(repr=False)
    bound: float

    def cut(self, walk: Walk, middle: FloatArray) -> None:
        """From a cleared place at its begin to the end of the line."""
        line = self._line(middle)
        at: _Loop | None = self._first(line)
        if at is None:
            return
        walk.go_to(Heading.at_start(line.ring(at)))
        while at is not None:
            ring = line.ring(at)
            # Its rear meets nothing: a leg of its own, so that it is not fed as its front is.
            for part in (ring[: QUARTER + 1], ring[QUARTER:-QUARTER], ring[-QUARTER - 1 :]):
                walk.near.sweep(np.vstack([walk.at.place, part]))
                walk.take(Kind.CUT, part)
            at = self._grown(line, at) or self._further(line, at)

    def _line(self, middle: FloatArray) -> _Line:
        radius = self.near.radius
        places = evenly(middle, AHEAD * radius, 2)
        room = shapely.distance(self.area.boundary, shapely.points(places))
        size = np.minimum(room - SKIN * radius, WIDEST * radius)
        ended = np.flatnonzero(size < LEAST / 2.0 * radius)
        end = int(ended[0]) if len(ended) else len(places)
        ahead = np.gradient(uniform_filter1d(places, SMOOTH, axis=0, mode="nearest"), axis=0)
        angle = np.arctan2(ahead[:, 1], ahead[:, 0])
        return _Line(places=places[:end], size=size[:end], angle=angle[:end])

    def _first(self, line: _Line) -> _Loop | None:
        """The largest about the first place that meets nothing."""
        if not len(line.places):
            return None
        for share in START:
            loop = _Loop(row=0, size=share * float(line.size[0]))
            if self._met(line.ring(loop)) == 0.0:
                return loop
        return None

    def _grown(self, line: _Line, at: _Loop) -> _Loop | None:
        """The largest about the same place that keeps the bound; None where it is full."""
        more = float(line.size[at.row]) - at.size
        while more > GROWN * self.near.radius:
            loop = _Loop(row=at.row, size=at.size + more)
            if self._met(line.ring(loop)) <= self.bound - AIM:
                return loop
            more *= 0.75
        return None

    def _further(self, line: _Line, at: _Loop) -> _Loop | None:
        """The furthest ahead that keeps the bound; None at the end, or where none does."""
        radius = self.near.radius
        step = 2.0 * at.size * radius / (at.size + radius) * (1.0 - math.cos(self.bound))
        ahead = max(1, round(step / (AHEAD * radius)))
        while ahead > 0 and at.row < len(line.places) - 1:
            row = min(at.row + ahead, len(line.places) - 1)
            loop = _Loop(row=row, size=float(line.size[row]))
            met = self._met(line.ring(loop))
            if met <= self.bound - AIM or (ahead == 1 and met <= self.bound + OVER):
                return loop
            ahead = int(0.8 * ahead)
        return None

    def _met(self, ring: FloatArray) -> float:
        """The greatest engaged angle on a loop."""
        near = self.near.beside(ring)
        return float(near.engaged(ring, film=0.004).max(initial=0.0))


def _middle(walk: Walk, spots: FloatArray) -> FloatArray | None:
    """The way (n, 2) along the middle from a cleared place to the furthest of some places along
    walls, as near as there is room; None where no narrow place joins a cleared one."""
    near, depth = walk.near, walk.room.depth
    reach = near.reach
    stock = near.walked > reach
    free = depth >= LEAST * reach
    around = distance_transform_edt(~stock) - reach
    clear = free & (around >= 0.5 + np.minimum(depth, BEGIN * reach))
    ridge = free & (around < 0.5) & (depth >= RIDGE * maximum_filter(depth, BESIDE))
    if not clear.any() or not ridge.any():
        return None
    cost, before, number = _ways(free, depth / (0.5 * reach), _nearest_part(walk, clear))
    _, nearest = distance_transform_edt(~ridge, return_indices=True)
    column, row = np.round(near.cells.of(spots)).astype(np.intp).T
    ends = number[nearest[0, row, column], nearest[1, row, column]]
    ends = ends[np.isfinite(cost[ends])]
    if not len(ends):
        return None
    at = int(ends[np.argmax(cost[ends])])
    chain = [at]
    while before[at] >= 0:
        at = int(before[at])
        chain.append(at)
    rows, columns = np.nonzero(free)
    cells = np.column_stack([columns, rows])[chain[::-1]].astype(np.float64)
    line = near.cells.back(
        uniform_filter1d(cells, max(3, round(reach / 4.0)), axis=0, mode="nearest")
    )
    return line if len(line) > 1 and length_of(line) > ALLOWANCES.same else None


def _nearest_part(walk: Walk, clear: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The part of some cells that is nearest to where the cutter stands: a channel is opened from
    one end to the other."""
    parts, _ = label(clear, np.ones((3, 3)))
    row, column = np.nonzero(clear)
    x, y = walk.near.cells.of(walk.at.place[None])[0]
    at = int(np.argmin(np.hypot(column - x, row - y)))
    return np.asarray(parts == parts[row[at], column[at]])


def _ways(
    free: NDArray[np.bool_], room: NDArray[np.float32], clear: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.int32], NDArray[np.intp]]:
    """Of each free cell what a way to it costs from the cleared ones, dear near walls, and the
    cell before it; and the number of each cell."""
    number = np.full(free.shape, -1, dtype=np.intp)
    size = int(free.sum())
    number[free] = np.arange(size)
    dear = 1.0 / np.clip(room, 0.02, 1.0) ** 2
    first, second, cost = [], [], []
    for one, two, length in (
        (np.s_[:-1, :], np.s_[1:, :], 1.0),
        (np.s_[:, :-1], np.s_[:, 1:], 1.0),
        (np.s_[:-1, :-1], np.s_[1:, 1:], math.sqrt(2.0)),
        (np.s_[1:, :-1], np.s_[:-1, 1:], math.sqrt(2.0)),
    ):
        both = free[one] & free[two]
        first.append(number[one][both])
        second.append(number[two][both])
        cost.append(length * (dear[one] + dear[two])[both] / 2.0)
    graph = coo_array(
        (np.concatenate(cost), (np.concatenate(first), np.concatenate(second))), (size, size)
    ).tocsr()
    found, before, _ = dijkstra(
        graph, directed=False, indices=number[clear], return_predecessors=True, min_only=True
    )
    return found, before, number
