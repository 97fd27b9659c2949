"""Curves of a drawing as lines and true arcs: mapped arcs, ellipses and splines.

Arcs under a map that keeps shapes stay true arcs. All else (ellipses, arcs scaled unevenly,
splines) becomes chords that lie within `tolerance` of the true curve, **on either side**, and the
run says so in its `error`. The chords are never chosen by side, because only the whole loop tells
which side is in: `toolpath.drawing.outline.Loop.flatten` moves the whole loop by its error, inward
for what is removed and outward for what is kept. So a pocket drawn as an ellipse never grows.

Bounds, both proved for the whole curve and not sampled:

- an affine map stretches lengths by at most its largest singular value s, so the chords of an arc
  that stay within tolerance / s of it stay within the tolerance once both are mapped;
- a span of a spline with positive weights lies in the convex hull of its Bézier points, and the
  distance from a chord is a convex function, so no point of the span is further from the chord
  than the farthest of those points; a span is halved until that is within the tolerance. As the
  curve leads from one end of the chord to the other, no point of the chord is further from the
  curve either.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.outline import FloatArray, arc_points
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES

if TYPE_CHECKING:
    from scipy.interpolate import BSpline

MOST_POINTS = 200_000
"""Chords that one curve may be cut into; more means a drawing in the wrong unit."""

_HIGHEST_DEGREE = 11  # what drawings hold; beyond it the power sums lose digits
_SIMILAR = 1e-9  # relative; stretches closer than this are one: 1e-6 mm on a metre
_FLAT = 1e-9  # a stretch smaller than this share of the other is none
_RISE = 1e-6  # mm; a flatter arc has its centre too far off to be found, and is a line to a cutter
_FINEST = 2.0**-48  # of a span; where halving no longer helps, rounding is coarser than asked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """An open or closed path of lines and arcs through the plane, mm.

    `points` is (n, 3): x, y and the bulge of the edge to the next point; the bulge of the last
    point means nothing. Arcs turn by half a turn at most. A closed path ends where it started.
    `error` (mm) is how far the path may lie from the curve that was drawn, on either side.
    """

    points: FloatArray = field(repr=False)
    error: float = 0.0


def mapped(path: FloatArray, linear: FloatArray, shift: FloatArray, tolerance: float) -> Run:
    """A path of lines and arcs under the map p -> linear @ p + shift.

    Parameters
    ----------
    path : (n, 3) array
        x, y, bulge as in `Run.points`, in any unit.
    linear : (2, 2) array
        To mm; may turn, mirror and stretch, evenly (arcs stay arcs) or not (chords).
    shift : (2,) array
        mm.
    tolerance : float
        Largest distance of a chord from its mapped arc, mm, either side.

    Raises
    ------
    DrawingError
        A map that squeezes the plane to a line.
    """
    stretches = np.linalg.svd(linear, compute_uv=False)
    if not np.isfinite(stretches).all() or stretches[1] <= _FLAT * stretches[0]:
        raise DrawingError("it is squeezed to a line: give it a scale that is not 0")
    path = _halved_arcs(path)
    if stretches[0] - stretches[1] <= _SIMILAR * stretches[0] or not path[:-1, 2].any():
        bulge = path[:, 2] * math.copysign(1.0, float(np.linalg.det(linear)))
        return Run(points=_unbent(np.column_stack([path[:, :2] @ linear.T + shift, bulge])))
    fine = tolerance / float(stretches[0])
    pieces = []
    for (x, y, bulge), end in zip(path[:-1], path[1:, :2], strict=True):
        pieces.append(np.array([[x, y]]))
        if bulge:
            pieces.append(arc_points(np.array([x, y]), end, bulge, fine, inscribed=True))
    corners = np.concatenate([*pieces, path[-1:, :2]])
    _bounded(len(corners))
    xy = corners @ linear.T + shift
    return Run(points=np.column_stack([xy, np.zeros(len(xy))]), error=tolerance)


def turn_path(first: float, last: float) -> FloatArray:
    """The unit circle from angle `first` counter-clockwise to `last` (radians), as a path.

    A whole turn where the two are the same point; then the path ends exactly where it starts.
    """
    sweep = math.remainder(last - first, 2.0 * math.pi)
    sweep += 2.0 * math.pi if sweep <= 1e-12 else 0.0
    count = max(1, math.ceil(sweep / math.pi - 1e-12))
    angles = first + sweep * np.arange(count + 1) / count
    path = np.column_stack(
        [np.cos(angles), np.sin(angles), np.full(count + 1, math.tan(sweep / count / 4.0))]
    )
    if 2.0 * math.pi - sweep < 1e-12:
        path[-1, :2] = path[0, :2]
    return path


def ellipse(
    centre: FloatArray,
    axes: FloatArray,
    first: float,
    last: float,
    tolerance: float,
) -> Run:
    """The curve centre + axes @ (cos t, sin t), t from `first` up to `last` (radians).

    Parameters
    ----------
    centre : (2,) array
        mm.
    axes : (2, 2) array
        Columns: two conjugate half axes, mm; they need not be square to each other. Where the
        curve is a circle it stays a true arc.
    tolerance : float
        Largest distance of a chord from the curve, mm, either side.
    """
    return mapped(turn_path(first, last), axes, centre, tolerance)


def spline(
    control: FloatArray,
    knots: FloatArray,
    degree: int,
    tolerance: float,
    weights: FloatArray | None = None,
) -> Run:
    """A B-spline or NURBS as chords, over its valid domain [knots[degree], knots[n]].

    Parameters
    ----------
    control : (n, 2) array
        Control points, mm.
    knots : (n + degree + 1,) array
        Never falling; clamped, unclamped or periodic.
    degree : int
        1 to 11.
    tolerance : float
        Largest distance between curve and chords, mm, either side.
    weights : (n,) array, optional
        Positive; none means a polynomial spline.

    Raises
    ------
    DrawingError
        Counts that do not fit together, falling knots, weights of 0 or less, a curve that jumps,
        or more than `MOST_POINTS` chords.
    """
    from scipy.interpolate import BSpline

    weights = np.ones(len(control)) if weights is None else np.asarray(weights, dtype=np.float64)
    knots = np.asarray(knots, dtype=np.float64)
    _check_spline(control, knots, degree, weights)
    homogeneous = np.column_stack([control * weights[:, None], weights])
    spans = _bezier_spans(BSpline(knots, homogeneous, degree), len(control))
    _check_joined(spans)
    _, starts, error = _chords(spans, tolerance)
    corners = np.concatenate([starts, spans[-1:, -1, :2] / spans[-1:, -1, 2:]])
    return Run(points=np.column_stack([corners, np.zeros(len(corners))]), error=error)


def cubics(control: FloatArray, tolerance: float) -> tuple[NDArray[np.int64], FloatArray, float]:
    """Cubic Bézier curves, which need not meet, as chords.

    Parameters
    ----------
    control : (n, 4, 2) array
        The control points of each, mm.
    tolerance : float
        Largest distance between a curve and its chords, mm, either side.

    Returns
    -------
    curve : (m,) array
        For each chord, in order, the number of its curve.
    starts : (m, 2) array
        Where the chord starts; it leads to the next of its curve, or to that curve's end.
    error : float
        The largest distance reached, mm; 0 where all curves are straight.

    Raises
    ------
    DrawingError
        More than `MOST_POINTS` chords.
    """
    weights = np.ones((*control.shape[:2], 1))
    places, starts, error = _chords(np.concatenate([control, weights], axis=2), tolerance)
    return places.astype(np.int64), starts, error if error > TOLERANCES.rounding else 0.0


def _unbent(points: FloatArray) -> FloatArray:
    """The points with arcs that rise less than `_RISE` from their chord made straight."""
    rise = np.hypot(*np.diff(points[:, :2], axis=0).T) * np.abs(points[:-1, 2]) / 2.0
    points[:-1, 2][rise < _RISE] = 0.0
    return points


def _halved_arcs(path: FloatArray) -> FloatArray:
    """The path with arcs of more than half a turn cut in two, so that ends hold them well."""
    rows = []
    for (x, y, bulge), end in zip(path[:-1], path[1:, :2], strict=True):
        if abs(bulge) <= 1.0:
            rows.append((x, y, bulge))
            continue
        dx, dy = end[0] - x, end[1] - y
        middle = (x + dx / 2.0 + bulge * dy / 2.0, y + dy / 2.0 - bulge * dx / 2.0)
        half = math.tan(math.atan(bulge) / 2.0)
        rows += [(x, y, half), (*middle, half)]
    return np.array([*rows, path[-1]])


def _check_spline(control: FloatArray, knots: FloatArray, degree: int, weights: FloatArray) -> None:
    count = len(control)
    if not 1 <= degree <= _HIGHEST_DEGREE:
        raise DrawingError(f"its degree of {degree} is not between 1 and {_HIGHEST_DEGREE}")
    if count <= degree or len(knots) != count + degree + 1 or len(weights) != count:
        raise DrawingError(
            f"it has {count} control points, {len(knots)} knots and {len(weights)} weights, but "
            f"degree {degree} needs more points than its degree, as many weights as points and "
            f"{count + degree + 1} knots"
        )
    if not all(np.isfinite(numbers).all() for numbers in (control, knots, weights)):
        raise DrawingError("it holds a number that is not finite")
    if (np.diff(knots) < 0).any() or knots[count] <= knots[degree]:
        raise DrawingError("its knots fall or span nothing")
    if (weights <= 0).any():
        raise DrawingError(f"its weight of {weights.min():g} must be more than 0")


def _bezier_spans(curve: BSpline[np.float64], count: int) -> FloatArray:
    """Homogeneous Bézier points (spans, degree + 1, 3) of every span of the valid domain."""
    k = curve.k
    ends = np.unique(curve.t[k : count + 1])
    starts, widths = ends[:-1], np.diff(ends)
    powers = [curve(starts, nu=m) * (widths**m)[:, None] / math.factorial(m) for m in range(k + 1)]
    return np.stack(
        [
            sum(math.comb(i, m) / math.comb(k, m) * powers[m] for m in range(i + 1))
            for i in range(k + 1)
        ],
        axis=1,
    )


def _check_joined(spans: FloatArray) -> None:
    """Refuse a curve that jumps at a knot as often repeated as its order."""
    plane = spans[..., :2] / spans[..., 2:]
    jumps = np.hypot(*(plane[1:, 0] - plane[:-1, -1]).T)
    size = float(np.ptp(plane.reshape(-1, 2), axis=0).max())
    if len(jumps) and jumps.max() > 1e-6 * max(size, 1.0):
        raise DrawingError(f"it jumps by {jumps.max():.3g} mm at a knot")


def _chords(spans: FloatArray, tolerance: float) -> tuple[FloatArray, FloatArray, float]:
    """Chords within the tolerance of the spans: the place of each, which is the number of its
    span and the share of it gone, its start (m, 2), in order, and the bound reached."""
    start = np.arange(len(spans), dtype=np.float64)
    width, error = 1.0, 0.0
    done: list[tuple[FloatArray, FloatArray]] = []
    found = 0
    while len(spans):
        far = _hull_distance(spans[..., :2] / spans[..., 2:])
        good = far <= tolerance
        done.append((start[good], spans[good, 0, :2] / spans[good, 0, 2:]))
        error = max(error, float(far[good].max(initial=0.0)))
        found += int(good.sum())
        _bounded(found + 2 * int((~good).sum()) if width > _FINEST else MOST_POINTS + 1)
        width /= 2.0
        left, right = _split(spans[~good])
        spans = np.concatenate([left, right])
        start = np.concatenate([start[~good], start[~good] + width])
    places = np.concatenate([place for place, _ in done])
    order = np.argsort(places)
    return places[order], np.concatenate([corner for _, corner in done])[order], error


def _hull_distance(points: FloatArray) -> FloatArray:
    """Farthest distance of the points (m, k + 1, 2) of each span from its chord."""
    first, chord = points[:, :1], points[:, -1:] - points[:, :1]
    square = np.sum(chord**2, axis=2)
    reach = points - first
    along = np.sum(reach * chord, axis=2) / np.where(square > 0.0, square, 1.0)
    foot = np.clip(along, 0.0, 1.0)[..., None] * chord
    gap = reach - foot
    return np.asarray(np.hypot(gap[..., 0], gap[..., 1]).max(axis=1), dtype=np.float64)


def _split(spans: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both halves of each span (de Casteljau)."""
    left, right, level = [spans[:, 0]], [spans[:, -1]], spans
    while level.shape[1] > 1:
        level = (level[:, :-1] + level[:, 1:]) / 2.0
        left.append(level[:, 0])
        right.append(level[:, -1])
    return np.stack(left, axis=1), np.stack(right[::-1], axis=1)


def _bounded(count: int) -> None:
    if count > MOST_POINTS:
        raise DrawingError(
            f"it would take more than {MOST_POINTS} chords to follow: check the unit of the drawing"
        )
