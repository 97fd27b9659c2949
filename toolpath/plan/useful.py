"""Which stretches of a path take something of what is left: the rest of it is air.

Frame: x, y of the blank frame, millimetres. What an earlier stretch took is gone for the later
ones, so the way back along a strip that the way there cut is air.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.cover import swept
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.links import Run
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

CHUNK = 0.2
"""A path is asked about in stretches of this length, mm."""
TILE = 4.0
"""What is left is kept in squares of this many radii: each stretch asks a few small ones."""


class Remains:
    """What of some stock a cutter has not yet taken on its way."""

    def __init__(self, stock: BaseGeometry, radius: float) -> None:
        self.radius = radius
        self._tiles = _tiles_of(stock, TILE * radius)
        self._tree = shapely.STRtree(self._tiles)

    def take(self, points: FloatArray) -> bool:
        """Sweep the cutter along a polyline (n, 2); whether it takes more than a hair."""
        near = self._near(points)
        if not len(near):
            return False
        area = swept([points], self.radius)
        left = shapely.difference(self._tiles[near], area)
        taken = shapely.area(self._tiles[near]).sum() - shapely.area(left).sum()
        self._tiles[near] = left
        return bool(taken > TOLERANCES.cover * min(CHUNK, length_of(points)) / 4.0)

    def _near(self, points: FloatArray) -> NDArray[np.intp]:
        line = shapely.linestrings(points)
        found = self._tree.query(line, predicate="dwithin", distance=self.radius)
        touched = shapely.dwithin(self._tiles[found], line, self.radius)
        return np.asarray(found[touched], dtype=np.intp)


def useful(remains: Remains, runs: Sequence[Run], gap: float) -> tuple[tuple[Run, ...], ...]:
    """The stretches of a path that take something, each with `ALLOWANCES.rest_overlap` of air
    before it and behind it; those with less than `gap` of air between them hang together."""
    chunks = [chunk for run in runs for chunk in _chunks(run)]
    takes = [remains.take(chunk.points) for chunk in chunks]
    found: list[tuple[Run, ...]] = []
    for first, last in _spans(chunks, takes, gap):
        before, behind = chunks[max(first - 1, 0) : first], chunks[last + 1 : last + 2]
        whole = [*map(_end_of, before), *chunks[first : last + 1], *map(_start_of, behind)]
        found.append(_joined(whole))
    return tuple(found)


def _spans(chunks: Sequence[Run], takes: Sequence[bool], gap: float) -> Iterator[tuple[int, int]]:
    """First and last index of each stretch."""
    rows = np.flatnonzero(np.array(takes, dtype=np.bool_))
    if not len(rows):
        return
    reach = np.concatenate([[0.0], np.cumsum([length_of(chunk.points) for chunk in chunks])])
    first = int(rows[0])
    for here, following in pairwise(rows.tolist()):
        if reach[following] - reach[here + 1] > gap:
            yield first, here
            first = following
    yield first, int(rows[-1])


def _chunks(run: Run) -> Iterator[Run]:
    total = length_of(run.points)
    if total <= ALLOWANCES.same:
        return
    count = max(1, round(total / CHUNK))
    for i in range(count):
        points = stretch(run.points, total * i / count, total * (i + 1) / count)
        yield Run(points=points, inset=run.inset)


def _end_of(run: Run) -> Run:
    total = length_of(run.points)
    first = max(0.0, total - ALLOWANCES.rest_overlap)
    return Run(points=stretch(run.points, first, total), inset=run.inset)


def _start_of(run: Run) -> Run:
    last = min(length_of(run.points), ALLOWANCES.rest_overlap)
    return Run(points=stretch(run.points, 0.0, last), inset=run.inset)


def _joined(runs: Sequence[Run]) -> tuple[Run, ...]:
    """Neighbours along one ring as one run."""
    found: list[Run] = []
    for run in runs:
        last = found[-1] if found else None
        if last is not None and _goes_on(last, run):
            points = np.vstack([last.points, run.points[1:]])
            found[-1] = Run(points=points, inset=run.inset)
        else:
            found.append(run)
    return tuple(Run(points=_bare(run.points), inset=run.inset) for run in found)


def _goes_on(last: Run, run: Run) -> bool:
    """Whether a run only continues the one before; links end where rings begin."""
    return last.inset == run.inset and bool(
        np.hypot(*(last.points[-1] - run.points[0])) <= ALLOWANCES.same
    )


def _bare(points: FloatArray) -> FloatArray:
    """Without the places in straight runs at which it was cut into chunks."""
    return shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), ALLOWANCES.same))


def _tiles_of(stock: BaseGeometry, side: float) -> NDArray[np.object_]:
    """Polygons of some stock, cut along squares."""
    found: list[BaseGeometry] = []
    for part in shapely.get_parts(stock):
        x0, y0, x1, y1 = part.bounds
        if max(x1 - x0, y1 - y0) <= side:
            found.append(part)
            continue
        x, y = np.arange(x0, x1, side), np.arange(y0, y1, side)
        corners = np.array(np.meshgrid(x, y)).reshape(2, -1)
        boxes = shapely.box(corners[0], corners[1], corners[0] + side, corners[1] + side)
        pieces = shapely.intersection(part, boxes)
        found += [piece for piece in pieces if piece.area > 0.0]
    return np.array(found, dtype=object)
