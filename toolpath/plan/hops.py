"""How high the tip goes along a loop with tabs, turn after turn.

Frame: page frame of the face; distances along the loop, millimetres. Over each tab the tip is
level; it comes up to it at `RISE` and goes down behind it no steeper than the cutter's ramp. Where
a turn of the spiral is higher than that anyhow, it goes on as without tabs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.circuit import Circuit
from toolpath.plan.curves import curve_of
from toolpath.plan.route import Route

FloatArray = NDArray[np.float64]

RISE = math.tan(math.radians(30.0))
"""Slope up to a tab: what the cutter climbs it has cut before or cuts with its side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hops:
    """The level stretches over the tabs of a loop of `length`: from `first` to `last` (each (k,),
    distances, `last` beyond the end where one runs over it) at height `top`; `fall` is the slope
    down behind them."""

    length: float
    first: FloatArray
    last: FloatArray
    top: float
    fall: float

    def least(self, where: FloatArray) -> FloatArray:
        """(n,) the lowest that the tip may go at distances; -inf where no tab says anything."""
        found = np.full(len(where), -np.inf)
        for round_ in (-1.0, 0.0, 1.0):
            first, last = self.first + round_ * self.length, self.last + round_ * self.length
            before = first[None, :] - where[:, None]
            behind = where[:, None] - last[None, :]
            below = np.maximum(np.maximum(RISE * before, self.fall * behind), 0.0)
            found = np.maximum(found, (self.top - below).max(axis=1, initial=-np.inf))
        return found

    def bends(self) -> FloatArray:
        """Distances within the loop between which `least` is straight, both ends included."""
        first, last = np.sort(self.first), np.sort(self.last)
        following = np.append(first[1:], first[:1] + self.length)
        valley = (self.fall * last + RISE * following) / (self.fall + RISE)
        every = np.concatenate([first, last, valley])
        inside = np.mod(every, self.length)
        return np.unique(np.concatenate([[0.0, self.length], inside]))


def walk_turn(route: Route, loop: Circuit, hops: Hops | None, end: float) -> None:
    """Once round from where the tip is, evenly to height `end`, and over the tabs that are in
    the way. Ends higher only where the loop begins on a tab."""
    if hops is None or not len(hops.first):
        route.along([loop.curve], end)
        return
    for (low, _), (high, z) in _steps(hops, route.at[2], end):
        part = loop.part(low, high)
        route.along([curve_of(part, closed=False)], z)


def walk_floor(route: Route, loop: Circuit, hops: Hops | None, stepdown: float) -> None:
    """Once round at the height where the tip is, over the tabs. Behind each of them the way down
    is a long ramp, which would leave a wedge: it is gone back over at one height after another,
    at most `stepdown` apart, so that the tab ends as upright as it begins."""
    floor = route.at[2]
    if hops is None or not len(hops.first):
        route.along([loop.curve], floor)
        return
    for (low, before), (high, after) in _steps(hops, floor, floor):
        part = loop.part(low, high)
        if after < before - ALLOWANCES.same:
            _take_wedge(route, loop, (low, high), hops.fall, stepdown)
        else:
            route.along([curve_of(part, closed=False)], after)


def _take_wedge(
    route: Route, loop: Circuit, ends: tuple[float, float], fall: float, stepdown: float
) -> None:
    """From the tab's end down to where the ramp meets the floor, and all that the ramp leaves."""
    first, last = ends
    top, floor = route.at[2], route.at[2] - (last - first) * fall
    count = math.ceil((top - floor) / stepdown - ALLOWANCES.same)
    step = (last - first) / count
    for i in range(1, count + 1):
        z = top - (top - floor) * i / count
        route.along([curve_of(loop.part(first, first + step), closed=False)], z)
        if i > 1:
            route.along([curve_of(loop.part(first + step, first + step * i), closed=False)], z)
        back = _backward(loop.part(first, first + step * i))
        route.along([curve_of(back, closed=False)], z)
    route.along([curve_of(loop.part(first, last), closed=False)], floor)


def _backward(part: FloatArray) -> FloatArray:
    """The edges (m, 3) of an open path walked the other way."""
    bulges = np.append(-part[-2::-1, 2], 0.0)
    return np.column_stack([part[::-1, :2], bulges])


def _steps(
    hops: Hops, start: float, end: float
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Straight stretches of a turn: distance and height at both ends of each."""
    where = hops.bends()
    line = start + (end - start) * where / hops.length
    over = hops.least(where) - line
    crossed = np.flatnonzero(over[:-1] * over[1:] < 0.0)
    share = over[crossed] / (over[crossed] - over[crossed + 1])
    extra = where[crossed] + share * (where[crossed + 1] - where[crossed])
    where = np.unique(np.concatenate([where, extra]))
    line = start + (end - start) * where / hops.length
    line[-1] = end
    least = hops.least(where)
    height = np.where(least > line + ALLOWANCES.same, least, line)
    points = list(zip(where.tolist(), height.tolist(), strict=True))
    kept = points[:1]
    for at, point in enumerate(points[1:-1], start=1):
        if _bent(kept[-1], point, points[at + 1]):
            kept.append(point)
    kept.append(points[-1])
    return list(pairwise(kept))


def _bent(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Whether the height bends at b, and b is a place of its own."""
    if b[0] - a[0] <= ALLOWANCES.same or c[0] - b[0] <= ALLOWANCES.same:
        return False
    straight = a[1] + (c[1] - a[1]) * (b[0] - a[0]) / (c[0] - a[0])
    return abs(b[1] - straight) > ALLOWANCES.same
