"""Chords back into arcs: runs of short chords become the arcs they came from.

Frame: the plane of the points, x right and y up, millimetres. Edges are rows of x, y and the
bulge of the edge that starts there, as in `toolpath.drawing.outline.Loop`: the tangent of a
quarter of the arc's angle, positive counter-clockwise, 0 for a line.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import FloatArray, Kind, Move, Point

LEAST_CHORDS = 3
"""An arc replaces no fewer chords than this: any two chords lie on some arc."""

SWEEP_LIMIT = math.radians(350.0)
"""A run that turns further is ended: its two ends would be too near to tell its size."""

RADIUS_LIMIT = 10_000.0
"""Arcs larger than this (mm) are left as they are; their centres would lose decimals."""

CORNER = math.radians(50.0)
"""A vertex that turns by more is a true corner and stays. Flattened arcs turn by less at each
vertex unless they are smaller than a few hundredths of a millimetre."""

LINE_SHARE = 0.1
"""Share of the tolerance by which vertices may leave the line that replaces them; little, so
that the first chords of an arc are not taken into the line before it."""

HALF_TURN = math.pi * (1.0 + 1e-9)
"""Longest emitted arc: longer ones are cut in two. The excess is for floating point only."""

_Fits = Callable[[int, int], bool]


SHORT = 0.25
"""An edge shorter than this, mm, has no slope of its own: half of the last of four decimals is
0.4 % of a 3 degree slope over it."""
LEVEL_SHARE = 0.005
"""The part of a path that may be kept level, so that the rest gets steeper by no more than this."""


def fit_arcs(points: FloatArray, *, closed: bool, tolerance: float) -> FloatArray:
    """Edges, lines and arcs, that replace a polyline and stay within `tolerance` of it.

    Parameters
    ----------
    points
        (n, 2) vertices, mm. A closed polyline need not repeat its first vertex.
    closed
        Whether the last vertex is joined to the first. The result may then begin anywhere.
    tolerance
        Largest distance, either side, of every vertex and every chord middle from the arc that
        replaces them; lines keep a tenth of it.

    Returns
    -------
    (k, 3) x, y, bulge. Open: the last row, bulge 0, is the end. Closed: the last edge returns to
    the first row. No arc turns by more than half a turn; vertices that turn by more than 50
    degrees are kept exactly; an edge of fewer than three chords is a line.

    Raises
    ------
    ValueError
        For a wrong shape, coordinates that are not finite, fewer than two different vertices, or
        a tolerance that is not positive.
    """
    path = _path(points, closed, tolerance)
    if closed:
        whole = _two_arcs(path, tolerance)
        if whole is not None:
            return whole
        path = _from_best_start(path)
    edges = _greedy(path, tolerance)
    return edges[:-1] if closed else edges


def moves_along(
    edges: FloatArray, start_z: float, end_z: float, feed: float, *, closed: bool
) -> tuple[Move, ...]:
    """Feed moves along edges, z going evenly with the length of the path from end to end.

    Edges shorter than `SHORT` stay level where all of them together are a small part of the path:
    rounded to the decimals of a program, the slope of so short a move would be anything.

    Parameters
    ----------
    edges
        (k, 3) x, y, bulge, as `fit_arcs` gives them or a `Loop` holds them; mm.
    start_z, end_z
        Height at the first vertex and at the end, mm.
    feed
        mm/min.
    closed
        Whether the last edge returns to the first vertex.

    Raises
    ------
    ValueError
        If the edges have no length.
    """
    rows = np.asarray(edges, dtype=np.float64)
    ends = np.roll(rows, -1, axis=0) if closed else rows[1:]
    starts = rows if closed else rows[:-1]
    chord = np.hypot(ends[:, 0] - starts[:, 0], ends[:, 1] - starts[:, 1])
    sweep = 4.0 * np.arctan(starts[:, 2])
    length = chord * _arc_over_chord(sweep)
    total = float(length.sum())
    if not total > 0.0:
        raise ValueError("edges without length cannot be walked")
    sloping = np.where(length < SHORT, 0.0, length)
    if sloping.sum() < (1.0 - LEVEL_SHARE) * total:
        sloping = length
    share = np.concatenate([[0.0], np.cumsum(sloping) / sloping.sum()])
    heights = start_z + (end_z - start_z) * share
    heights[-1] = end_z
    return tuple(
        _edge_move(starts[i], ends[i], float(heights[i]), float(heights[i + 1]), feed)
        for i in np.flatnonzero(length > 0.0)
    )


def _arc_over_chord(sweep: FloatArray) -> FloatArray:
    """Length of an arc over that of its chord: half its angle over the sine of that."""
    half = np.abs(sweep) / 2.0
    ratio = np.where(half > 0.0, half / np.sin(np.where(half > 0.0, half, 1.0)), 1.0)
    return np.asarray(ratio, dtype=np.float64)


def _edge_move(start: FloatArray, end: FloatArray, z0: float, z1: float, feed: float) -> Move:
    first: Point = (float(start[0]), float(start[1]), z0)
    last: Point = (float(end[0]), float(end[1]), z1)
    bulge = float(start[2])
    if bulge == 0.0:
        return Move(kind=Kind.LINE, start=first, end=last, feed=feed)
    aside = (1.0 - bulge * bulge) / (4.0 * bulge)
    dx, dy = last[0] - first[0], last[1] - first[1]
    centre = ((first[0] + last[0]) / 2.0 - dy * aside, (first[1] + last[1]) / 2.0 + dx * aside)
    sweep = 4.0 * math.atan(bulge)
    return Move(kind=Kind.ARC, start=first, end=last, centre=centre, sweep=sweep, feed=feed)


def _path(points: FloatArray, closed: bool, tolerance: float) -> FloatArray:
    """The vertices without repeats; a closed path ends with its first vertex."""
    path = np.asarray(points, dtype=np.float64)
    if path.ndim != 2 or path.shape[1] != 2 or len(path) < 2:
        raise ValueError(f"a polyline needs (n, 2) points with n >= 2, not {path.shape}")
    if not np.isfinite(path).all():
        raise ValueError("a polyline needs finite coordinates")
    if not tolerance > 0.0:
        raise ValueError(f"the tolerance must be positive, not {tolerance}")
    if closed:
        path = np.concatenate([path, path[:1]])
    moved = np.any(path[1:] != path[:-1], axis=1)
    path = path[np.concatenate([[True], moved])]
    if len(path) < 2:
        raise ValueError("a polyline needs two different vertices")
    return np.ascontiguousarray(path, dtype=np.float64)


def _turns(path: FloatArray) -> FloatArray:
    """(n - 2,) signed turning angle at the inner vertices of a path."""
    step = np.diff(path, axis=0)
    before, after = step[:-1], step[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.arctan2(cross, np.einsum("ij,ij->i", before, after))
    return np.asarray(turns, dtype=np.float64)


def _from_best_start(path: FloatArray) -> FloatArray:
    """A closed path begun at its sharpest corner, or without corners at its longest chord."""
    loop = path[:-1]
    turns = np.abs(_turns(np.concatenate([loop[-1:], path])))
    if turns.max() > CORNER:
        first = int(turns.argmax())
    else:
        first = int(np.hypot(*np.diff(path, axis=0).T).argmax())
    loop = np.roll(loop, -first, axis=0)
    return np.concatenate([loop, loop[:1]])


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Arcs through the ends of runs of vertices: whether they fit, and their signed sweeps."""

    good: NDArray[np.bool_]
    sweep: FloatArray


