"""A pen that turns the paths and basic shapes of an SVG drawing into runs of lines and arcs.

Frame: what is drawn stands in the drawing's own units and is brought to millimetres, x right and
y up, by the pen's map. Arcs of circles stay true arcs under maps that keep shapes; Bézier curves
and other ellipses become chords within `Tolerances.flatten`, on either side (`Run.error`).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from toolpath.drawing.curves import MOST_POINTS, Run, cubics, mapped
from toolpath.drawing.outline import FloatArray
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES

MOST_LOOPS = 2_000
"""Closed paths that one outline may have."""

MOST_ARCS = 20_000
"""Arcs that one outline may have."""

MOST_DATA = 1_000_000
"""Characters of path data that one outline may hold."""

_HALF_TURN = 1e-12  # of a radius; as near as this to a half turn an arc is one
_FARTHEST = 1e6  # mm; beyond a kilometre the unit is wrong
_FAR = f"it reaches beyond {_FARTHEST / 1e6:g} km or holds no number: check its numbers"
_COMMANDS = "MmZzLlHhVvCcSsQqTtAa"
_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_BETWEEN = re.compile(r"[\s,]*")

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    start: Point


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cubic:
    control: tuple[Point, Point, Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Arc:
    """An arc of an ellipse: the unit circle's arc `path` (2, 3) under `axes` (2, 2)."""

    path: FloatArray
    axes: FloatArray
    start: Point


class Pen:
    """Draws under a map (3, 3) to millimetres and gathers `runs`; the calls are those that
    `fontTools` makes for path data, points in the drawing's own units.

    Raises DrawingError for numbers that are not finite or too far off, and past `MOST_LOOPS`
    paths or `curves.MOST_POINTS` points in all.
    """

    def __init__(self) -> None:
        self.runs: list[Run] = []
        self.matrix: FloatArray = np.eye(3)
        self._count = 0
        self._data = self._arcs = 0
        self._segments: list[_Line | _Cubic | _Arc] = []
        self._start: Point = (0.0, 0.0)
        self.at: Point = (0.0, 0.0)
        """Where it is, in the drawing's own units."""

    def moveTo(self, point: Point) -> None:  # noqa: N802 (the library's name)
        """Start a path."""
        self._segments = []
        self._start = self.at = point

    def lineTo(self, point: Point) -> None:  # noqa: N802
        """A straight edge."""
        self._add(_Line(start=self.at))
        self.at = point

    def curveTo(self, one: Point, two: Point, end: Point) -> None:  # noqa: N802
        """A cubic Bézier curve."""
        self._add(_Cubic(control=(self.at, one, two, end)))
        self.at = end

    def qCurveTo(self, control: Point, end: Point) -> None:  # noqa: N802
        """A quadratic Bézier curve, which is the cubic one with controls two thirds of the way."""
        (x, y), (u, v), (p, q) = self.at, control, end
        one = (x + 2.0 / 3.0 * (u - x), y + 2.0 / 3.0 * (v - y))
        two = (p + 2.0 / 3.0 * (u - p), q + 2.0 / 3.0 * (v - q))
        self.curveTo(one, two, end)

    def arcTo(  # noqa: N802
        self, rx: float, ry: float, turn: float, large: bool, sweep: bool, end: Point
    ) -> None:
        """An arc of an ellipse whose x axis is turned by `turn` degrees (SVG 1.1, F.6)."""
        self._arcs += 1
        if self._arcs > MOST_ARCS:
            raise DrawingError(f"it has more than {MOST_ARCS} arcs: simplify it")
        rx, ry = abs(rx), abs(ry)
        if end == self.at:  # F.6.2: left out
            return
        if rx == 0.0 or ry == 0.0:  # F.6.2: a straight line
            self.lineTo(end)
            return
        phi = math.radians(turn)
        axes = np.array([[math.cos(phi), -math.sin(phi)], [math.sin(phi), math.cos(phi)]])
        axes = axes * (rx, ry)
        with np.errstate(all="ignore"):  # what overflows is refused when it is drawn
            self._add(_arc(axes, self.at, end, (large, sweep)))
        self.at = end

    def _add(self, segment: _Line | _Cubic | _Arc) -> None:
        if len(self._segments) >= MOST_POINTS:
            raise DrawingError(f"it has more than {MOST_POINTS} edges: simplify it")
        self._segments.append(segment)

    def closePath(self) -> None:  # noqa: N802
        """End a path where it started."""
        if self.at != self._start:
            self.lineTo(self._start)
        self.endPath()

    def endPath(self) -> None:  # noqa: N802
        """End a path where it is."""
        if self._segments:
            self._draw()
        self._segments = []

    def path(self, data: str) -> None:
        """Draw path data (SVG 1.1, 8.3); what the grammar does not know is refused.

        Raises
        ------
        DrawingError
            Besides what every call raises: more than `MOST_DATA` characters, a command with too
            few numbers, or letters that are none.
        """
        from fontTools.svgLib.path.parser import parse_path

        self._data += len(data)
        if self._data > MOST_DATA:
            raise DrawingError(
                f"its path data has more than {MOST_DATA} characters in all: simplify it"
            )
        strange = re.sub(rf"[{_COMMANDS}\s,]", "", _NUMBER.sub(" ", data))
        if strange:
            raise DrawingError(f'its path data holds "{strange[:20]}", which says nothing')
        try:
            parse_path(data, self)
        except (ValueError, OverflowError, IndexError, TypeError) as error:
            raise DrawingError("its path data breaks off or has too few numbers") from error

    def _draw(self) -> None:
        """Turn the segments of the path into a run."""
        if len(self.runs) >= MOST_LOOPS:
            raise DrawingError(
                f"there are more than {MOST_LOOPS} paths in it: draw the outlines alone"
            )
        with np.errstate(all="ignore"):
            run = _run(self._segments, self.at, self.matrix)
        if not (np.abs(run.points[:, :2]) < _FARTHEST).all():
            raise DrawingError(_FAR)
        self._count += len(run.points)
        if self._count > MOST_POINTS:
            raise DrawingError(
                f"it takes more than {MOST_POINTS} points to follow: simplify its curves"
            )
        self.runs.append(run)


