"""Where the tabs of a loop stand: spread evenly, on its straightest runs, away from what is kept.

Frame: x, y of the blank frame; distances along the loop of the cutter's centre, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.motion.arcfit import SHORT
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.circuit import Circuit, evenly
from toolpath.plan.hops import RISE, Hops

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

STEP = 0.5
"""Places along a loop are looked at this far apart, mm, or nearer."""
MOST_PLACES = 3000
TURNS = (0.02, 0.2, 0.6, 1.2, math.inf)
"""By how much a loop may turn over a tab, radians: the straightest runs that will do."""
SETTLED = 0.4
"""By how much a tab may be moved from where it was put, mm."""
SETTLING = sorted(np.linspace(-SETTLED, SETTLED, 33).tolist(), key=abs)
UNEVEN = 1.6
"""The widest gap between tabs over the even one; beyond it a less straight run is better."""


ROUGH_MORE = 0.2
"""By how much the tabs of a loop that leaves something on the wall are wider, mm."""
BESIDE = 0.3
"""What a path that runs beside a tab keeps from it, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TabSize:
    """What each tab needs: `chord` from end to end of its level stretch, so that between the
    cuts on both sides it is as wide as asked; `top` its height (page frame), `floor` that of the
    cut; `fall` the slope down behind it; `open` the least run at the floor before the next, in
    which the tip can go to and fro; `radius` of the cutter, and what is left on the wall (`leave`)
    for a last pass, which needs one gap longer by `blend` to come over to the wall and off it."""

    chord: float
    top: float
    floor: float
    fall: float
    open: float
    radius: float
    leave: float = 0.0
    blend: float = 0.0

    @property
    def wider(self) -> TabSize:
        """The same for a loop beside the wall: a little wider, so that those of the wall rule."""
        return replace(self, chord=self.chord + ROUGH_MORE)

    @property
    def spacing(self) -> float:
        """The least distance from the middle of one straight tab to that of the next."""
        drop = self.top - self.floor
        return self.chord + drop / RISE + self.open + 2.0 * SETTLED


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Places (n,) along a loop, whether each is free for a tab, how much the loop turns over one
    there, and the half of its length."""

    where: FloatArray = field(repr=False)
    half: FloatArray
    free: BoolArray
    turn: FloatArray
    length: float


def choose_tabs(
    loop: Circuit, size: TabSize, count: int, taken: BaseGeometry, others: FloatArray
) -> FloatArray:
    """(k,) distances of the middles of the tabs, k <= count: as many as there is room for.

    `taken` is where no level stretch may lie, `others` (n, 2) points of the other loops, which
    must not cut through a tab of this one.
    """
    places = _places(loop, size, taken, others)
    most = min(count, math.floor((loop.length - size.blend) / size.spacing + 1e-9))
    for number in range(most, 0, -1):
        for even_only in (True, False):
            for turn in TURNS:
                good = places.free & (places.turn <= turn)
                found = _spread(places, good, number, size)
                if found is not None and (not even_only or _even(found, loop.length)):
                    return np.array([_settled(loop, size, place) for place in found])
    return np.empty(0)


def hops_over(loop: Circuit, size: TabSize, middles: FloatArray) -> Hops:
    """The level stretches over tabs with those middles."""
    halves = np.array([_half(loop, size.chord, middle) for middle in middles])
    return Hops(
        length=loop.length,
        first=middles - halves,
        last=middles + halves,
        top=size.top,
        fall=size.fall,
    )


def begun_at(hops: Hops, place: float) -> Hops:
    """The same stretches where the loop begins at another place."""
    first = np.mod(hops.first - place, hops.length)
    return replace(hops, first=first, last=first + (hops.last - hops.first))


def _half(loop: Circuit, chord: float, middle: float) -> float:
    """Half the length along the loop whose ends are `chord` apart; on straight runs half of it."""
    low, high = chord / 2.0, min(2.0 * chord, loop.length / 2.0)
    for _ in range(50):
        half = (low + high) / 2.0
        ends = loop.at(np.array([middle - half, middle + half]))
        if math.dist(ends[0], ends[1]) < chord - 1e-7:
            low = half
        else:
            high = half
    return low if abs(low - chord / 2.0) > 1e-6 else chord / 2.0


def _settled(loop: Circuit, size: TabSize, middle: float) -> float:
    """The middle moved a little, so that no edge ends just beyond the ends of the level stretch:
    the short piece between would be kept level too, and the tab be wider."""
    half = _half(loop, size.chord, middle)
    for away in SETTLING:
        before = np.mod(middle + away - half - loop.ends, loop.length)
        behind = np.mod(loop.ends - (middle + away + half), loop.length)
        gaps = np.concatenate([before, behind])
        if not ((gaps > ALLOWANCES.same) & (gaps < SHORT + 0.01)).any():
            return middle + float(away)
    return middle


def _places(loop: Circuit, size: TabSize, taken: BaseGeometry, others: FloatArray) -> _Places:
    count = int(np.clip(math.ceil(loop.length / STEP), 64, MOST_PLACES))
    where = evenly(loop.length, count)
    half = _halves(loop, where, size.chord)
    ends = np.hypot(*(loop.at(where + half) - loop.at(where - half)).T)
    free = (np.abs(ends - size.chord) < 0.02 * size.chord) & (half < loop.length / 3.0)
    free &= ~_hit(loop, where, half, taken)
    free &= ~_crowded(loop, where, half, size, others)
    reach = half + size.radius
    for corner in loop.corners:
        away = np.abs(where - corner)
        free &= np.minimum(away, loop.length - away) > half + 1e-6
    turn = loop.turning(where + reach) - loop.turning(where - reach)
    return _Places(where=where, half=half, free=free, turn=turn, length=loop.length)


def _halves(loop: Circuit, where: FloatArray, chord: float) -> FloatArray:
    """Roughly `_half` at many places at once."""
    half = np.full(len(where), chord / 2.0)
    for _ in range(12):
        ends = np.hypot(*(loop.at(where + half) - loop.at(where - half)).T)
        half = half * np.clip(chord / np.maximum(ends, 1e-9), 0.8, 1.25)
        half = np.clip(half, chord / 2.0, loop.length / 2.0)
    return half


def _hit(loop: Circuit, where: FloatArray, half: FloatArray, taken: BaseGeometry) -> BoolArray:
    """Whether a level stretch about each place meets what is taken."""
    if taken.is_empty:
        return np.zeros(len(where), dtype=np.bool_)
    wide = taken.buffer(2.0 * loop.length / len(where), quad_segs=4)
    shapely.prepare(wide)
    bad = shapely.intersects_xy(wide, loop.at(where))
    total = np.concatenate([[0], np.cumsum(np.tile(bad, 3))])
    count, step = len(where), loop.length / len(where)
    reach = np.ceil(half / step).astype(np.intp)
    middle = np.arange(count) + count
    return np.asarray(total[middle + reach + 1] > total[middle - reach])


def _crowded(
    loop: Circuit, where: FloatArray, half: FloatArray, size: TabSize, others: FloatArray
) -> BoolArray:
    """Whether what is cut on other stretches of this loop, or on other loops, would reach into a
    tab about each place: the rectangle of its width and the cutter's, along the loop there."""
    spots, ahead = loop.at(where), loop.at(where + half) - loop.at(where - half)
    ahead = ahead / np.maximum(np.hypot(*ahead.T), ALLOWANCES.same)[:, None]
    own = evenly(loop.length, max(8, math.ceil(4.0 * loop.length)))
    points = np.concatenate([loop.at(own), others])
    along_loop = np.append(own, np.full(len(others), np.inf))
    found = np.zeros(len(where), dtype=np.bool_)
    for i in range(len(where)):
        near = _box(points, spots[i], size.chord + 4.0 * size.radius)
        apart = points[near] - spots[i]
        round_ = np.abs(along_loop[near] - where[i])
        round_ = np.where(np.isinf(round_), np.inf, np.minimum(round_, loop.length - round_))
        along = np.abs(apart @ ahead[i])
        aside = np.abs(apart[:, 0] * ahead[i, 1] - apart[:, 1] * ahead[i, 0])
        gap = np.hypot(
            np.maximum(along - size.chord / 2.0 + size.radius, 0.0),
            np.maximum(aside - size.radius, 0.0),
        )
        far = round_ > half[i] + size.chord
        need = size.radius + np.where(far, BESIDE + size.leave, -0.03)
        found[i] = bool(((round_ > half[i]) & (gap < need)).any())
    return found