def _fit(runs: FloatArray, tolerance: float) -> _Fit:
    """The arc through both ends of each run (m, s, 2) that is nearest to its vertices.

    Its centre lies on the mid-line of the ends, at a distance found by least squares of the
    power of the vertices, which is linear in it.
    """
    first, chord = runs[:, 0], runs[:, -1] - runs[:, 0]
    half = np.hypot(chord[:, 0], chord[:, 1]) / 2.0
    with np.errstate(divide="ignore", invalid="ignore"):
        normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / (2.0 * half)[:, None]
        offset = runs - (first + chord / 2.0)[:, None]
        height = np.einsum("msi,mi->ms", offset, normal)
        power = np.einsum("msi,msi->ms", offset, offset) - (half**2)[:, None]
        aside = np.einsum("ms,ms->m", power, height) / (2.0 * np.einsum("ms,ms->m", height, height))
        radius = np.hypot(aside, half)
        spoke = offset - aside[:, None, None] * normal[:, None]
        middle = (spoke[:, 1:] + spoke[:, :-1]) / 2.0
        far = np.abs(np.hypot(spoke[..., 0], spoke[..., 1]) - radius[:, None]).max(axis=1)
        off = np.abs(np.hypot(middle[..., 0], middle[..., 1]) - radius[:, None]).max(axis=1)
        cross = spoke[:, :-1, 0] * spoke[:, 1:, 1] - spoke[:, :-1, 1] * spoke[:, 1:, 0]
        angle = np.arctan2(cross, np.einsum("msi,msi->ms", spoke[:, :-1], spoke[:, 1:]))
        sweep = angle.sum(axis=1)
        one_way = (angle * np.sign(sweep)[:, None] > 0.0).all(axis=1)
        good = (far <= tolerance) & (off <= tolerance) & one_way
        good &= (radius <= RADIUS_LIMIT) & (np.abs(sweep) <= SWEEP_LIMIT)
    return _Fit(good, sweep)


