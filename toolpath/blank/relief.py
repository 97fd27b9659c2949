"""The lowest clear tip over one mesh or measured tops, by a fine height field of its own.

Frame: the page frame of a face, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from contourpy import FillType, contour_generator
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import about_z, own_radius
from toolpath.blank.reach import Standing
from toolpath.blank.solids import page_triangles
from toolpath.field import kernels
from toolpath.field.grid import Grid
from toolpath.job.model import Piece
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

_CELL = 0.025
"""Cell of the field, mm, where it has room for it."""
_MOST_CELLS = 3_000_000
_PER_MM = 1000.0
"""Entries of the table of the cutter for each mm of radius."""
_BLOCK = 10
_NODE = 0.02
"""Step of the nodes between which the edge of what is blocked is drawn, mm."""
_PARTS, _LEVELS = 4, 2
"""Squares are told free or blocked at once, or parted in 4 x 4, twice over, down to the nodes."""
_MOST_NODES = 6_000_000
_CAP = 1.0
"""Heights are told apart as far as this above and below that of the tip, mm."""
_THIN = 0.008
"""Outlines are thinned by this after they were grown by it, mm."""
_TURNED = 0.03
"""How far any point may lie from its nearest turned copy, mm."""
_MOST_TURNS = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief:
    """The top of a piece as upper bounds in the closed cells of a fine field.

    `aside` is how far the true piece may stand to the side of it: its side drift, and what lies
    between turned copies. `error` is how far in plan its answers may lie beside the truth, mm.
    """

    grid: Grid
    z: FloatArray = field(repr=False)
    tops: FloatArray = field(repr=False)
    table: FloatArray = field(repr=False)
    aside: float
    error: float
    known: dict[Grid, tuple[FloatArray, FloatArray]] = field(default_factory=dict, repr=False)
    """What was asked about whole squares."""

    @classmethod
    def of(cls, standing: Standing, within: BaseGeometry) -> Relief:
        """The part of a mesh, or of measured tops from the front, that can bind a tip inside
        `within`."""
        piece = standing.piece
        angles, gap = _turns(piece)
        corners = page_triangles(piece, standing.side, standing.top)
        turned = [corners @ about_z(angle).T for angle in angles]
        placed = np.concatenate(turned) + np.array([*piece.at, 0.0])
        highest_first = np.argsort(-placed[:, :, 2].max(axis=1), kind="stable")
        aside = piece.drift.side + gap
        grid = _grid_over(placed, within, standing.wide + aside)
        found = np.full(grid.shape, -np.inf)
        slack = TOLERANCES.rounding
        room = np.empty((3, 9, 3))
        kernels.top_of_triangles(placed[highest_first], _place(grid), slack, room, found)
        found += slack
        radii = np.arange(math.ceil(max(standing.wide, 0.0) * _PER_MM) + 1) / _PER_MM
        return cls(
            grid=grid,
            z=found,
            tops=_block_tops(found),
            table=standing.reach.height(radii),
            aside=aside,
            error=math.sqrt(2.0) * grid.cell + gap + 1.0 / _PER_MM,
        )

    def lowest(
        self, xy: FloatArray, slack: float, limits: tuple[float, float] = (-math.inf, math.inf)
    ) -> FloatArray:
        """(n,) lowest clear tip within `slack` of each place (n, 2); what lies under the limits is
        given as the lower one, and what lies over them as anything over the upper one."""
        places = np.ascontiguousarray(xy, dtype=np.float64)
        out = np.full(len(places), -np.inf)
        look, place = (float(self.aside + slack), self.table, _PER_MM), _place(self.grid)
        kernels.lowest_tips(self.z, self.tops, _BLOCK, place, places, look, limits, out)
        return out

    def blocked(self, z: float, within: BaseGeometry) -> BaseGeometry:
        """Where a tip at height z is not clear: between nodes of which each holds for all that
        lies within a step of it, drawn by lines between those blocked and those free."""
        squares = self._squares(within)
        if squares is None:
            return shapely.Polygon()
        node = squares.cell / _PARTS**_LEVELS
        step, limits = node * math.sqrt(2.0), (z - _CAP, z + _CAP)
        most, least = self._over_all(squares, step)
        for level in range(1, _LEVELS):
            if not (most > z).any():
                return shapely.Polygon()
            most, least = _parted(most), _parted(least)
            cell, open_ = squares.cell / _PARTS**level, (most > z) & (least <= z)
            middles = _at(squares, cell, open_, 0.5)
            most[open_] = self.lowest(middles, step + cell * math.sqrt(0.5), limits)
            least[open_] = self.lowest(middles, step - cell * math.sqrt(0.5), limits)
        if not (most > z).any():
            return shapely.Polygon()
        rows, columns = _around(most > z)
        most, least = most[rows, columns], least[rows, columns]
        corner = rows.start * _PARTS, columns.start * _PARTS
        values = _at_nodes(_parted(np.where(most <= z, most, least)))
        open_ = _at_nodes(_parted((most > z) & (least <= z)))
        values[open_] = self.lowest(_at(squares, node, open_, 0.0, corner), step, limits)
        return _above(values, z, squares, node, corner).intersection(within)

    def _over_all(self, squares: Grid, step: float) -> tuple[FloatArray, FloatArray]:
        """What no tip of each square exceeds, and what none falls short of; the same for all
        heights, so it is asked once."""
        if squares not in self.known:
            every, half = np.ones(squares.shape, dtype=np.bool_), squares.cell * math.sqrt(0.5)
            middles = _at(squares, squares.cell, every, 0.5)
            found = [self.lowest(middles, step + aside) for aside in (half, -half)]
            self.known[squares] = found[0].reshape(squares.shape), found[1].reshape(squares.shape)
        return self.known[squares]

    def _squares(self, within: BaseGeometry) -> Grid | None:
        """Squares of nodes over all places that can be blocked inside `within`."""
        wide = self.aside + len(self.table) / _PER_MM + 1.0
        low = np.array([self.grid.x0, self.grid.y0]) - wide
        size = np.array([self.grid.columns, self.grid.rows]) * self.grid.cell
        high = low + size + 2.0 * wide
        bounds = np.array(within.bounds)
        low, high = np.maximum(low, bounds[:2] - 1.0), np.minimum(high, bounds[2:] + 1.0)
        if not (high > low).all():
            return None
        node = max(_NODE, math.sqrt(float(np.prod(high - low)) / _MOST_NODES))
        return Grid.over(
            (float(low[0]), float(low[1])), (float(high[0]), float(high[1])), node * _PARTS**_LEVELS
        )


def _above(
    values: FloatArray, z: float, squares: Grid, node: float, corner: tuple[int, int]
) -> BaseGeometry:
    """The area over which nodes (rows, columns), counted from a corner, lie above z."""
    rows, columns = corner[0] + np.arange(len(values)), corner[1] + np.arange(values.shape[1])
    x, y = squares.x0 + columns * node, squares.y0 + rows * node
    capped = np.clip(values, z - _CAP, z + _CAP)
    drawn = contour_generator(x, y, capped, fill_type=FillType.OuterOffset)
    filled: Any = drawn.filled(z, z + 2.0 * _CAP)
    areas = []
    for corners, ends in zip(*filled, strict=True):
        loops = [corners[a:b] for a, b in pairwise(ends)]
        areas.append(shapely.Polygon(loops[0], loops[1:]))
    whole = shapely.buffer(np.array(areas), _THIN, join_style="mitre")
    return shapely.union_all(whole).simplify(_THIN)


def _around(which: NDArray[np.bool_]) -> tuple[slice, slice]:
    """The rows and columns of all that is chosen, with one more on each side."""
    over = [np.flatnonzero(which.any(axis=axis)) for axis in (1, 0)]
    rows, columns = (slice(max(0, int(at[0]) - 1), int(at[-1]) + 2) for at in over)
    return rows, columns


def _at(
    squares: Grid,
    step: float,
    which: NDArray[np.bool_],
    share: float,
    corner: tuple[int, int] = (0, 0),
) -> FloatArray:
    """(k, 2) the places of the chosen squares of side `step`, counted from a corner, at a share of
    it from their lower left."""
    row, column = np.nonzero(which)
    return np.column_stack(
        [
            squares.x0 + (column + corner[1] + share) * step,
            squares.y0 + (row + corner[0] + share) * step,
        ]
    )


def _parted(squares: NDArray[Any]) -> NDArray[Any]:
    """Each square's value in all its parts."""
    return np.repeat(np.repeat(squares, _PARTS, axis=0), _PARTS, axis=1)