def _box(points: FloatArray, middle: FloatArray, half: float) -> IntArray:
    """Which points lie in a square about a middle: those beside it are few, by x alone already."""
    strip = np.flatnonzero(np.abs(points[:, 0] - middle[0]) < half)
    return np.asarray(strip[np.abs(points[strip, 1] - middle[1]) < half])


def _spread(places: _Places, good: BoolArray, number: int, size: TabSize) -> FloatArray | None:
    """The most even set of places that keep their distance, or any, or None."""
    if not good.any():
        return None
    where, length = places.where, places.length
    least = size.spacing + 2.0 * float(places.half[good].max()) - size.chord
    widest = least + size.blend
    spots = where[good]
    ideal = evenly(length, number)
    starts = where[where < length / number]
    wanted = np.mod(starts[:, None] + ideal[None, :], length)
    nearest = spots[_nearest(spots, wanted, length)]
    away = np.abs(nearest - wanted)
    away = np.minimum(away, length - away).max(axis=1)
    for row in np.argsort(away, kind="stable")[:50]:
        found = np.sort(nearest[row])
        gaps = _gaps(found, length)
        if gaps.min() >= least and gaps.max() >= widest:
            return np.asarray(found)
    return _packed(spots, number, least, widest, length)


def _nearest(spots: FloatArray, wanted: FloatArray, length: float) -> NDArray[np.intp]:
    """The spot nearest to each wanted place, round the loop."""
    after = np.searchsorted(spots, wanted) % len(spots)
    before = (after - 1) % len(spots)
    ahead = np.mod(spots[after] - wanted, length)
    behind = np.mod(wanted - spots[before], length)
    return np.where(ahead < behind, after, before)


def _packed(
    spots: FloatArray, number: int, least: float, widest: float, length: float
) -> FloatArray | None:
    """Places one after another, each as near to the last as it may be, and one gap of `widest`."""
    for first in spots[:: max(1, len(spots) // 100)]:
        found = [float(first)]
        offset = np.sort(np.mod(spots - first, length))
        while len(found) < number:
            at = int(np.searchsorted(offset, found[-1] - first + least))
            if at == len(offset):
                break
            found.append(float(first + offset[at]))
        if len(found) == number and first + length - found[-1] >= widest:
            return np.sort(np.mod(np.array(found), length))
    return None


def _gaps(found: FloatArray, length: float) -> FloatArray:
    """Distances from each place to the next, round the loop."""
    return np.diff(np.append(found, found[0] + length))


def _even(found: FloatArray, length: float) -> bool:
    return bool(_gaps(found, length).max() <= UNEVEN * length / len(found) + STEP)
