"""How wide and how deep the cutter is engaged along the moves of a cut, measured by cutting a
coarse height field with the moves in their order.

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
_MOST_STRETCHES = 1e6
"""Of one part of a cut; a longer path has longer ones, so that memory is enough."""
_ASIDE = 0.37
"""Of a cell: so that walls on round numbers do not run through the middles of cells."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bitten:
    """What was taken along k stretches of feed moves, in their order: the move (row of its table),
    from and to which share of it, engaged width and greatest depth at once, mm. Widths are 0 in
    air and where it goes straight down. `cell` is how near they are, mm."""

    row: IntArray
    low: FloatArray
    high: FloatArray
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
        points = np.concatenate([table.bounds() for table in tables])[:, :2]
        low, high = points.min(axis=0) - widest, points.max(axis=0) + widest
        self.cell = _cell(thinnest, high - low)
        low -= _ASIDE * self.cell
        columns, rows = np.ceil((high - low) / self.cell).astype(int).tolist()
        self.grid = Grid(
            x0=float(low[0]), y0=float(low[1]), cell=self.cell, rows=rows, columns=columns
        )
        self.z = np.full(self.grid.shape, top, dtype=np.float32)

    def cut(self, table: MoveTable, cutter: Cutter, machine: Machine) -> Bitten:
        """What moves take, in their order; the block is lowered by it."""
        longer = max(1.0, float(table.lengths().sum()) / STRETCH / _MOST_STRETCHES)
        row, number, count = _stretches(table, STRETCH * longer)
        each = _chords_in(table, row, count, _CHORD * longer)
        chord = np.repeat(np.arange(len(row)), each)
        within = np.arange(len(chord)) - np.repeat(np.cumsum(each) - each, each)
        low = (number[chord] + within / each[chord]) / count[chord]
        start = table.at(row[chord], low)
        end = table.at(row[chord], low + 1.0 / (count * each)[chord])
        profile = profile_of(cutter, machine.nut).only(FLUTES)
        taken = bite(self.z, self.grid, start, end, profile, limit=cutter.stepdown)
        depth = np.zeros(len(row))
        np.maximum.at(depth, chord, taken.depth)
        area = _sum(chord, taken.area, len(row))
        length = _sum(chord, np.hypot(*(end - start)[:, :2].T), len(row))
        return Bitten(
            row=row,
            low=number / count,
            high=(number + 1.0) / count,
            width=np.minimum(_widths(area, length, row, count), cutter.diameter),
            depth=depth,
            cell=self.cell,
        )


def _sum(place: IntArray, weights: FloatArray, count: int) -> FloatArray:
    return np.asarray(np.bincount(place, weights=weights, minlength=count), dtype=np.float64)


def _cell(diameter: float, size: FloatArray) -> float:
    fine = min(max(diameter / _CELLS_ACROSS, _FINEST), _COARSEST)
    return max(fine, math.sqrt(float(size.prod()) / _MOST_CELLS))


def _stretches(table: MoveTable, size: float) -> tuple[IntArray, IntArray, IntArray]:
    """Of each stretch the move, its number in it from 0, and how many the move has."""
    feeding = np.flatnonzero(table.kind != Kind.RAPID)
    many = np.maximum(np.floor(table.lengths()[feeding] / size), 1.0).astype(np.intp)
    row = np.repeat(feeding, many)
    number = np.arange(len(row)) - np.repeat(np.cumsum(many) - many, many)
    return row, number, np.repeat(many, many)


def _chords_in(table: MoveTable, row: IntArray, count: IntArray, size: float) -> IntArray:
    """Into how many chords, no longer than a size, each stretch is cut; a level line is one."""
    turns = np.where(table.kind == Kind.ARC, np.abs(table.sweep), 0.0) / _TURN
    level = (table.kind == Kind.LINE) & (table.start[:, 2] == table.end[:, 2])
    parts = np.where(level, 1.0, np.maximum(table.lengths() / size, turns))
    need = parts[row] / count
    return np.maximum(np.ceil(need), 1.0).astype(np.intp)


def _widths(area: FloatArray, length: FloatArray, row: IntArray, count: IntArray) -> FloatArray:
    """Area over length of each stretch. Moves shorter than a stretch that follow each other are
    put together, so that the beginning of one is not measured by itself."""
    upright = length <= 0.0
    own = (count > 1) | (length >= STRETCH) | upright
    gap = np.diff(row, prepend=-2) > 1
    block = np.cumsum(own | gap | np.concatenate([[True], own[:-1]])) - 1
    middle = np.cumsum(length) - length / 2.0
    first = middle[np.flatnonzero(np.diff(block, prepend=-1))]
    local = np.floor((middle - first[block]) / STRETCH).astype(np.intp)
    group = np.cumsum(np.diff(block * (local.max(initial=0) + 1) + local, prepend=-1) != 0) - 1
    path = np.bincount(group, weights=length)
    found = np.bincount(group, weights=area) / np.where(path > 0.0, path, 1.0)
    return np.asarray(np.where(upright, 0.0, found[group]), dtype=np.float64)
