"""Open runs of a drawing joined end to end into loops, and loops nested into regions.

Frame: the plane of the drawing, millimetres. Loops within loops are holes by even-odd depth: a
loop in a hole is a region again. What cannot be told apart surely is refused, never guessed:
gaps, junctions of three or more ends, loops that cross or touch.

The same run or the same closed loop drawn twice on top of itself counts once.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, Polygon

from toolpath.drawing.curves import Run
from toolpath.drawing.outline import Err, FloatArray, Loop, Outline, Region
from toolpath.drawing.shapes import crossing, show_point
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

_EXACT = 1e-6
"""mm; ends closer than this are one point, rounding of the file and of our sums."""

_CELL = 1e-5
"""mm; runs are compared with those whose middles and spans differ by no more. Above 6 `_EXACT`."""

_MOST_LOOPS = 10_000
"""Most loops of one outline, as of holes, pieces and cuts."""

_MOST_ALIKE = 100
"""Runs at one place, or loops in one box, that are compared: more of them only cross."""

_MOST_CORNERS = 500_000
"""Corners of all loops of one layer, arcs as chords: some seconds and 200 MB."""

_DEEPEST = 300
"""Most loops around one another."""

_PIECE, _AT_ONCE = 16, 256
"""Edges of a ring that are looked up together, as one piece, and pieces that are so at a time."""

_APART = 4.0 * TOLERANCES.flatten
"""mm; loops nearer to each other than this could cross once flattened on opposite sides."""


def chain(runs: Sequence[Run], join: float, where: str) -> Outline:
    """Join runs into loops and nest the loops into regions.

    Parameters
    ----------
    runs : sequence of Run
        In any order and either direction; closed ones are loops already.
    join : float
        Ends nearer than this (mm) are one point: both move to the middle, and the loop's `error`
        grows by as much. Nearest ends are joined first, so short edges do not fall together.
    where : str
        How messages call the drawing, as in ``layer "RIM"``.

    Raises
    ------
    DrawingError
        An open chain (with the place and width of its gap), a junction of three or more ends, a
        loop that crosses or touches itself or another, or one too thin to have an inside.
    """
    if not (math.isfinite(join) and join >= 0.0):
        raise DrawingError(f"join must be a length of 0 or more, not {join} mm")
    runs = _unique(runs, where)
    loops = [Loop(points=run.points[:-1], error=run.error) for run in runs if _is_closed(run)]
    loops += _joined([run for run in runs if not _is_closed(run)], join, where)
    if len(loops) > _MOST_LOOPS:
        raise DrawingError(
            f"{where}: the outline has {len(loops)} loops; at most {_MOST_LOOPS} are read: draw "
            "fewer, or put them on several layers or ids"
        )
    return _nested(loops, where)


def _is_closed(run: Run) -> bool:
    return _gap(run.points[0, :2], run.points[-1, :2]) <= _EXACT


def _gap(a: FloatArray, b: FloatArray) -> float:
    return math.hypot(float(a[0] - b[0]), float(a[1] - b[1]))


def _turned(run: Run) -> Run:
    """The run walked the other way."""
    x, y, bulge = run.points.T
    turned = np.append(-bulge[:-1][::-1], 0.0)
    return Run(points=np.column_stack([x[::-1], y[::-1], turned]), error=run.error)


def _unique(runs: Sequence[Run], where: str) -> list[Run]:
    """The runs without exact repeats, walked either way."""
    kept: list[Run] = []
    alike: defaultdict[tuple[int, ...], list[Run]] = defaultdict(list)
    for run in map(_without_empty_edges, runs):
        if len(run.points) < 2:
            continue
        cell = _cell(run)
        around = (tuple(map(sum, zip(cell, step, strict=True))) for step in _STEPS)
        near = [other for key in around if key in alike for other in alike[key]]
        if len(near) > _MOST_ALIKE:
            raise DrawingError(
                f"{where}: more than {_MOST_ALIKE} lines lie on each other near "
                f"{show_point(*run.points[0, :2])}: delete what was drawn over and over"
            )
        if not any(_same(run, other) or _same(_turned(run), other) for other in near):
            alike[cell].append(run)
            kept.append(run)
    return kept


_STEPS = [(0, *step) for step in product((-1, 0, 1), repeat=3)]


def _cell(run: Run) -> tuple[int, int, int, int]:
    """Where runs that may be the same lie, walked either way: the count of points, the middle
    between the ends, and how far they are apart. Those of the same run differ by one at most."""
    first, last = run.points[0, :2], run.points[-1, :2]
    x, y = np.floor((first + last) / 2.0 / _CELL)
    apart = float(np.abs(last - first) @ (1.0, 2.0))
    return len(run.points), int(x), int(y), math.floor(apart / _CELL)


def _without_empty_edges(run: Run) -> Run:
    step = np.hypot(*np.diff(run.points[:, :2], axis=0).T)
    return Run(points=run.points[np.append(step > _EXACT, True)], error=run.error)


def _same(a: Run, b: Run) -> bool:
    gap = np.abs(a.points - b.points)
    return float(gap[:, :2].max()) <= _EXACT and float(gap[:-1, 2].max()) <= _EXACT


# ---- joining ---------------------------------------------------------------------------------


def _joined(runs: list[Run], join: float, where: str) -> list[Loop]:
    """Loops of open runs. End 2 i is the start of run i, end 2 i + 1 its end."""
    if not runs:
        return []
    ends = np.concatenate([run.points[[0, -1], :2] for run in runs])
    partner = _pair(ends, join, where)
    loose = np.flatnonzero(partner < 0)
    if len(loose):
        raise DrawingError(_gap_message(ends, loose, join, where))
    return [_loop(runs, ends, partner, walk) for walk in _walks(partner)]


def _pair(ends: FloatArray, join: float, where: str) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """The partner of each end, -1 where there is none; exact meetings first, then wider ones."""
    partner = np.full(len(ends), -1, dtype=np.int64)
    reach = min(_EXACT, join) if join > 0.0 else _EXACT
    while True:
        free = np.flatnonzero(partner < 0)
        for cluster in _clusters(ends[free], reach):
            if len(cluster) > 2:
                raise DrawingError(_junction_message(ends[free[cluster]], where))
            partner[free[cluster]] = free[cluster[::-1]]
        if reach >= join:
            return partner
        reach = min(reach * 10.0, join)


def _clusters(points: FloatArray, reach: float) -> Iterator[list[int]]:
    """Groups of two or more points that hang together by steps of at most `reach`."""
    if not len(points):
        return
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(reach, output_type="ndarray")
    if not len(pairs):
        return
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    _, labels = connected_components(graph, directed=False)
    groups: defaultdict[int, list[int]] = defaultdict(list)
    for index in np.unique(pairs):
        groups[int(labels[index])].append(int(index))
    yield from groups.values()


def _walks(partner: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Iterator[list[int]]:
    """The ends at which each loop enters its runs, in order; every end has a partner."""
    seen: set[int] = set()
    for run in range(len(partner) // 2):
        enter, walk = 2 * run, []
        while enter // 2 not in seen:
            seen.add(enter // 2)
            walk.append(enter)
            enter = int(partner[enter ^ 1])
        if walk:
            yield walk


def _loop(
    runs: list[Run],
    ends: FloatArray,
    partner: np.ndarray[tuple[int], np.dtype[np.int64]],
    walk: list[int],
) -> Loop:
    """One loop of the runs entered at the ends of `walk`, each joint moved to its middle."""
    rows, error, widest = [], 0.0, 0.0
    for enter in walk:
        run = runs[enter // 2] if enter % 2 == 0 else _turned(runs[enter // 2])
        points = run.points[:-1].copy()
        before = ends[partner[enter]]
        widest = max(widest, _gap(ends[enter], before))
        points[0, :2] = (ends[enter] + before) / 2.0
        rows.append(points)
        error = max(error, run.error)
    # Both ends of an arc of half a turn or less move by half the gap at most, and the arc with
    # them by at most sqrt(2) times that: |s| + |1 - s| <= sqrt(2) on the circle over [0, 1].
    moved = math.sqrt(0.5) * widest if widest > _EXACT else 0.0
    points = np.concatenate(rows)
    if len(points) < 2:  # one edge that its ends close: refused as too thin later
        points = np.vstack([points, points])
    return Loop(points=points, error=error + moved)


def _junction_message(points: FloatArray, where: str) -> str:
    x, y = points[0]
    return (
        f"{where}: {len(points)} ends meet at {show_point(x, y)}, so the way on is not "
        "clear: delete lines drawn twice, and keep outlines that touch apart or on layers "
        "or in groups of their own"
    )


def _gap_message(
    ends: FloatArray, loose: np.ndarray[tuple[int], np.dtype[np.int64]], join: float, where: str
) -> str:
    """The narrowest gap between loose ends, the likeliest to be meant as closed."""
    from scipy.spatial import cKDTree

    free = ends[loose]
    distances, nearest = (np.asarray(a) for a in cKDTree(free).query(free, k=2))
    best = int(np.argmin(distances[:, 1]))
    (x, y), (u, v) = free[best], free[int(nearest[best, 1])]
    gap = float(distances[best, 1])
    return (
        f"{where}: the outline is open between {show_point(x, y)} and {show_point(u, v)}, "
        f"a gap of {show_mm(gap)} where join is {show_mm(join)} ({len(loose)} loose ends in all): "
        "close it in the drawing, or raise join above the gap if it means nothing"
    )


# ---- nesting ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Flat:
    loop: Loop
    shape: Polygon


def _nested(loops: list[Loop], where: str) -> Outline:
    """Regions by even-odd depth."""
    if not loops:
        return ()
    flats = _distinct(_flats(loops, where))
    _check_apart(flats, where)
    within = _containers(flats, where)
    depth = np.array([len(around) for around in within])
    holes: defaultdict[int, list[Loop]] = defaultdict(list)
    for flat, around in zip(flats, within, strict=True):
        if len(around) % 2 == 1:
            nearest = around[depth[around] == len(around) - 1][0]
            holes[int(nearest)].append(flat.loop)
    return tuple(
        Region(outer=flat.loop, holes=tuple(holes[i]))
        for i, flat in enumerate(flats)
        if depth[i] % 2 == 0
    )


def _flats(loops: list[Loop], where: str) -> list[_Flat]:
    found, corners = list[_Flat](), 0
    for loop in loops:
        found.append(_flat(loop, where))
        corners += len(found[-1].shape.exterior.coords)
        if corners > _MOST_CORNERS:
            raise DrawingError(
                f"{where}: the {len(loops)} outlines have more than {_MOST_CORNERS} corners with "
                f"their arcs as chords within {show_mm(TOLERANCES.flatten)}: check the unit of "
                "the drawing, or put fewer on one layer"
            )
    return found


def _flat(loop: Loop, where: str) -> _Flat:
    """The loop with its flattening, refused if it crosses itself or has no inside."""
    bare = Loop(points=loop.points)
    x, y = loop.points[0, :2]
    shape = Polygon()
    for err in (Err.OUTWARD, Err.INWARD):
        corners = bare.flatten(TOLERANCES.flatten, err)
        shape = Polygon(corners) if len(corners) > 2 else Polygon()
        reason = crossing(shape)
        if reason:
            raise DrawingError(
                f"{where}: the outline through {show_point(x, y)} {reason}: move its "
                "points so that it goes round once without meeting itself"
            )
    least = loop.error + 2.0 * TOLERANCES.flatten
    if shape.buffer(-1.1 * least).is_empty:
        raise DrawingError(
            f"{where}: the outline at {show_point(x, y)} is nowhere wider than "
            f"{show_mm(2.2 * least)}: delete it or draw it as a closed shape"
        )
    return _Flat(loop=loop, shape=shape)


def _distinct(flats: list[_Flat]) -> list[_Flat]:
    """The loops without repeats of the same outline that start elsewhere."""
    boxes = np.array([flat.shape.bounds for flat in flats])
    from scipy.spatial import cKDTree

    tree, reach = cKDTree(boxes), max(_alike(flat, flat) for flat in flats)
    dropped: set[int] = set()
    for i, flat in enumerate(flats):
        if i in dropped:
            continue
        others = sorted(j for j in tree.query_ball_point(boxes[i], reach, p=np.inf) if j > i)
        strange = 0
        for j in others:
            if j not in dropped and strange < _MOST_ALIKE:  # two of one box that differ cross
                repeats = _repeats(flat, flats[j])
                strange += not repeats
                dropped |= {j} if repeats else set()
    return [flat for i, flat in enumerate(flats) if i not in dropped]


def _alike(a: _Flat, b: _Flat) -> float:
    """How far apart two loops may lie, mm, and be one and the same."""
    return 2.0 * TOLERANCES.flatten + a.loop.error + b.loop.error


def _repeats(a: _Flat, b: _Flat) -> bool:
    """Whether two loops lie on each other as well as flattening can tell."""
    near = _alike(a, b)
    boxes = np.abs(np.subtract(a.shape.bounds, b.shape.bounds))
    if boxes.max() > near:
        return False
    return bool(a.shape.symmetric_difference(b.shape).area <= near * a.shape.length)


def _check_apart(flats: list[_Flat], where: str) -> None:
    """Refuse loops that cross, touch, or come nearer than flattening can keep apart."""
    edges = [flat.shape.exterior for flat in flats]
    reach = [_APART + 2.0 * flat.loop.error for flat in flats]
    for i, j in _pairs_near(edges, [2.0 * r for r in reach]):
        apart = reach[i] + reach[j] - _APART
        if shapely.distance(edges[i], edges[j]) < apart:
            place = shapely.shortest_line(edges[i], edges[j]).coords[0]
            met = edges[i].intersection(edges[j])
            if not met.is_empty:
                place = shapely.get_coordinates(met)[0]
            raise DrawingError(
                f"{where}: two outlines cross or touch near {show_point(*place[:2])}: "
                f"join them into one, or draw them at least {show_mm(max(apart, 0.01))} apart"
            )


def _pairs_near(edges: list[LinearRing], reach: list[float]) -> Iterator[tuple[int, int]]:
    """Pairs of rings, the second nearer to the first than its `reach`, as they are asked for:
    where all lie on each other, all pairs would be too many. Rings are looked up by short pieces,
    since the box of a whole one holds all that lies within it."""
    rings = [shapely.get_coordinates(edge) for edge in edges]
    parts = [ring[k : k + _PIECE + 1] for ring in rings for k in range(0, len(ring) - 1, _PIECE)]
    counts = [-(-(len(ring) - 1) // _PIECE) for ring in rings]
    owners = np.repeat(np.arange(len(edges)), counts)
    places = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    pieces = np.asarray(shapely.linestrings(np.concatenate(parts), indices=places), dtype=object)
    tree, far = shapely.STRtree(pieces), np.asarray(reach)[owners]
    for k in range(0, len(pieces), _AT_ONCE):
        some = slice(k, k + _AT_ONCE)
        found = tree.query(pieces[some], predicate="dwithin", distance=far[some])
        pairs = np.stack([owners[k + found[0]], owners[found[1]]], axis=1)
        yield from map(tuple, np.unique(pairs[pairs[:, 0] != pairs[:, 1]], axis=0).tolist())


def _containers(flats: list[_Flat], where: str) -> list[NDArray[np.int64]]:
    """For each loop the loops around it; they neither cross nor touch, so one point tells."""
    tree = shapely.STRtree([flat.shape for flat in flats])
    within = []
    for i, flat in enumerate(flats):
        x, y = flat.shape.exterior.coords[0]
        around = np.asarray(tree.query(shapely.Point(x, y), predicate="within"), dtype=np.int64)
        within.append(around[around != i])
        if len(within[-1]) > _DEEPEST:
            raise DrawingError(
                f"{where}: more than {_DEEPEST} outlines lie around {show_point(x, y)}, one within "
                "the other: draw fewer"
            )
    return within
