"""Places for labels: beside what they name, off each other and off other things."""

from __future__ import annotations

from collections.abc import Sequence
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
_TINY = 1e-12
"""Area of what has none: nothing lies on it."""

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
    labels = np.empty((len(around.taken) + len(wanted), 4))
    labels[: len(around.taken)] = _table(around.taken)
    things, ground = _table(around.things), _table(around.ground)
    found: list[Box] = []
    for number, want in enumerate(wanted, len(around.taken)):
        boxes, cost = _candidates(want)
        cost += _OUTSIDE * (1.0 - _shared(boxes, _table((around.window,)))[:, 0] / _areas(boxes))
        for weight, others in ((_LABEL, labels[:number]), (_THING, things), (_GROUND, ground)):
            cost += weight * _covered(boxes, others)
        cost += _LINES * _crossed(boxes, around.lines)
        labels[number] = boxes[int(cost.argmin())]
        found.append(Box.of(labels[number].tolist()))
    return tuple(found)


def _table(boxes: Sequence[Box]) -> FloatArray:
    """(n, 4) boxes as left, bottom, right, top."""
    rows = [(box.left, box.bottom, box.right, box.top) for box in boxes]
    return np.array(rows, dtype=np.float64).reshape(-1, 4)


def _candidates(want: Wanted) -> tuple[FloatArray, FloatArray]:
    """(k, 4) boxes around the thing, and what it costs (k,) that they are so far out."""
    thing, (x, y) = want.thing, want.thing.middle
    reach_x = (thing.right - thing.left + want.width) / 2
    reach_y = (thing.top - thing.bottom + want.height) / 2
    found, far = [], []
    for step in _STEPS:
        out = step * want.height
        for right, up in _DIRECTIONS:
            for slide in (0.0, 0.5, -0.5) if right == 0 else (0.0,):
                middle_x = x + right * (reach_x + out) + slide * want.width
                middle_y = y + up * (reach_y + out)
                found.append(Box.about(middle_x, middle_y, want.width, want.height))
                far.append(_FAR * step)
    return _table(found), np.array(far)


def _areas(boxes: FloatArray) -> FloatArray:
    return np.asarray((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]))


def _shared(boxes: FloatArray, others: FloatArray) -> FloatArray:
    """(k, n) areas shared by boxes (k, 4) and others (n, 4)."""
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    size = high - np.maximum(boxes[:, None, :2], others[None, :, :2])
    return np.asarray(np.maximum(size, 0.0).prod(axis=2))


def _covered(boxes: FloatArray, others: FloatArray) -> FloatArray:
    """(k,) how much of boxes (k, 4), or of the others where they are smaller, lies on others."""
    least = np.minimum(_areas(boxes)[:, None], _areas(others)[None, :])
    return np.asarray((_shared(boxes, others) / np.maximum(least, _TINY)).sum(axis=1))


def _crossed(boxes: FloatArray, spots: FloatArray | None) -> FloatArray:
    """(k,) how much of boxes (k, 4) lies on lines: 0 for none, 1 from where they are crossed again
    and again."""
    found = np.zeros(len(boxes))
    if spots is None or not len(spots):
        return found
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    near = spots[((spots > low) & (spots < high)).all(axis=1)]
    for row, (left, bottom, right, top) in enumerate(boxes.tolist()):
        x, y = near.T
        within = (x > left) & (x < right) & (y > bottom) & (y < top)
        found[row] = min(float(np.count_nonzero(within)) / _MANY, 1.0)
    return found