def _arc(axes: FloatArray, start: Point, end: Point, flags: tuple[bool, bool]) -> _Arc:
    """The arc between two points of an ellipse of those axes, enlarged where it is too small to
    reach (SVG 1.1, F.6.6). Worked on the unit circle from the chord, not from the centre, so that
    flat arcs lose nothing."""
    try:
        ends = np.linalg.solve(axes, np.array([start, end]).T).T
    except np.linalg.LinAlgError:
        ends = np.full((2, 2), math.inf)
    half = float(np.hypot(*(ends[1] - ends[0]))) / 2.0
    if not half < math.inf:
        raise DrawingError("its arc has a radius too small for its length: draw a line")
    if half > 1.0 - _HALF_TURN:
        axes, ends, half = axes * half, ends / half, 1.0
    angle = 2.0 * math.asin(half)
    large, sweep = flags
    bulge = math.tan((2.0 * math.pi - angle if large else angle) / 4.0)
    path = np.column_stack([ends, [bulge if sweep else -bulge, 0.0]])
    return _Arc(path=path, axes=axes, start=start)


def _run(segments: list[_Line | _Cubic | _Arc], last: Point, matrix: FloatArray) -> Run:
    """The run of the segments, whose points are exactly where the map puts them."""
    linear, shift = matrix[:2, :2], matrix[:2, 2]
    rows, error = _curved(segments, linear, shift)
    for place, segment in enumerate(segments):
        if isinstance(segment, _Line):
            rows[place] = np.array([[*segment.start, 0.0]])
            rows[place][:, :2] = rows[place][:, :2] @ linear.T + shift
        elif isinstance(segment, _Arc):
            bent = mapped(segment.path, linear @ segment.axes, shift, TOLERANCES.flatten)
            rows[place] = bent.points[:-1].copy()
            rows[place][0, :2] = linear @ segment.start + shift
            error = max(error, bent.error)
    end = np.array([[*(linear @ last + shift), 0.0]])
    return Run(points=np.concatenate([*(rows[i] for i in range(len(segments))), end]), error=error)