def _arc_rows(run: FloatArray, sweep: float) -> list[tuple[float, float, float]]:
    """Rows of the arc over a run: one, or two if it turns by more than half a turn."""
    (x0, y0), (x1, y1) = run[0], run[-1]
    if abs(sweep) <= HALF_TURN:
        return [(x0, y0, math.tan(sweep / 4.0))]
    bulge = math.tan(sweep / 4.0)
    middle_x = (x0 + x1) / 2.0 + (y1 - y0) / 2.0 * bulge
    middle_y = (y0 + y1) / 2.0 - (x1 - x0) / 2.0 * bulge
    part = math.tan(sweep / 8.0)
    return [(x0, y0, part), (middle_x, middle_y, part)]


def _two_arcs(path: FloatArray, tolerance: float) -> FloatArray | None:
    """A closed path as two arcs that part it in half by length, if it is that: a circle."""
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    cut = int(np.abs(walked - walked[-1] / 2.0).argmin())
    halves = path[: cut + 1], path[cut:]
    if min(len(half) for half in halves) <= LEAST_CHORDS:
        return None
    if any(np.abs(_turns(half)).max() > CORNER for half in halves):
        return None
    fits = [_fit(half[None], tolerance) for half in halves]
    if not all(fit.good[0] for fit in fits):
        return None
    rows = [
        row
        for half, fit in zip(halves, fits, strict=True)
        for row in _arc_rows(half, float(fit.sweep[0]))
    ]
    return np.array(rows, dtype=np.float64)


def _greedy(path: FloatArray, tolerance: float) -> FloatArray:
    """Edges of a path from its start on: each the longest line or arc that fits."""
    last = len(path) - 1
    stop = _stops(path)
    line_start, arc_start = _starts(path, tolerance)

    def line_fits(i: int, j: int) -> bool:
        return _is_line(path[i : j + 1], tolerance * LINE_SHARE)

    def arc_fits(i: int, j: int) -> bool:
        return bool(_fit(path[None, i : j + 1], tolerance).good[0])

    rows: list[tuple[float, float, float]] = []
    i = 0
    while i < last:
        line_end = _longest(line_fits, i, i + 2, int(stop[i])) if line_start[i] else i + 1
        arc_end = (
            _longest(arc_fits, i, i + LEAST_CHORDS, int(stop[i]))
            if arc_start[i] and stop[i] > line_end
            else i
        )
        if arc_end > line_end:
            run = path[i : arc_end + 1]
            rows += _arc_rows(run, float(_fit(run[None], tolerance).sweep[0]))
        else:
            rows.append((path[i, 0], path[i, 1], 0.0))
        i = max(arc_end, line_end)
    rows.append((path[-1, 0], path[-1, 1], 0.0))
    return np.array(rows, dtype=np.float64)


def _stops(path: FloatArray) -> NDArray[np.int64]:
    """For each vertex the next one after it that is a true corner or the end."""
    last = len(path) - 1
    mark = np.full(len(path), last, dtype=np.int64)
    corners = np.flatnonzero(np.abs(_turns(path)) > CORNER) + 1
    mark[corners] = corners
    mark = np.minimum.accumulate(mark[::-1])[::-1]
    return np.concatenate([mark[1:], [last]])


def _starts(path: FloatArray, tolerance: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each vertex whether the least line (two chords) or arc begins there: a quick test of
    all vertices at once, so that only those that can start a run are tried one by one."""
    line = np.zeros(len(path), dtype=np.bool_)
    arc = np.zeros(len(path), dtype=np.bool_)
    if len(path) > 2:
        step, chord = np.diff(path, axis=0), path[2:] - path[:-2]
        twice = np.abs(step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0])
        room = tolerance * LINE_SHARE * np.hypot(chord[:, 0], chord[:, 1])
        line[: len(chord)] = twice <= room
    if len(path) > LEAST_CHORDS:
        runs = np.lib.stride_tricks.sliding_window_view(path, LEAST_CHORDS + 1, axis=0)
        good = _fit(np.ascontiguousarray(runs.transpose(0, 2, 1)), tolerance).good
        arc[: len(good)] = good
    return line, arc


def _is_line(run: FloatArray, tolerance: float) -> bool:
    """Whether the vertices of a run lie within `tolerance` of its chord, in order along it."""
    chord = run[-1] - run[0]
    length = math.hypot(chord[0], chord[1])
    if length == 0.0:
        return False
    along = chord / length
    offset = run - run[0]
    aside = np.abs(offset[:, 1] * along[0] - offset[:, 0] * along[1])
    return bool(aside.max() <= tolerance and (np.diff(offset @ along) > 0.0).all())


def _longest(fits: _Fits, start: int, least: int, stop: int) -> int:
    """The furthest end, up to `stop`, that still fits: doubled until it fails, then halved in.

    start + 1 if not even `least` fits.
    """
    good, bad = start + 1, stop + 1
    end = least
    while end <= stop:
        if not fits(start, end):
            bad = end
            break
        good = end
        if end == stop:
            break
        end = min(start + 2 * (end - start), stop)
    while bad - good > 1 and good >= least:
        middle = (good + bad) // 2
        if fits(start, middle):
            good = middle
        else:
            bad = middle
    return good
