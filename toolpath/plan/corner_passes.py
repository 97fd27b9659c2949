"""The passes that follow the last one along a wall in each of its corners.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. A corner is wherever the pass along the wall left it, drawn sharp, cut off or
round with less than the radius of that pass; each gets as many passes as its own turn asks for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from toolpath.plan.corner_arcs import FILM, MOST, SPARE, beyond, channels, rounded, shrink

FloatArray = NDArray[np.float64]
Passes = tuple[FloatArray, ...]
"""The arcs (n, 2) of one corner."""

TURNS = tuple(math.radians(turn) for turn in (30, 45, 60, *range(70, 180, 5)))
"""Corners that turn alike are thinned on the same roundings, as the sharpest of them asks for."""
NEARLY = math.radians(1.0)
"""By how much a corner may turn more than that: the passes keep more than it of the bound."""
GONE = 0.001
"""What is nearer than this to a pass was taken by it, mm."""


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
    first, that take a cutter into it from there; `mouths` of what is cut later are no corners."""
    narrow = channels(area, first.radius, first.cutter)
    corners = _Corners(area=area, narrow=narrow, first=first)
    whole = corners.rounded(first.radius)
    found: list[Passes] = []
    for row, wall in enumerate(whole.walls):
        if whole.deep(row) > FILM and not mouths.dwithin(_middle(wall), GONE):
            found.append(tuple(corners.into(row)))
    return whole.area, tuple(passes for passes in found if passes)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rounded:
    """An area as rounded, and the walls (n, 2) in the corners that it leaves."""

    area: BaseGeometry = field(repr=False)
    walls: tuple[FloatArray, ...] = field(repr=False)
    tree: shapely.STRtree = field(repr=False)

    @classmethod
    def of(cls, whole: BaseGeometry, area: BaseGeometry) -> _Rounded:
        """Of all of it."""
        walls = tuple(beyond(whole, area, 1.0))
        tree = shapely.STRtree([LineString(wall) for wall in walls])
        return cls(area=area, walls=walls, tree=tree)

    def deep(self, row: int) -> float:
        """How much is left in a corner, mm."""
        return float(shapely.distance(self.area, shapely.points(self.walls[row])).max())

    def rows(self, lines: Sequence[FloatArray]) -> list[int]:
        """In which of its corners lines lie."""
        return [int(self.tree.nearest(_middle(line))) for line in lines] if self.walls else []


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Step:
    """From one rounding to the next: the arcs between, the corner (a row of the first) in which
    each lies, and of each corner that is left the one of which it is a part."""

    arcs: list[FloatArray] = field(repr=False)
    owners: list[int]
    parents: list[int]


@dataclass(slots=True, kw_only=True, eq=False)
class _Corners:
    """The corners of an area on all roundings that are asked for, each reckoned once."""

    area: BaseGeometry = field(repr=False)
    narrow: BaseGeometry = field(repr=False)
    first: Rounding
    _known: dict[float, _Rounded] = field(default_factory=dict, repr=False)
    _steps: dict[tuple[float, float], _Step] = field(default_factory=dict, repr=False)

    def rounded(self, radius: float) -> _Rounded:
        """The area with its corners rounded so."""
        if radius not in self._known:
            now = (
                rounded(self.area, radius, self.first.cutter, self.narrow) if radius else self.area
            )
            self._known[radius] = _Rounded.of(self.area, now)
        return self._known[radius]

    def into(self, row: int) -> Iterator[FloatArray]:
        """The arcs into a corner. Where two lie so near each other that they are one at first,
        into one after the other from where they part."""
        left = [(row, self.first.radius, MOST)]
        while left:
            row, radius, count = left.pop()
            smaller = self._next(row, radius) if count else 0.0
            step = self._step(radius, smaller)
            yield from (arc for arc, own in zip(step.arcs, step.owners, strict=True) if own == row)
            inner = [k for k, parent in enumerate(step.parents) if parent == row]
            left += [(k, smaller, count - 1) for k in reversed(inner)]

    def _next(self, row: int, radius: float) -> float:
        """The rounding that follows in a corner; 0 where no more than a film is left."""
        now = self.rounded(radius)
        if now.deep(row) <= FILM:
            return 0.0
        size = round(radius / self.first.cutter, 2)
        return radius * shrink(
            _alike(turned(now.walls[row])), round(self.first.bound - SPARE, 3), size
        )

    def _step(self, radius: float, smaller: float) -> _Step:
        if (radius, smaller) not in self._steps:
            now, then = self.rounded(radius), self.rounded(smaller)
            arcs = beyond(then.area, now.area, 1.0)
            step = _Step(arcs=arcs, owners=now.rows(arcs), parents=now.rows(then.walls))
            self._steps[radius, smaller] = step
        return self._steps[radius, smaller]


def turned(line: FloatArray) -> float:
    """By how much (n, 2) turns to the left at most from one of its stretches to a later one: a wall
    may bend back beside its corner."""
    ahead = np.diff(line, axis=0)
    ahead = ahead[np.hypot(*ahead.T) > 0.0]
    angle = np.unwrap(np.arctan2(ahead[:, 1], ahead[:, 0]))
    return float((angle - np.minimum.accumulate(angle)).max())


def _middle(line: FloatArray) -> Point:
    return Point(line[len(line) // 2])


def _alike(turn: float) -> float:
    return round(next((each for each in TURNS if turn <= each + NEARLY), TURNS[-1]), 3)
