"""Places for labels: beside what they name, off each other and off other things."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_DIRECTIONS = ((1, 0), (0, 1), (0, -1), (-1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1))
_STEPS = (0.35, 1.2, 2.4, 4.0, 6.0, 8.5, 12.0)
"""How far out to look, in heights of the label."""
_OUTSIDE, _LABEL, _THING, _GROUND, _FAR, _LINES = 60.0, 30.0, 4.0, 0.8, 0.5, 2.5
"""What a place costs: the share of it outside; the share of label or other, whichever is smaller,
that lies on another label, on a thing, on busy ground; each height that it is away; lines
across it."""


_MANY = 25.0
"""Spots of lines under a label that are as bad as any more."""

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An upright box in the plane of a picture."""

    left: float
    bottom: float
    right: float
    top: float

    @classmethod
    def of(cls, bounds: Sequence[float]) -> Box:
        """The box of (xmin, ymin, xmax, ymax)."""
        return cls(left=bounds[0], bottom=bounds[1], right=bounds[2], top=bounds[3])

    @classmethod
    def about(cls, x: float, y: float, width: float, height: float) -> Box:
        """The box of that size with its middle at x, y."""
        return cls(
            left=x - width / 2, bottom=y - height / 2, right=x + width / 2, top=y + height / 2
        )

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle."""
        return (self.left + self.right) / 2, (self.bottom + self.top) / 2

    @property
    def area(self) -> float:
        """Its area."""
        return (self.right - self.left) * (self.top - self.bottom)

    def overlap(self, other: Box) -> float:
        """Area shared with another box."""
        width = min(self.right, other.right) - max(self.left, other.left)
        height = min(self.top, other.top) - max(self.bottom, other.bottom)
        return max(width, 0.0) * max(height, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A label of that size wanted beside the box of a thing; all in the units of the picture."""

    thing: Box
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surroundings:
    """What labels have to reckon with: `window` is to be kept to, `taken` are labels already
    there, `things` may be covered where there is no better place, `ground` is only busy."""

    window: Box
    taken: tuple[Box, ...] = ()
    things: tuple[Box, ...] = ()
    ground: tuple[Box, ...] = ()
    lines: FloatArray | None = None
    """(n, 2) spots along lines that lettering had better not run over."""


def place(wanted: Sequence[Wanted], around: Surroundings) -> tuple[Box, ...]:
    """A box for each wanted label, in the order given.

    The first come are served best, so give the weightiest first.
    """
    placed: list[Box] = list(around.taken)
    found = []
    for want in wanted:
        best = min(_candidates(want), key=lambda c: _cost(c, placed, around))[0]
        placed.append(best)
        found.append(best)
    return tuple(found)


def _candidates(want: Wanted) -> Iterator[tuple[Box, float]]:
    """Boxes around the thing with how far out each is, in label heights."""
    thing, (x, y) = want.thing, want.thing.middle
    reach_x = (thing.right - thing.left + want.width) / 2
    reach_y = (thing.top - thing.bottom + want.height) / 2
    for step in _STEPS:
        out = step * want.height
        for right, up in _DIRECTIONS:
            for slide in (0.0, 0.5, -0.5) if right == 0 else (0.0,):
                middle_x = x + right * (reach_x + out) + slide * want.width
                middle_y = y + up * (reach_y + out)
                yield Box.about(middle_x, middle_y, want.width, want.height), step


def _cost(candidate: tuple[Box, float], labels: Sequence[Box], around: Surroundings) -> float:
    """What it costs to put a label there."""
    box, step = candidate
    cost = _FAR * step + _OUTSIDE * (1.0 - box.overlap(around.window) / box.area)
    for weight, others in (
        (_LABEL, labels),
        (_THING, around.things),
        (_GROUND, around.ground),
    ):
        cost += weight * sum(box.overlap(other) / min(box.area, other.area) for other in others)
    return cost + _LINES * _crossed(box, around.lines)


def _crossed(box: Box, spots: FloatArray | None) -> float:
    """How much of a box lies on lines: 0 for none, 1 from where it is crossed again and again."""
    if spots is None or not len(spots):
        return 0.0
    x, y = spots.T
    within = (x > box.left) & (x < box.right) & (y > box.bottom) & (y < box.top)
    return min(float(within.sum()) / _MANY, 1.0)
