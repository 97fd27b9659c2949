"""A smooth run of chords as few arcs within a band beside it.

Frame: as in `toolpath.motion.arcfit`. From every place an arc may begin at, those that go furthest
are taken; where they may end, at a vertex or a little beside it, is kept open until the next is
found. Source of the approach (from memory): R. L. S. Drysdale, G. Rote, A. Sturm, "Approximation
of an open polygonal curve with a minimum number of circular arcs and biarcs", Computational
Geometry 41 (2008): gates at the vertices, and the arcs of a pencil that pass them as an interval.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.pencil import EVERY, Fit, Gates, fit_through

FloatArray = NDArray[np.float64]
Row = tuple[float, float, float]

SHORTEST = 0.05
"""Moves shorter than this, mm, make a controller stutter (common practice, no source)."""
_APART = EVERY // 2
"""Gates from one place where arcs may meet to the next."""
_LONG = 1.5
"""Chords longer than so many times the middle one of a run are parted."""
_MOST_PARTS = 32
_ASIDE = (0.5,)
"""Places beside a vertex where arcs may meet, in shares of the band."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """How far arcs may lie to the right and to the left of what they replace, mm."""

    right: float
    left: float
    sagitta: float = 0.0
    """How far chords may lie off the curve that they stand for; an arc may lie as much further off
    their middles, on that side."""

    @property
    def widest(self) -> float:
        """The wider side."""
        return max(self.right, self.left)

    @property
    def narrowest(self) -> float:
        """The narrower side."""
        return min(self.right, self.left)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Front:
    """How far arcs got: which meeting, the places there, what they lie off so far (mm times mm),
    and for each the place before and the bulge from there."""

    meet: int
    places: FloatArray
    off: FloatArray
    before: NDArray[np.intp]
    bulge: FloatArray


def arcs_over(path: FloatArray, band: Band) -> list[Row]:
    """Rows x, y, bulge of lines and arcs over a smooth run (n, 2), without its end; they begin and
    end at its ends and stay within the band."""
    if len(path) == 2:
        return [(float(path[0, 0]), float(path[0, 1]), 0.0)]
    gates, curve = _gates_of(_parted(path), band)
    meets = _meets(gates, curve)
    last = len(meets) - 1
    start = _Front(
        meet=0,
        places=path[:1],
        off=np.zeros(1),
        before=np.zeros(1, dtype=np.intp),
        bulge=np.zeros(1),
    )
    fronts, guess = [start], 8
    while fronts[-1].meet < last:
        front = fronts[-1]
        fronts.append(_furthest(gates, meets, front, guess))
        guess = max(4, fronts[-1].meet - front.meet)
    return _rows(_without_short_end(gates, meets, fronts))


def _without_short_end(gates: Gates, meets: FloatArray, fronts: list[_Front]) -> list[_Front]:
    """The last two edges with a better share each, where the last is short."""
    if len(fronts) < 3:
        return fronts
    last, between, base = len(meets) - 1, fronts[-2].meet, fronts[-3]
    if np.hypot(*(meets[last, 0] - meets[between, 0])) >= SHORTEST:
        return fronts
    for end in ((base.meet + last) // 2, base.meet + 3 * (between - base.meet) // 4):
        first = _reach(gates, meets, base, end) if base.meet < end < last else None
        second = _reach(gates, meets, first, last) if first is not None else None
        if first is not None and second is not None:
            return [*fronts[:-2], first, second]
    return fronts


def _parted(path: FloatArray) -> FloatArray:
    """The run with its long chords in parts, so that gates are nowhere far apart."""
    length = np.hypot(*np.diff(path, axis=0).T)
    count = np.ceil(length / (_LONG * np.median(length))).astype(np.intp)
    count = np.clip(count, 1, _MOST_PARTS)
    row = np.repeat(np.arange(len(length)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    share = (within / count[row])[:, None]
    parts = path[row] * (1.0 - share) + path[row + 1] * share
    return np.concatenate([parts, path[-1:]])


def _gates_of(path: FloatArray, band: Band) -> tuple[Gates, FloatArray]:
    """Gates at the vertices and at the quarters of the chords: there the curve lies off the chord,
    and arcs may by as much more on a side that is wide. And the places (g, 2) of the curve."""
    step = np.diff(path, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    ahead = np.repeat(step / length[:, None], EVERY, axis=0)
    ahead = np.concatenate([ahead, ahead[-1:]])
    mean = ahead[EVERY:-1:EVERY] + ahead[: -EVERY - 1 : EVERY]
    ahead[EVERY:-1:EVERY] = mean / np.hypot(mean[:, 0], mean[:, 1])[:, None]
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    share = np.tile(np.arange(EVERY) / EVERY, len(step))
    spots = np.repeat(path[:-1], EVERY, axis=0) + share[:, None] * np.repeat(step, EVERY, axis=0)
    spots = np.concatenate([spots, path[-1:]])
    bulging = _bulging(step, length, max(band.sagitta, band.narrowest))
    bulging = np.append(np.repeat(bulging, EVERY) * 4.0 * share * (1.0 - share), 0.0)
    right, left = np.full(len(spots), band.right), np.full(len(spots), band.left)
    further = np.clip(bulging, -band.sagitta, band.sagitta)
    if band.right > band.sagitta / 2.0:
        right += np.maximum(further, 0.0)
    if band.left > band.sagitta / 2.0:
        left -= np.minimum(further, 0.0)
    aside = np.clip(bulging, -0.95 * band.left, 0.95 * band.right)
    curve = spots - aside[:, None] * across
    apart = np.append(np.repeat(length, EVERY) / EVERY, 0.0)
    return Gates(spots=spots, across=across, right=right, left=left, apart=apart), curve


def _bulging(step: FloatArray, length: FloatArray, most: float) -> FloatArray:
    """(n,) by how much a curve through the vertices lies to the right of the middles of the chords,
    negative to the left; zero where chords turn to either side. A curve that turns by a at the
    vertex of chords b and c bends by 2 a / (b + c); the sagitta of c is that times c^2 / 8."""
    turn = np.arctan2(
        step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0],
        np.einsum("ij,ij->i", step[:-1], step[1:]),
    )
    bend = 2.0 * turn / (length[:-1] + length[1:])
    before, after = np.concatenate([bend[:1], bend]), np.concatenate([bend, bend[-1:]])
    same = before * after > 0.0
    least = np.where(same, np.sign(before) * np.minimum(np.abs(before), np.abs(after)), 0.0)
    return np.asarray(np.clip(least * length**2 / 8.0, -most, most), dtype=np.float64)


def _meets(gates: Gates, curve: FloatArray) -> FloatArray:
    """(m, k, 2) places at vertices and middles of chords where arcs may meet; the first of each is
    on the curve."""
    share = np.array(_ASIDE)
    right, left = gates.right[::_APART, None] * share, gates.left[::_APART, None] * share
    aside = np.concatenate([-right, left], axis=1)[:, :, None]
    beside = gates.spots[::_APART, None] + aside * gates.across[::_APART, None]
    return np.concatenate([curve[::_APART, None], beside], axis=1)


def _furthest(gates: Gates, meets: FloatArray, front: _Front, guess: int) -> _Front:
    """The furthest meeting that arcs from a front get to; the end of the chord at the least."""

    def passes(end: int) -> bool:
        return bool(_fit(gates, meets, front, end).good.any())

    chord = front.meet + 2 - front.meet % 2
    end = _last(passes, (front.meet, chord, len(meets) - 1), guess)
    found = _reach(gates, meets, front, end) if end > chord else None
    return found or _along_chord(meets, front, chord)


def _last(passes: Callable[[int], bool], ways: tuple[int, int, int], step: int) -> int:
    """The last meeting for which something holds, looked for by doubling and halving; ways = from
    where, for which it holds in any case, the last of all."""
    here, good, last = ways
    bad = last + 1
    while good < last:
        end = min(here + step, last)
        if end <= good or not passes(end):
            bad = end if end > good else bad
            break
        good, step = end, 2 * step
    while bad - good > 1:
        middle = (good + bad) // 2
        if passes(middle):
            good = middle
        else:
            bad = middle
    return good


def _between(front: _Front, end: int) -> tuple[int, int]:
    """The gates from after a front to before a meeting."""
    return _APART * front.meet + 1, _APART * end


def _places(meets: FloatArray, end: int) -> FloatArray:
    """Where arcs may end at a meeting: at the last of all on the curve alone."""
    return meets[end, :1] if end == len(meets) - 1 else meets[end]


def _reach(gates: Gates, meets: FloatArray, front: _Front, end: int) -> _Front | None:
    """What arcs from a front to a vertex give; None if there are none."""
    fit = _fit(gates, meets, front, end)
    if not fit.good.any():
        return None
    length = float(np.hypot(*(meets[end, 0] - meets[front.meet, 0])))
    return _stepped(front, _places(meets, end), fit, (end, length))


def _fit(gates: Gates, meets: FloatArray, front: _Front, end: int) -> Fit:
    """The arcs from a front to a meeting."""
    return fit_through(gates, _between(front, end), front.places, _places(meets, end))


def _along_chord(meets: FloatArray, front: _Front, end: int) -> _Front:
    """On straight to the end of the chord: from beside it to beside it, and so always within."""
    ends = _places(meets, end)
    here = np.hypot(*(front.places - meets[front.meet, 0]).T)
    there = np.hypot(*(ends - meets[end, 0]).T)
    length = float(np.hypot(*(meets[end, 0] - meets[front.meet, 0])))
    off = (here[:, None] + there[None, :]) / 2.0
    fit = Fit(good=np.ones(off.shape, dtype=np.bool_), bulge=np.zeros(off.shape), off=off)
    return _stepped(front, ends, fit, (end, length))


def _stepped(front: _Front, ends: FloatArray, fit: Fit, step: tuple[int, float]) -> _Front:
    """The front at a meeting so many mm on: to each of the ends that are got to, the way that lies
    least far off."""
    end, length = step
    off = np.where(fit.good, front.off[:, None] + fit.off * length, math.inf)
    before = off.argmin(axis=0)
    least = off[before, np.arange(len(ends))]
    kept = np.isfinite(least)
    return _Front(
        meet=end,
        places=ends[kept],
        off=least[kept],
        before=before[kept],
        bulge=fit.bulge[before, np.arange(len(ends))][kept],
    )


def _rows(fronts: list[_Front]) -> list[Row]:
    """The way that lies least far off, from its end back."""
    rows: list[Row] = []
    at = 0
    for front, earlier in zip(fronts[:0:-1], fronts[-2::-1], strict=True):
        bulge, at = float(front.bulge[at]), int(front.before[at])
        x, y = earlier.places[at].tolist()
        rows.append((x, y, bulge))
    return rows[::-1]
