"""Channels that an earlier cutter did not get into, cut to and fro on arcs from wall to wall.

Frame: x, y of the blank frame or its mirror image in which climbing has the stock on its right,
millimetres, radians. The largest discs that fit between the walls follow one another along the
middle of a channel; each pass is the front of one, and the next begins a little further along the
wall where it ended. So it comes to a wall and leaves it along the wall: after a straight pass the
cutter would meet all between the wall and the way ahead at once, 90 degrees. A skin stays along
the walls for the climbing pass after it.

Discs along a medial axis: G. Elber, E. Cohen, S. Drake, "MATHSM: medial axis transform toward high
speed machining of pockets", Computer-Aided Design 37(2), 2005; there whole turns, here half ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from toolpath.plan.axis import Axis, axes_of
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.lines import length_of, places_on
from toolpath.plan.near import Near
from toolpath.plan.places import Place
from toolpath.plan.to_and_fro import AIM, DENSE, FILM, SKIN

FloatArray = NDArray[np.float64]

WIDEST = 1.5
"""Channels have no more room than this to each side of the centre, in radii."""
SHORTEST = 1.0
"""What is shorter along its middle, in radii, is no channel."""
AROUND = 7.5
"""So far round a place its walls are looked at, in radii."""
PITCH = 0.05
"""Between places along the walls, in radii."""
FURTHEST = 1.0
"""From one pass to the next at most, in radii."""
LEAN = 0.5
"""A pass begins by so much of the step further on at its first wall by which it ends further on at
the other: most is met in its first half."""
FINE = 0.01
"""Between discs, in radii."""
EVERY = 5
"""Every so manyth disc is asked whether it meets something."""
SPARSE = 0.2
"""... at places so far apart, in radii."""
MOST = 12
"""Channels of one place."""


@dataclass(slots=True, kw_only=True, eq=False)
class _Channel:
    """A channel as it is cut: its stock, its discs in the order in which they are, the bound."""

    near: Near
    axis: Axis = field(repr=False)
    bound: float

    def wall(self, side: int) -> FloatArray:
        """(n, 2) where the discs touch the left wall (0) or the right one (1)."""
        return self.axis.right if side else self.axis.left

    def way(self, at: tuple[int, int], then: tuple[int, int], side: int) -> FloatArray:
        """(n, 2) from where a pass ended, at the left (0) or the right (1) wall, on along that wall
        and across to the other; `at` and `then` are the rows of the discs that are touched there,
        at the left and the right, before it and after."""
        wall = self.wall(side)[at[side] : then[side] + 1]
        wide = math.pi * self.axis.radius(max(then))
        shares = np.linspace(0.0, 1.0, max(8, math.ceil(wide / DENSE / self.near.radius)) + 1)
        rows = then[0] + shares * (then[1] - then[0])
        front = self.axis.front(rows, shares)[:: -1 if side else 1]
        return np.vstack([wall, front[1:]])

    def keeps(self, way: FloatArray) -> bool:
        """Whether a way keeps the bound."""
        return bool(self.near.beside(way).engaged(way).max() <= self.bound - AIM)

    def begins(self, side: int) -> bool:
        """Whether the first front can be begun at the left (0) or the right (1) wall."""
        clear = self.near.clear(self.wall(side)[:1])
        return clear and self.keeps(self.way((0, 0), (0, 0), side))

    def furthest(self, at: tuple[int, int], side: int) -> tuple[int, int]:
        """The discs furthest on to which the next pass may go; the same if to none."""
        most = self.axis.along[at[1 - side]] + FURTHEST * self.near.radius
        good, bad = 0, int(np.searchsorted(self.axis.along, most, side="right")) - at[1 - side]
        bad = max(bad, 2)
        while bad - good > 1:
            middle = (good + bad) // 2
            kept = self.keeps(self.way(at, self._on(at, middle, side), side))
            good, bad = (middle, bad) if kept else (good, middle)
        return self._on(at, good, side)

    def _on(self, at: tuple[int, int], far: int, side: int) -> tuple[int, int]:
        """Discs that are so many further on at the wall to which a pass leads."""
        begin, end = at[side] + round(LEAN * far), at[1 - side] + far
        last = len(self.axis) - 1
        begin, end = min(begin, last), min(end, last)
        return (end, begin) if side else (begin, end)


def cut_channels(walk: Walk, area: BaseGeometry, place: Place, bound: float) -> bool:
    """All channels of a place that open into what is cleared. Whether there were any."""
    found = False
    for _ in range(MOST):
        channel = _next(walk.near, _axes(walk.near, area, place), bound)
        if channel is None or not _cut(walk, channel):
            break
        found = True
    return found


def _cut(walk: Walk, channel: _Channel) -> bool:
    """One pass after another from the first disc on; whether it was more than the first."""
    sides = [side for side in (0, 1) if channel.begins(side)]
    side = min(sides, key=lambda each: math.dist(channel.wall(each)[0], walk.at.place))
    at, passes, last = (0, 0), 0, len(channel.axis) - 1
    while min(at) < last:
        then = channel.furthest(at, side)
        way = channel.way(at, then, side)
        if (then == at and passes) or not _meets(walk.near, way):
            break
        if passes:
            walk.near.sweep(way)
            walk.take(Kind.CUT, way)
        else:
            walk.cut(Kind.CUT, way)
        at, side, passes = then, 1 - side, passes + 1
    return passes > 1


def _next(near: Near, axes: Iterable[Axis], bound: float) -> _Channel | None:
    """The longest channel that still stands and can be begun."""
    parts = [part for axis in axes for part in _stocked(near, axis)]
    for part in sorted(parts, key=lambda each: -float(each.along[-1])):
        if part.along[-1] < SHORTEST * near.radius:
            break
        channel = _Channel(near=near, axis=part, bound=bound)
        if channel.begins(0) or channel.begins(1):
            return channel
    return None


def _axes(near: Near, area: BaseGeometry, place: Place) -> Iterator[Axis]:
    radius = near.radius
    around = AROUND * radius
    local = area.intersection(box(*place.box(around + radius)))
    local = local.buffer(-SKIN * radius, join_style="mitre")
    found = axes_of(local, place.box(around), PITCH * radius, WIDEST * radius)
    return (axis.dense(FINE * radius) for axis in found)


def _stocked(near: Near, axis: Axis) -> Iterator[Axis]:
    """The stretches of a way along discs that meet stock, from either end and with the disc
    before."""
    pitch = SPARSE * near.radius
    every = [_meets(near, axis.around(row, pitch)) for row in range(0, len(axis), EVERY)]
    rows = np.flatnonzero(np.repeat(every, EVERY)[: len(axis)])
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        if len(run):
            first, last = int(run[0]), int(run[-1])
            yield _part(axis, max(0, first - 1), last)
            yield _part(axis, first, min(last + 1, len(axis) - 1)).back


def _meets(near: Near, way: FloatArray) -> bool:
    """Whether more than a film is met along a way, between whose places the cutter goes on by more
    than that."""
    length = length_of(way)
    spots = np.linspace(0.0, length, max(2, math.floor(length / SPARSE / near.radius) + 1))
    places = places_on(way, spots)
    found = near.beside(places).engaged(places, film=FILM * near.radius)
    return bool(found.max() > 0.0)


def _part(axis: Axis, first: int, last: int) -> Axis:
    rows = slice(first, last + 1)
    return Axis(middle=axis.middle[rows], left=axis.left[rows], right=axis.right[rows])