def _at_nodes(squares: NDArray[Any]) -> NDArray[Any]:
    """The greatest of the squares that meet at each node."""
    rows, columns = squares.shape
    found = np.zeros((rows + 1, columns + 1), dtype=squares.dtype)
    found[:-1, :-1] = squares
    found[-1, :-1], found[:-1, -1], found[-1, -1] = squares[-1], squares[:, -1], squares[-1, -1]
    for up, over in ((0, 1), (1, 0), (1, 1)):
        part = found[up : up + rows, over : over + columns]
        np.maximum(part, squares, out=part)
    return found


def _turns(piece: Piece) -> tuple[FloatArray, float]:
    """Angles at which copies stand, and how far any point lies from its nearest copy."""
    turn = min(piece.drift.turn, math.pi)
    if turn == 0.0:
        return np.zeros(1), 0.0
    radius = own_radius(piece)
    count = min(_MOST_TURNS, math.ceil(turn * radius / _TURNED))
    angles = turn * ((2.0 * np.arange(count) + 1.0) / count - 1.0)
    return angles, radius * turn / count


def _grid_over(corners: FloatArray, within: BaseGeometry, wide: float) -> Grid:
    """Over what of the triangles lies no further than `wide` from the box of `within`."""
    bounds = np.array(within.bounds)
    low = np.maximum(corners.min(axis=(0, 1))[:2], bounds[:2] - wide)
    high = np.minimum(corners.max(axis=(0, 1))[:2], bounds[2:] + wide)
    high = np.maximum(high, low + _CELL)
    cell = max(_CELL, math.sqrt(float(np.prod(high - low)) / _MOST_CELLS))
    return Grid.over((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), cell)


def _block_tops(z: FloatArray) -> FloatArray:
    """The greatest height of each block of cells."""
    rows, columns = (-(-n // _BLOCK) for n in z.shape)
    whole = np.full((rows * _BLOCK, columns * _BLOCK), -np.inf)
    whole[: z.shape[0], : z.shape[1]] = z
    return np.asarray(whole.reshape(rows, _BLOCK, columns, _BLOCK).max(axis=(1, 3)))


def _place(grid: Grid) -> tuple[float, float, float]:
    return float(grid.x0), float(grid.y0), float(grid.cell)
