"""The passes that follow the last one along a wall in each of its corners.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. A corner is wherever the pass along the wall left it, drawn sharp, cut off or
round with less than the radius of that pass; each gets as many passes as its own turn asks for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from toolpath.plan.corner_arcs import FILM, beyond, channels, rounded, roundings

FloatArray = NDArray[np.float64]
Passes = tuple[FloatArray, ...]
"""The arcs (n, 2) of one corner."""

TURNS = tuple(math.radians(turn) for turn in (30, 45, 60, *range(70, 180, 5)))
"""Corners that turn alike are thinned together, as the sharpest of them asks for."""
NEARLY = math.radians(1.0)
"""By how much a corner may turn more than that: the passes keep more than it of the bound."""
GONE = 0.001
"""What is nearer than this to a pass was taken by it, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Corners:
    """The wall in each corner (n, 2), from where the pass along it turns early, and for each by
    how much it turns, as one of `TURNS`."""

    walls: tuple[FloatArray, ...] = field(repr=False)
    turns: NDArray[np.float64]
    tree: shapely.STRtree = field(repr=False)

    @classmethod
    def between(cls, area: BaseGeometry, now: BaseGeometry, mouths: BaseGeometry) -> _Corners:
        """All stretches that the edge of an area has beyond a rounded one; those turn by 0 from
        which no more than a film is left, and mouths of what is cut later: there is no wall."""
        walls = beyond(area, now, 1.0)
        turns = [_alike(turned(w)) if _is_corner(w, now, mouths) else 0.0 for w in walls]
        tree = shapely.STRtree([LineString(wall) for wall in walls])
        return cls(walls=tuple(walls), turns=np.array(turns), tree=tree)

    def of(self, arc: FloatArray) -> int:
        """The corner (a row) in which an arc lies."""
        return int(self.tree.nearest(shapely.points(arc[len(arc) // 2])))

    def left(self, turn: float, area: BaseGeometry) -> bool:
        """Whether a rounded area leaves anything of corners that turn like that."""
        walls = [wall for wall, own in zip(self.walls, self.turns, strict=True) if own == turn]
        return float(shapely.distance(area, shapely.points(np.concatenate(walls))).max()) > GONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounding:
    """How the pass along a wall rounds its corners, mm, and the radius and the bound of the
    cutter that is to go into them."""

    radius: float
    cutter: float
    bound: float


def corner_passes(
    area: BaseGeometry, first: Rounding, mouths: BaseGeometry
) -> tuple[BaseGeometry, tuple[Passes, ...]]:
    """An area with its corners rounded, and of each corner the arcs, all climbing and the widest
    first, that take a cutter into it from there; `mouths` are no corners."""
    narrow = channels(area, first.radius, first.cutter)
    now = rounded(area, first.radius, first.cutter, narrow)
    corners = _Corners.between(area, now, mouths)
    found: list[list[FloatArray]] = [[] for _ in corners.walls]
    for turn in np.unique(corners.turns[corners.turns > 0.0]).tolist():
        before = now
        for smaller in roundings(turn, first.radius, first.bound, first.cutter):
            then = rounded(area, smaller, first.cutter, narrow) if smaller else area
            for arc in beyond(then, before, 1.0):
                row = corners.of(arc)
                if corners.turns[row] == turn:
                    found[row].append(arc)
            if not corners.left(turn, then):
                break
            before = then
    return now, tuple(tuple(arcs) for arcs in found if arcs)


def _is_corner(wall: FloatArray, now: BaseGeometry, mouths: BaseGeometry) -> bool:
    deep = float(shapely.distance(now, shapely.points(wall)).max())
    return deep > FILM and not mouths.dwithin(shapely.points(wall[len(wall) // 2]), GONE)


def turned(line: FloatArray) -> float:
    """By how much (n, 2) turns to the left at most from one of its stretches to a later one: a wall
    may bend back beside its corner."""
    ahead = np.diff(line, axis=0)
    ahead = ahead[np.hypot(*ahead.T) > 0.0]
    angle = np.unwrap(np.arctan2(ahead[:, 1], ahead[:, 0]))
    return float((angle - np.minimum.accumulate(angle)).max())


def _alike(turn: float) -> float:
    return next((each for each in TURNS if turn <= each + NEARLY), TURNS[-1])
