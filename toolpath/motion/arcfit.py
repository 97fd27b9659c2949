"""Chords back into arcs: runs of short chords become the arcs they came from.

Frame: the plane of the points, x right and y up, millimetres. Edges are rows of x, y and the
bulge of the edge that starts there, as in `toolpath.drawing.outline.Loop`: the tangent of a
quarter of the arc's angle, positive counter-clockwise, 0 for a line.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.motion.moves import FloatArray, Kind, Move, Point
from toolpath.motion.runs import Band, Row, arcs_over

CORNER = math.radians(50.0)
"""A vertex that turns by more is a true corner and stays. Flattened arcs turn by less at each
vertex unless they are smaller than a few hundredths of a millimetre."""

KINKED = 2.0
"""So does one that turns more than chords do that lie this many tolerances off a curve."""

STRAIGHT = 2.0
"""A chord from whose middle a curve that bends as it does at its ends would lie further off than
this many tolerances is a straight line, and stays."""

LINE_SHARE = 0.02
"""Share of the tolerance by which vertices may leave the line that replaces them; little, so
that the first chords of an arc are not taken into the line before it."""

SHORT = 0.25
"""An edge shorter than this, mm, has no slope of its own: half of the last of four decimals is
0.4 % of a 3 degree slope over it."""
LEVEL_SHARE = 0.005
"""The part of a path that may be kept level, so that the rest gets steeper by no more than this."""


def fit_arcs(points: FloatArray, *, closed: bool, tolerance: float | Band) -> FloatArray:
    """Edges, lines and arcs, that replace a polyline and stay within `tolerance` of it.

    Parameters
    ----------
    points
        (n, 2) vertices, mm. A closed polyline need not repeat its first vertex.
    closed
        Whether the last vertex is joined to the first. The result may then begin anywhere.
    tolerance
        Largest distance of every vertex and every chord middle from the edge that replaces them:
        either side, or to the right and to the left by themselves. Straight lines keep a tenth.

    Returns
    -------
    (k, 3) x, y, bulge. Open: the last row, bulge 0, is the end. Closed: the last edge returns to
    the first row. No arc turns by half a turn. Ends, corners and the ends of straight lines are
    kept exactly; elsewhere edges meet at vertices or beside them.

    Raises
    ------
    ValueError
        For a wrong shape, coordinates that are not finite, fewer than two different vertices, or
        a tolerance that is not positive.
    """
    band = tolerance if isinstance(tolerance, Band) else Band(right=tolerance, left=tolerance)
    path = _path(points, closed, band)
    if closed:
        path = _from_best_start(path)
    lines = band.narrowest * LINE_SHARE
    path = _without_straight_vertices(path, lines)
    rest = replace(band, right=band.right - lines, left=band.left - lines)
    rows: list[Row] = []
    for first, last in pairwise(_stops(path, rest)):
        rows += arcs_over(path[first : last + 1], rest)
    if not closed:
        rows.append((float(path[-1, 0]), float(path[-1, 1]), 0.0))
    return np.array(rows, dtype=np.float64)


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


def _path(points: FloatArray, closed: bool, band: Band) -> FloatArray:
    """The vertices without repeats; a closed path ends with its first vertex."""
    path = np.asarray(points, dtype=np.float64)
    if path.ndim != 2 or path.shape[1] != 2 or len(path) < 2:
        raise ValueError(f"a polyline needs (n, 2) points with n >= 2, not {path.shape}")
    if not np.isfinite(path).all():
        raise ValueError("a polyline needs finite coordinates")
    if not band.narrowest > 0.0:
        raise ValueError(f"the tolerance must be positive, not {band.narrowest}")
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


def _without_straight_vertices(path: FloatArray, tolerance: float) -> FloatArray:
    """The path without vertices that lie on the straight between others, its corners kept."""
    corners = np.flatnonzero(np.abs(_turns(path)) > CORNER) + 1
    if (path[0] == path[-1]).all() and not len(corners):
        corners = np.array([len(path) // 2])
    parts = np.split(path, corners)
    joined = [
        np.concatenate([part, following[:1]])
        for part, following in zip(parts, [*parts[1:], path[:0]], strict=True)
    ]
    found = [
        shapely.get_coordinates(
            shapely.simplify(shapely.linestrings(part), tolerance, preserve_topology=False)
        )
        for part in joined
        if len(part) > 1
    ]
    return np.concatenate([*(part[:-1] for part in found), path[-1:]])


def _stops(path: FloatArray, band: Band) -> list[int]:
    """The vertices that stay: both ends, corners, and the ends of straight lines.

    Between chords of a curve that lie no further off than the tolerance, a vertex turns by four
    times that over the length of each (sagitta of a chord c of an angle a: c a / 8). A curve that
    turns by a at the vertex of chords b and c bends by 2 a / (b + c). Where it changes sides along
    a chord, it lies off that by an eighth of what it would if it kept to one: half is counted.
    """
    length = np.hypot(*np.diff(path, axis=0).T)
    signed = _turns(path)
    turn = np.abs(signed)
    shorter = np.minimum(length[:-1], length[1:])
    corner = (turn > CORNER) | (shorter * turn / 8.0 > KINKED * band.widest)
    bend = np.where(corner, 0.0, 2.0 * turn / (length[:-1] + length[1:]))
    bend = np.concatenate([[0.0], bend, [0.0]])
    away = length**2 * np.maximum(bend[:-1], bend[1:]) / 8.0
    away[1:-1][signed[:-1] * signed[1:] < 0.0] /= 2.0
    straight = away > STRAIGHT * max(band.widest, band.sagitta)
    stop: NDArray[np.bool_] = np.concatenate([[True], corner, [True]])
    stop[:-1] |= straight
    stop[1:] |= straight
    return [int(i) for i in np.flatnonzero(stop)]
