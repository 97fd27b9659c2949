"""How high the tip goes along a loop with tabs, turn after turn.

Frame: page frame of the face; distances along the loop, millimetres. Over each tab the tip is
level; it comes up to it at `RISE` and goes down behind it no steeper than the cutter's ramp. Where
a turn of the spiral is higher than that anyhow, it goes on as without tabs. Where the next tab is
nearer than that ramp is long, the turns stay above the floor there, and the last one goes to and
fro between the two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.circuit import Circuit, backward
from toolpath.plan.curves import curve_of
from toolpath.plan.route import Route

FloatArray = NDArray[np.float64]

RISE = math.tan(math.radians(30.0))
"""Slope up to a tab: what the cutter climbs it has cut before or cuts with its side."""
UPRIGHT = 1e6
"""A slope that stands for a wall."""


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

    @property
    def upright(self) -> Hops:
        """The same with nothing left behind the tabs."""
        return replace(self, fall=UPRIGHT)

    def bends(self) -> FloatArray:
        """Distances within the loop between which `least` is straight, both ends included."""
        first, last = np.sort(self.first), np.sort(self.last)
        following = np.append(first[1:], first[:1] + self.length)
        valley = (self.fall * last + RISE * following) / (self.fall + RISE)
        every = np.concatenate([first, last, valley])
        inside = np.mod(every, self.length)
        return np.unique(np.concatenate([[0.0, self.length], inside]))


def walk_turn(route: Route, loop: Circuit, hops: Hops | None, heights: tuple[float, float]) -> None:
    """Once round evenly from one height to another, and over the tabs that are in the way.
    Begins and ends higher where the loop begins on a tab or on the way down from one."""
    if hops is None or not len(hops.first):
        route.along([loop.curve], heights[1])
        return
    for (low, _), (high, z) in _steps(hops, *heights):
        part = loop.part(low, high)
        route.along([curve_of(part, closed=False)], z)


def walk_floor(
    route: Route, loop: Circuit, hops: Hops | None, floor: float, stepdown: float
) -> None:
    """Once round at the floor after a turn that ended there, over the tabs; the loop must not
    begin on a tab. What the turns left behind each is taken by going to and fro at one height
    after another, at most `stepdown` apart, so that the tab ends as upright as it begins."""
    if hops is None or not len(hops.first):
        route.along([loop.curve], floor)
        return
    spans = sorted(zip(hops.first.tolist(), hops.last.tolist(), strict=True))
    for (low, _), (high, z) in _steps(hops, floor, floor):
        if high <= spans[0][0] + ALLOWANCES.same:
            route.along([curve_of(loop.part(low, high), closed=False)], z)
    for (first, last), following in pairwise([*spans, (spans[0][0] + hops.length, math.inf)]):
        route.along([curve_of(loop.part(first, last), closed=False)], hops.top)
        gap = _Gap(first=last, last=following[0], top=hops.top, floor=floor, fall=hops.fall)
        _take_gap(route, loop, gap, stepdown)
        ends = [gap.end(floor), following[0]] if math.isfinite(following[1]) else [hops.length]
        for (low, high), z in zip(pairwise([last, *ends]), (floor, hops.top), strict=False):
            route.along([curve_of(loop.part(low, high), closed=False)], z)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Gap:
    """The run from the end of a tab to the beginning of the next (distances), and what the turns
    left in it: from the `top` of the tab down at the slope `fall`, or less deep."""

    first: float
    last: float
    top: float
    floor: float
    fall: float

    def end(self, z: float) -> float:
        """How far the tip may go at a height: there it begins to climb."""
        return self.last - (self.top - z) / RISE

    def levels(self, stepdown: float) -> list[float]:
        """Heights at most `stepdown` apart down to the floor, each reached within the gap."""
        drop = self.top - self.floor
        deepest = min(stepdown, self.fall * (self.end(self.floor) - self.first))
        count = math.ceil(drop / deepest - ALLOWANCES.same)
        return [self.top - drop * i / count for i in range(1, count + 1)]


def _take_gap(route: Route, loop: Circuit, gap: _Gap, stepdown: float) -> None:
    """All that the turns left there, ending at the floor at the tab."""
    for z in gap.levels(stepdown):
        far = min(gap.first + (gap.top - z) / gap.fall, gap.end(z))
        down = min(gap.first + (route.at[2] - z) / gap.fall, far)
        route.along([curve_of(loop.part(gap.first, down), closed=False)], z)
        if far > down + ALLOWANCES.same:
            route.along([curve_of(loop.part(down, far), closed=False)], z)
        back = backward(loop.part(gap.first, far))
        route.along([curve_of(back, closed=False)], z)


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
