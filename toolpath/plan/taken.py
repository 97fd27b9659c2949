"""How wide and how deep the cutter is engaged in each move of a cut, measured by cutting a coarse
height field with the moves in their order.

Frame: page frame of the face. Right to a cell in width; the stock is taken to be whole at the
height where the cut begins, also beside the blank. Errs towards more engagement.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.field.grid import Grid
from toolpath.field.sweep import bite
from toolpath.job.model import Cutter, Machine
from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

STRETCH = 2.0
"""Path over which a width is measured at least, mm; shorter moves are put together."""
_CHORD = 1.0
_TURN = math.radians(15.0)
"""Chords are no longer than this, mm, and turn no further."""
_COARSEST, _FINEST, _CELLS_ACROSS = 0.4, 0.1, 15.0
"""Cells, mm: so many across the cutter, within these."""
_MOST_CELLS = 4e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bitten:
    """For each of n moves the greatest engaged width over a stretch of it and the greatest depth
    taken at once, mm; 0 for rapids and in air."""

    width: FloatArray
    depth: FloatArray
    cell: float


class Block:
    """The material of a cut while its moves go through it."""

    def __init__(
        self, tables: Iterable[MoveTable], diameters: tuple[float, float], top: float
    ) -> None:
        """`tables` are all moves that will go through it, `diameters` the thinnest and the widest
        of their cutters, `top` the height at which the material begins."""
        thinnest, widest = diameters
        every = [np.concatenate([table.start, table.end]) for table in tables]
        points = np.concatenate(every)[:, :2]
        low, high = points.min(axis=0) - widest, points.max(axis=0) + widest
        self.cell = _cell(thinnest, high - low)
        columns, rows = np.ceil((high - low) / self.cell).astype(int).tolist()
        self.grid = Grid(
            x0=float(low[0]), y0=float(low[1]), cell=self.cell, rows=rows, columns=columns
        )
        self.z = np.full(self.grid.shape, top, dtype=np.float32)

    def cut(self, table: MoveTable, cutter: Cutter, machine: Machine) -> Bitten:
        """What moves take, in their order; the block is lowered by it."""
        start, end, row = _chords(table)
        profile = profile_of(cutter, machine.nut).only(FLUTES)
        taken = bite(self.z, self.grid, start, end, profile, limit=cutter.stepdown)
        width, depth = np.zeros(len(table)), np.zeros(len(table))
        np.maximum.at(depth, row, taken.depth)
        length = np.hypot(*(end - start)[:, :2].T)
        np.maximum.at(width, row, np.minimum(_widths(taken.area, length), cutter.diameter))
        return Bitten(width=width, depth=depth, cell=self.cell)


def _cell(diameter: float, size: FloatArray) -> float:
    fine = min(max(diameter / _CELLS_ACROSS, _FINEST), _COARSEST)
    return max(fine, math.sqrt(float(size.prod()) / _MOST_CELLS))


def _chords(table: MoveTable) -> tuple[FloatArray, FloatArray, IntArray]:
    """Short straight pieces of all feed moves: starts, ends (n, 3) and the move of each."""
    feeding = np.flatnonzero(table.kind != Kind.RAPID)
    turns = np.where(table.kind == Kind.ARC, np.abs(table.sweep), 0.0) / _TURN
    count = np.maximum(np.maximum(table.lengths() / _CHORD, turns), 1.0)[feeding]
    pieces = np.ceil(count).astype(np.intp)
    row = np.repeat(feeding, pieces)
    within = np.arange(len(row)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = np.repeat(pieces, pieces)
    return table.at(row, within / share), table.at(row, (within + 1) / share), row


def _widths(area: FloatArray, length: FloatArray) -> FloatArray:
    """(n,) area over length of the stretch that each chord belongs to; 0 for upright chords."""
    if not length.sum() > 0.0:
        return np.zeros(len(area))
    stretch = np.floor(np.cumsum(length) / STRETCH).astype(np.intp)
    stretch -= stretch[0]
    path = np.bincount(stretch, weights=length)
    found = np.bincount(stretch, weights=np.where(length > 0.0, area, 0.0))
    width = found / np.where(path > 0.0, path, 1.0)
    return np.asarray(np.where(length > 0.0, width[stretch], 0.0), dtype=np.float64)
