"""Polylines as lines and arcs, fitted once and walked at every level.

Frame: x, y of the blank frame, millimetres. Along a wall arcs lie on the side away from it, and
close enough that what they leave of it stays small; elsewhere on either side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.motion.arcfit import fit_arcs, moves_along
from toolpath.motion.moves import MoveTable
from toolpath.motion.runs import Band
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import length_of
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

_SHARE_STEP = 0.025
_LEAST_SHARE = 0.05
"""Shares of the band that are tried along a wall: the last is taken whatever it leaves."""
_GROWTH = 0.6
"""The strip that arcs leave grows with the band by 1 / this power (measured, 1.2 to 1.6); too
little rather than too much, as every share that is passed over may have done."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Lines and arcs one after another: `edges` (k, 3) x, y, bulge; `length` mm."""

    edges: FloatArray = field(repr=False)
    length: float
    closed: bool = False

    def begun_at(self, spot: tuple[float, float]) -> Curve:
        """The same from a place a hair beside its first."""
        if (self.edges[0, :2] == spot).all():
            return self
        edges = self.edges.copy()
        edges[0, :2] = spot
        return Curve(edges=edges, length=self.length, closed=self.closed)


def curve_of(edges: FloatArray, *, closed: bool) -> Curve:
    """Edges with their length."""
    length = sum(move.length for move in moves_along(edges, 0.0, 0.0, 1.0, closed=closed))
    return Curve(edges=edges, length=length, closed=closed)


def curves_of(points: FloatArray, tolerance: float) -> tuple[Curve, ...]:
    """The curves that replace a polyline (n, 2) within `tolerance`, its ends exact."""
    total = length_of(points)
    if total <= ALLOWANCES.same:
        return ()
    band = Band(right=tolerance, left=tolerance, sagitta=tolerance)
    return (curve_of(fit_arcs(points, closed=False, tolerance=band), closed=False),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A wall that a path runs along: on its right for `turn` 1, else on its left. Arcs may leave
    a strip of it that is `strip` mm wide on average."""

    turn: float
    strip: float
    centres: BaseGeometry | None = None
    """Where the centre may be, if that holds of both sides of the path."""

    @classmethod
    def of(
        cls,
        centres: BaseGeometry,
        radius: float,
        turn: float,
        share: float = ALLOWANCES.strip_share,
    ) -> Wall:
        """The wall that a cutter of that radius reaches with its centre in an area: the strip is
        at most a share of what `TOLERANCES.area` lets it leave of what it reaches."""
        reach = centres.buffer(radius, quad_segs=4)
        strip = share * TOLERANCES.area * reach.area / max(reach.length, ALLOWANCES.same)
        return cls(turn=turn, strip=strip, centres=centres)

    def band(self, away: float) -> Band:
        """Arcs so far from the wall at most, and hardly nearer to it."""
        near, sagitta = TOLERANCES.arc_fit, ALLOWANCES.inner_fit
        if self.turn > 0:
            return Band(right=near, left=away, sagitta=sagitta)
        return Band(right=away, left=near, sagitta=sagitta)


def wall_edges(points: FloatArray, wall: Wall, *, closed: bool) -> FloatArray:
    """Edges (k, 3) that replace a polyline along a wall: as few as leave no more of it than they
    may, the ends of an open one exact."""
    line = np.concatenate([points, points[:1]]) if closed else points
    most, share = wall.strip * length_of(line), 1.0
    while True:
        band = wall.band(share * ALLOWANCES.inner_fit)
        edges = fit_arcs(points, closed=closed, tolerance=band)
        ends = np.concatenate([edges, edges[:1]]) if closed else edges
        strip = _strip(line, ends, wall.turn)
        if share <= _LEAST_SHARE or (strip <= most and _stays(ends, wall)):
            return edges
        share = _narrower(share, most / strip if strip > most else 0.0)


def _narrower(share: float, held: float) -> float:
    """The share of the band to try next, where arcs keep to so much of the strip that they may
    leave; 0 where they left little and came out of where the centre may be."""
    guess = share * held**_GROWTH if held > 0.0 else 0.85 * share
    steps = min(math.floor(guess / _SHARE_STEP), round(share / _SHARE_STEP) - 1)
    return max(_LEAST_SHARE, steps * _SHARE_STEP)


def wall_curves(points: FloatArray, wall: Wall) -> tuple[Curve, ...]:
    """The curves that replace a polyline (n, 2) along a wall."""
    if length_of(points) <= ALLOWANCES.same:
        return ()
    return (curve_of(wall_edges(points, wall, closed=False), closed=False),)


def _stays(edges: FloatArray, wall: Wall) -> bool:
    """Whether edges stay where the centre may be: a wall may be near on the other side too."""
    if wall.centres is None:
        return True
    table = MoveTable.of(moves_along(edges, 0.0, 0.0, 1.0, closed=False))
    share = np.linspace(0.0, 1.0, 17)
    spots = table.at(np.repeat(np.arange(len(table)), 17), np.tile(share, len(table)))[:, :2]
    allowed = wall.centres.buffer(1.5 * TOLERANCES.arc_fit, quad_segs=2)  # and between its gates
    return bool(shapely.covers(allowed, shapely.linestrings(spots)))


def _strip(line: FloatArray, edges: FloatArray, turn: float) -> float:
    """How much more of the wall edges leave than a line between the same ends, mm²."""
    sweep = 4.0 * np.arctan(edges[:-1, 2])
    half = np.where(sweep == 0.0, 1.0, np.abs(sweep) / 2.0)
    chord = np.hypot(*np.diff(edges[:, :2], axis=0).T)
    segment = (chord / 2.0 / np.sin(half)) ** 2 * (half - np.sin(half) * np.cos(half))
    bulge = float((np.sign(sweep) * segment).sum())
    return turn * (_swept(line) - _swept(edges[:, :2]) - bulge)


def _swept(line: FloatArray) -> float:
    """The area between a line and its first point, counter-clockwise positive (shoelace)."""
    x, y = (line - line[0]).T
    return float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() / 2.0)


def total_length(curves: Sequence[Curve]) -> float:
    """Length of all curves, mm."""
    return sum(curve.length for curve in curves)
