"""The exact judge: least gaps of moves to solids by branch and bound, with nothing sampled.

A span of a move is dropped when a lower bound of the gap over the whole of it is enough. Two
bounds are used: the gap changes by at most the way moved, and, as it is a convex function of the
tip's place, it stays above the plane that touches it at the span's middle. What is not dropped
is split, down to `TOLERANCES.judge`; what is still not dropped there counts as found: the judge
errs towards refusing, by at most that length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.check.gap import Tool, gaps
from toolpath.check.paths import Places, Spans, boxes, forward, places, split
from toolpath.check.solids import Solids
from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SEARCH = 0.001
"""Least gaps are found to within this, mm, on the upper side."""
EQUAL = 1e-9
"""A gap short of its need by less than this, mm, is taken as equal to it: the noise of floating
point over a blank is a thousandth of that, and no machine knows such a length. Errs to clear."""
_BLOCK, _PART = 65536, 8192
"""Spans judged at once, and whose gaps are looked at at once, some hundred bytes each: memory
only."""
_RUN, _AT_ONCE = 64, 1_000_000
"""Moves that are looked at together before one by one, and how many of these are looked at against
boxes at once: speed only."""
_LOOKS, _LOOKS_EACH = 300_000, 500
"""Spans looked at, in all and for each group, before things are told apart more coarsely:
about a second of work."""
CHEAPER = 8
"""Looks of a compiled search that take as long as one here, and count as one: speed only."""
_MOST = 0.01
"""The most that simple solids are refused too early by, mm; half of what is promised."""


@dataclass(slots=True, kw_only=True, eq=False)
class Best:
    """The least gap found so far of each of g groups, and where.

    `gap` starts at `limit`: what is not below it is of no interest. `owner` and `body` say which
    solid and part of the cutter; -1 where nothing was found. Gaps are found to
    `within`, or to the `share` of themselves where that is more.

    Where a path runs level with a flank many places are as near as the nearest, and telling them
    apart would take for ever: after so many spans `looked` at, all lengths to be told apart double,
    and again. That coarsens a gap that is reported, never whether one was found; where none was, it
    errs towards refusing, by no more than the caller's `most`.
    """

    limit: FloatArray
    gap: FloatArray
    tip: FloatArray
    row: IntArray
    owner: IntArray
    body: IntArray
    within: float = SEARCH
    share: float = 0.0
    looked: int = 0
    groups: int = 0
    """How many groups are looked for in all, where these are only some of them."""

    @property
    def growth(self) -> float:
        """How many times coarser than asked things are told apart by now."""
        return 2.0 ** (self.looked // self._looks)

    @property
    def _looks(self) -> int:
        return _LOOKS + _LOOKS_EACH * max(self.groups, len(self.limit))

    def how(self, most: float) -> tuple[float, ...]:
        """What a compiled search goes by: `within`, `share`, the length at which splitting stops
        and what it may grow to, how many looks of its own were taken, and after how many
        lengths double."""
        return (
            self.within,
            self.share,
            TOLERANCES.judge,
            most,
            self.looked * CHEAPER,
            self._looks * CHEAPER,
        )

    @property
    def reached(self) -> float:
        """To what gaps are found by now, mm."""
        return self.within * self.growth

    def least(self, most: float) -> float:
        """The length at which splitting stops, mm, at most `most`."""
        return min(TOLERANCES.judge * self.growth, most)

    @classmethod
    def of(cls, limit: FloatArray, *, within: float = SEARCH, share: float = 0.0) -> Best:
        """Nothing found yet for any group."""
        count = len(limit)
        nowhere = [np.full(count, -1, dtype=np.intp) for _ in range(3)]
        return cls(
            limit=limit,
            gap=limit.copy(),
            tip=np.full((count, 3), np.nan),
            row=nowhere[0],
            owner=nowhere[1],
            body=nowhere[2],
            within=within,
            share=share,
        )

    @property
    def found(self) -> NDArray[np.bool_]:
        """(g,) which groups have anything below their limit."""
        return self.owner >= 0

    def enough(self, group: IntArray) -> FloatArray:
        """The lower bound at which a span of a group need not be looked at further."""
        known = self.owner[group] >= 0
        gap = self.gap[group]
        told = np.maximum(self.reached, self.share * gap)
        return np.where(known, gap - told, self.limit[group])

    def offer(self, group: IntArray, seen: Seen, owner: IntArray, *, force: bool = False) -> None:
        """Take what is nearer than what was known; `force` also takes what the limit allows."""
        better = seen.gap < self.gap[group]
        if force:
            better |= self.owner[group] < 0
        which = np.flatnonzero(better)
        if not which.size:
            return
        order = which[np.lexsort((seen.gap[which], group[which]))]
        _, first = np.unique(group[order], return_index=True)
        chosen = order[first]
        into = group[chosen]
        self.gap[into], self.tip[into] = seen.gap[chosen], seen.tip[chosen]
        self.row[into], self.owner[into] = seen.row[chosen], owner[chosen]
        self.body[into] = seen.body[chosen]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Gaps (k,) at tips (k, 3) of moves `row`, with the nearest body of the cutter."""

    gap: FloatArray
    tip: FloatArray
    row: IntArray
    body: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Items:
    spans: Spans
    solid: IntArray
    group: IntArray

    def __len__(self) -> int:
        return len(self.solid)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_] | slice) -> _Items:
        return _Items(
            spans=self.spans.take(which), solid=self.solid[which], group=self.group[which]
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Moves `row` (k,) to be looked at against solids `solid` (k,), the result kept by `group`."""

    row: IntArray
    solid: IntArray
    group: IntArray


def near_pairs(
    table: MoveTable, boxed: tuple[FloatArray, FloatArray], tool: Tool, within: FloatArray
) -> tuple[IntArray, IntArray]:
    """Moves and boxes (m, 3) that can come nearer than `within` (m,): rows, box numbers.

    Errs towards naming a pair: it looks at boxes in plan and at the height of the tip only.
    """
    low, high = boxes(table)
    box_low, box_high = boxed
    rows, numbers = [np.empty(0, dtype=np.intp)], [np.empty(0, dtype=np.intp)]
    for number, some in _Runs.of(low, high).near(boxed, tool.radius + within):
        apart = np.maximum(box_low[number] - high[some], low[some] - box_high[number])
        apart = np.maximum(apart, 0.0)
        aside = np.hypot(apart[:, 0], apart[:, 1]) - tool.radius
        above, most = low[some, 2] - box_high[number, 2], within[number]
        near = some[(aside < most) & (above < most)]
        rows.append(near)
        numbers.append(np.full(len(near), number, dtype=np.intp))
    return np.concatenate(rows), np.concatenate(numbers)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Runs:
    """Moves in runs of `_RUN`, which mostly lie together, with the box in plan (r, 2) of each."""

    count: int
    low: FloatArray
    high: FloatArray

    @classmethod
    def of(cls, low: FloatArray, high: FloatArray) -> _Runs:
        """The runs of moves whose tips stay within boxes (n, 3)."""
        if not len(low):
            return cls(count=0, low=np.empty((0, 2)), high=np.empty((0, 2)))
        heads = np.arange(0, len(low), _RUN)
        return cls(
            count=len(low),
            low=np.fmin.reduceat(low[:, :2], heads),
            high=np.fmax.reduceat(high[:, :2], heads),
        )

    def near(
        self, boxed: tuple[FloatArray, FloatArray], within: FloatArray
    ) -> Iterator[tuple[int, IntArray]]:
        """For each box that has any, in order, the moves of all runs that are nearer to it, along x
        and along y, than `within` and a little: no move that is nearer is left out."""
        low, high = boxed
        step = max(1, _AT_ONCE // max(len(self.low), 1))
        for at in range(0, len(low), step):
            some = slice(at, at + step)
            apart = np.maximum(low[some, None, :2] - self.high, self.low - high[some, None, :2])
            widest = apart.max(axis=2, initial=-np.inf)
            close = np.asarray(widest <= within[some, None] + EQUAL, dtype=np.bool_)
            for number in np.flatnonzero(close.any(axis=1)).tolist():
                rows = np.flatnonzero(close[number])[:, None] * _RUN + np.arange(_RUN)
                yield at + number, rows[rows < self.count]


def search_solids(table: MoveTable, tool: Tool, solids: Solids, pairs: Pairs, best: Best) -> None:
    """Bring `best` to the least gap of each group over its pairs, where that is below its limit.

    A group whose gap cannot be told from its limit within `TOLERANCES.judge` is taken as found.
    """
    order = np.argsort(pairs.row, kind="stable")
    items = _Items(
        spans=Spans.whole(pairs.row[order]), solid=pairs.solid[order], group=pairs.group[order]
    )
    waiting = [items.take(slice(at, at + _BLOCK)) for at in range(0, len(items), _BLOCK)]
    while waiting:
        left = _look(table, tool, solids, waiting.pop(), best)
        if len(left):
            waiting += [left.take(slice(at, at + _BLOCK)) for at in range(0, len(left), _BLOCK)]


def _look(table: MoveTable, tool: Tool, solids: Solids, items: _Items, best: Best) -> _Items:
    """One round of one block: what is left of it, split."""
    at, owner = places(table, items.spans), solids.owner[items.solid]
    bound, toward, seen = _middles(tool, solids, items, at)
    best.offer(items.group, seen, owner)
    index = np.flatnonzero(bound < best.enough(items.group))
    ends = forward(table, items.spans.take(index), at.take(index), toward[index])
    again = _ends(tool, solids, items.take(index), ends)
    best.offer(items.group[index], again, owner[index])
    best.looked += len(items)
    open_ = bound < best.enough(items.group)
    small = 2.0 * at.radius <= best.least(_MOST)
    stuck = open_ & small & (best.owner[items.group] < 0)
    if stuck.any():
        index = np.flatnonzero(stuck)
        best.offer(items.group[index], taken(seen, index), owner[index], force=True)
    left = items.take(open_ & ~small)
    one, two = split(table, left.spans)
    spans = joined(one, two)
    return _Items(spans=spans, solid=np.tile(left.solid, 2), group=np.tile(left.group, 2))


def _middles(
    tool: Tool, solids: Solids, items: _Items, at: Places
) -> tuple[FloatArray, FloatArray, Seen]:
    """Lower bounds (k,) of the gaps of spans, the way (k, 3) to the nearest body from the middle
    of each, and the gap there."""
    bound, toward, seen = list[FloatArray](), list[FloatArray](), list[Seen]()
    for part in _parts(len(items)):
        middle = at.middle[part]
        found = gaps(tool, solids.take(items.solid[part]), middle)
        touching = found.gap - at.take(part).sway(found.direction) - found.level_slack
        bound.append(least(np.maximum(touching, found.gap - at.radius[part, None])))
        seen.append(nearest(found.gap, middle, items.spans.row[part]))
        toward.append(found.direction[np.arange(len(middle)), seen[-1].body])
    return np.concatenate(bound), np.concatenate(toward), _together(seen)


def _ends(tool: Tool, solids: Solids, items: _Items, tips: FloatArray) -> Seen:
    """The gaps at one tip (k, 3) of each span."""
    return _together(
        [
            nearest(
                gaps(tool, solids.take(items.solid[part]), tips[part]).gap,
                tips[part],
                items.spans.row[part],
            )
            for part in _parts(len(items))
        ]
    )


def _parts(count: int) -> list[slice]:
    """All spans, some at once; one part where there are none."""
    return [slice(at, at + _PART) for at in range(0, max(count, 1), _PART)]


def _together(seen: list[Seen]) -> Seen:
    return Seen(
        gap=np.concatenate([each.gap for each in seen]),
        tip=np.concatenate([each.tip for each in seen]),
        row=np.concatenate([each.row for each in seen]),
        body=np.concatenate([each.body for each in seen]),
    )


def least(values: FloatArray) -> FloatArray:
    """(k,) the least of each row of (k, bodies): faster than a reduction over few columns."""
    found = values[:, 0]
    for column in range(1, values.shape[1]):
        found = np.minimum(found, values[:, column])
    return found


def nearest(gap: FloatArray, tip: FloatArray, row: IntArray) -> Seen:
    """The nearest body of each look, from gaps (k, bodies)."""
    body = gap.argmin(axis=1)
    return Seen(gap=gap[np.arange(len(gap)), body], tip=tip, row=row, body=body)


def taken(seen: Seen, which: IntArray) -> Seen:
    """The looks chosen by an index."""
    return Seen(
        gap=seen.gap[which], tip=seen.tip[which], row=seen.row[which], body=seen.body[which]
    )


def joined(one: Spans, two: Spans) -> Spans:
    """Two sets of spans as one."""
    return Spans(
        row=np.concatenate([one.row, two.row]),
        low=np.concatenate([one.low, two.low]),
        high=np.concatenate([one.high, two.high]),
    )
