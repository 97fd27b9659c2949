"""Lines in plan as paths of the tip over a relief: nowhere under the lowest tip, close above it.

Frame: page frame of the face, millimetres. A line is asked about ever more closely until what lies
between two places is as good as straight; then straights are laid through the narrow band from
the lowest tips to `tolerance` above.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.field import kernels
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.curves import curves_of
from toolpath.plan.lines import along
from toolpath.plan.route import Route
from toolpath.plan.target import Found, Target

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

SAMPLE = 0.2
"""Places first asked about lie at most this far apart, mm; those between are asked about too."""
_STRAIGHT = 0.0005
"""The tips between two places may lie this far from straight, mm."""
_CLOSEST = 0.003
"""Places nearer than this are not parted: what is between them is a wall."""
_STEEP, _STEEP_APART = 0.3, 0.06
"""Where the tips rise more over their run, places so far apart are parted in any case, mm: up the
flank of a cutter they bend both ways, and the middle alone may lie on the straight by chance."""
_SHORTEST = 0.02
"""Shorter paths are left out, mm."""
_BINDS = 1e-6
"""A wall binds where its lowest tip is this much above that of the ground, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Between which heights a path may lie: `floor` at least, the lowest tips to `tolerance`
    above; where the tips are at `top` or above there is nothing to cut."""

    floor: float
    top: float
    tolerance: float


def follow(
    target: Target, lines: Sequence[FloatArray], band: Band, *, walls: bool = False
) -> list[list[FloatArray]]:
    """Paths (m, 3) of the tip over each of the lines (n, 2), in their direction.

    What lies beside a wall is left out, unless `walls` is given, and so is what lies at the top
    of the material, so that a line gives several paths, or none.
    """
    found: list[list[FloatArray]] = [[] for _ in lines]
    if not lines:
        return found
    places = _refined(target, _sampled(lines), band.floor)
    keep = places.tips < band.top - band.tolerance
    if not walls:
        keep &= ~places.walled
    for owner, path in _threaded(places.take(keep), band.tolerance):
        found[owner].append(path)
    return found


def walk_trail(route: Route, path: FloatArray, fit: float) -> None:
    """Along a path (n, 3) from where the route stands; what is nearly level in arcs within `fit`.

    Arcs rise and fall evenly from end to end, nowhere below the path and at most 2 `fit` above it,
    so that none of them begins with a step. For the same reason the move that led to the start
    ends as high as the path goes on, and where it ended no more than `fit` too high the path goes
    on from there.
    """
    x, y = path[0, :2].tolist()
    there = route.stands_over((x, y))
    if there and 0.0 < route.at[2] - path[0, 2] <= fit:
        path = np.vstack([[x, y, route.at[2]], path[1:]])
    spans = _spans(path, fit)
    z = _carried(path, spans)
    if there and 0.0 < z[0] - route.at[2] <= 2.0 * fit:
        route.end_higher(float(z[0]))
    route.straight(x, y, float(z[0]))
    for first, last in spans:
        if last - first >= _ARC_LEAST:
            route.along(curves_of(path[first : last + 1, :2], fit), float(z[last]))
        else:
            x, y = path[last, :2].tolist()
            route.straight(x, y, float(z[last]))


def _spans(path: FloatArray, fit: float) -> list[tuple[int, int]]:
    """The first and the last vertex of each arc and each straight of a path."""
    found: list[tuple[int, int]] = []
    first, z = 0, path[:, 2]
    while first < len(path) - 1:
        last = first
        while last + 1 < len(path) and abs(z[last + 1] - z[first]) <= fit / 2.0:
            last += 1
        last = last if last - first >= _ARC_LEAST else first + 1
        found.append((first, last))
        first = last
    return found


def _carried(path: FloatArray, spans: Sequence[tuple[int, int]]) -> FloatArray:
    """(n,) heights of the vertices of a path, raised where a span that goes evenly from its first
    to its last would lie under one between them."""
    at, z = along(path[:, :2]), path[:, 2].copy()
    for first, last in spans:
        here = slice(first, last + 1)
        share = (at[here] - at[first]) / max(at[last] - at[first], ALLOWANCES.same)
        level = path[first, 2] * (1.0 - share) + path[last, 2] * share
        lift = float((path[here, 2] - level).max())
        for end in (first, last):
            z[end] = max(z[end], path[end, 2] + lift)
    return z


_ARC_LEAST = 4
"""Fewer straights than this are not worth an arc."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Places along lines: `xy` (n, 2), the line `owner` of each, the way `along` it, whether it
    is a `corner`, its lowest tip, and whether that is beside a wall or over the ground's edge; the
    index `order` counts them as first sampled."""

    xy: FloatArray
    owner: IntArray
    along: FloatArray
    corner: BoolArray
    tips: FloatArray
    walled: BoolArray
    order: IntArray

    def __len__(self) -> int:
        return len(self.tips)

    def take(self, which: NDArray[np.intp] | BoolArray) -> _Places:
        return _Places(
            xy=self.xy[which],
            owner=self.owner[which],
            along=self.along[which],
            corner=self.corner[which],
            tips=self.tips[which],
            walled=self.walled[which],
            order=np.arange(len(self), dtype=np.int64)[which],
        )


def _sampled(lines: Sequence[FloatArray]) -> _Places:
    """The corners of lines and places between them, not yet asked about."""
    bare = shapely.linestrings(
        np.concatenate(lines), indices=np.repeat(np.arange(len(lines)), [len(x) for x in lines])
    )
    dense = shapely.segmentize(bare, SAMPLE)
    xy, owner = shapely.get_coordinates(dense, return_index=True)
    steps = np.hypot(*np.diff(xy, axis=0, prepend=xy[:1]).T)
    steps[np.flatnonzero(np.diff(owner, prepend=-1))] = 0.0
    count = len(xy)
    return _Places(
        xy=xy,
        owner=owner.astype(np.int64),
        along=np.cumsum(steps),
        corner=_corners(xy, owner.astype(np.int64)),
        tips=np.empty(count),
        walled=np.zeros(count, dtype=np.bool_),
        order=np.arange(count, dtype=np.int64),
    )


def _corners(xy: FloatArray, owner: IntArray) -> BoolArray:
    """Where a line turns, or ends."""
    step = np.diff(xy, axis=0)
    turn = np.abs(step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0])
    long = np.hypot(*step[:-1].T) * np.hypot(*step[1:].T)
    bent = np.ones(len(xy), dtype=np.bool_)
    bent[1:-1] = turn > 1e-7 * np.maximum(long, 1e-300)
    ends = np.diff(owner) != 0
    bent[:-1] |= ends
    bent[1:] |= ends
    return bent


def _refined(target: Target, places: _Places, floor: float) -> _Places:
    """All places asked about, and those between them until that changes nothing."""
    tips, walled = _ask(target, places.xy, floor)
    whole = _Places(
        xy=places.xy,
        owner=places.owner,
        along=places.along,
        corner=places.corner,
        tips=tips,
        walled=walled,
        order=places.order,
    )
    open_ = whole.owner[:-1] == whole.owner[1:]
    while open_.any():
        first = np.flatnonzero(open_)
        middle = (whole.xy[first] + whole.xy[first + 1]) / 2.0
        tips, walled = _ask(target, middle, floor)
        off = np.abs(tips - (whole.tips[first] + whole.tips[first + 1]) / 2.0)
        apart = whole.along[first + 1] - whole.along[first]
        steep = np.abs(np.diff(whole.tips)[first]) > _STEEP * apart
        again = (off > _STRAIGHT) & (apart > 2.0 * _CLOSEST) | steep & (apart > _STEEP_APART)
        whole, born = _with(whole, first, middle, tips, walled)
        open_ = np.zeros(len(whole) - 1, dtype=np.bool_)
        for place in (born[again] - 1, born[again]):
            open_[place] = True
    return whole


def _ask(target: Target, xy: FloatArray, floor: float) -> tuple[FloatArray, BoolArray]:
    """The lowest tips, none under the floor, and where a wall or nothing else binds them."""
    found: Found = target.found(xy)
    free = np.maximum(np.maximum(found.ground, found.piece), floor)
    return np.maximum(free, found.wall), found.wall > free + _BINDS


def _with(
    whole: _Places, after: NDArray[np.intp], xy: FloatArray, tips: FloatArray, walled: BoolArray
) -> tuple[_Places, NDArray[np.intp]]:
    """Places with new ones each after a given one; and where the new ones stand."""
    at = after + 1
    joined = _Places(
        xy=np.insert(whole.xy, at, xy, axis=0),
        owner=np.insert(whole.owner, at, whole.owner[after]),
        along=np.insert(whole.along, at, (whole.along[after] + whole.along[at]) / 2.0),
        corner=np.insert(whole.corner, at, False),
        tips=np.insert(whole.tips, at, tips),
        walled=np.insert(whole.walled, at, walled),
        order=np.arange(len(whole) + len(at), dtype=np.int64),
    )
    return joined, at + np.arange(len(at))


def _threaded(places: _Places, tolerance: float) -> list[tuple[int, FloatArray]]:
    """Few corners for each unbroken stretch of places, with the line that it belongs to."""
    if not len(places):
        return []
    must = places.corner.astype(np.int64)
    fresh = np.ones(len(places), dtype=np.bool_)
    fresh[1:] = (np.diff(places.order) != 1) | (np.diff(places.owner) != 0)
    must[fresh] = 2
    z = np.empty(len(places))
    low = np.ascontiguousarray(places.tips)
    kernels.thread_through(np.ascontiguousarray(places.along), low, low + tolerance, must, z)
    found = []
    starts = np.flatnonzero(fresh)
    for begin, end in zip(starts, [*starts[1:], len(places)], strict=True):
        if places.along[end - 1] - places.along[begin] < _SHORTEST:
            continue
        kept = begin + np.flatnonzero(~np.isnan(z[begin:end]))
        found.append((int(places.owner[begin]), np.column_stack([places.xy[kept], z[kept]])))
    return found