def _curved(
    segments: list[_Line | _Cubic | _Arc], linear: FloatArray, shift: FloatArray
) -> tuple[dict[int, FloatArray], float]:
    """The chords of all Bézier curves among the segments, by the place of each, and their error."""
    where = [place for place, segment in enumerate(segments) if isinstance(segment, _Cubic)]
    if not where:
        return {}, 0.0
    control = np.array([s.control for s in segments if isinstance(s, _Cubic)]) @ linear.T + shift
    if not (np.abs(control) < _FARTHEST).all():
        raise DrawingError(_FAR)
    curve, starts, error = cubics(control, TOLERANCES.flatten)
    rows = np.column_stack([starts, np.zeros(len(starts))])
    parts = np.split(rows, np.searchsorted(curve, np.arange(1, len(where))))
    return dict(zip(where, parts, strict=True)), error


# ---- basic shapes ----------------------------------------------------------------------------


def draw_rect(pen: Pen, corner: Point, size: Point, radii: Point) -> None:
    """A rectangle with corners of an ellipse (SVG 1.1, 9.2); radii are cut to half the sides."""
    (x, y), (width, height) = corner, size
    if not (width > 0.0 and height > 0.0):
        raise DrawingError(f"it has no size ({width:g} by {height:g}): delete it")
    rx, ry = min(radii[0], width / 2.0), min(radii[1], height / 2.0)
    if rx <= 0.0 or ry <= 0.0:
        draw_polygon(pen, [(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
        return
    right, low = x + width, y + height
    corners = [
        ((right - rx, y), (right, y + ry)),
        ((right, low - ry), (right - rx, low)),
        ((x + rx, low), (x, low - ry)),
        ((x, y + ry), (x + rx, y)),
    ]
    pen.moveTo((x + rx, y))
    for before, after in corners:
        if before != pen.at:
            pen.lineTo(before)
        pen.arcTo(rx, ry, 0.0, False, True, after)
    pen.closePath()


def draw_ellipse(pen: Pen, centre: Point, radii: Point) -> None:
    """A circle or an ellipse, as two halves (SVG 1.1, 9.3 and 9.4)."""
    (x, y), (rx, ry) = centre, radii
    if not (rx > 0.0 and ry > 0.0):
        raise DrawingError(f"it has no size (radius {min(rx, ry):g}): delete it")
    pen.moveTo((x + rx, y))
    pen.arcTo(rx, ry, 0.0, False, True, (x - rx, y))
    pen.arcTo(rx, ry, 0.0, False, True, (x + rx, y))
    pen.closePath()


def draw_polygon(pen: Pen, corners: list[Point], *, closed: bool = True) -> None:
    """A polygon, or a polyline that ends where it is (SVG 1.1, 9.6 and 9.7)."""
    if len(corners) < 2:
        raise DrawingError(f"it has {len(corners)} points: delete it")
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    if closed:
        pen.closePath()
    else:
        pen.endPath()


def read_points(text: str) -> list[Point]:
    """The points of a polygon or polyline: numbers in pairs (SVG 1.1, 9.7.1)."""
    if len(text) > MOST_DATA:
        raise DrawingError(f"its points take more than {MOST_DATA} characters: simplify it")
    numbers = read_numbers(text)
    if len(numbers) % 2:
        raise DrawingError(f"its points are {len(numbers)} numbers, which make no pairs")
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def read_numbers(text: str) -> list[float]:
    """Numbers with spaces or commas between them.

    Raises
    ------
    DrawingError
        Anything else in the text, or a number that is not finite.
    """
    strange = _BETWEEN.sub("", _NUMBER.sub(" ", text))
    numbers = [float(number) for number in _NUMBER.findall(text)]
    if strange or not all(math.isfinite(number) for number in numbers):
        raise DrawingError(f'"{text[:40]}" is not a list of numbers')
    return numbers
