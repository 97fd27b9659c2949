"""Holes of a drill cut: places listed, in a pattern or in a drawing, and how wide they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

from toolpath.drawing.holes import Hole, read_dxf_holes
from toolpath.errors import DrawingError
from toolpath.job.cross import Parts, Point, check_length, check_points
from toolpath.job.drill_speed import warn_drill_speed
from toolpath.job.effort import check_pecks
from toolpath.job.files import file_unit, named_file
from toolpath.job.keys import PATTERNS
from toolpath.job.limits import MAX_DRAWING_BYTES, MAX_ENTRIES, PLACE, SIZE, TURN
from toolpath.job.model import Cutter, Shape
from toolpath.job.rows import read_steps
from toolpath.job.table import Table
from toolpath.job.tools import fits
from toolpath.job.words import quoted, suggestion
from toolpath.tolerances import TOLERANCES

_FORM = "the holes, [[x, y], …]"
SIDEWAYS = (Shape.FLAT, Shape.BALL, Shape.BULL)
"""Cutters that bore a hole wider than themselves."""
FIRST = 90.0
"""Degrees at which the first hole of a circle stands unless the job says: at the top."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Holes:
    """What a drill cut has of its own, mm."""

    at: tuple[Point, ...]
    peck: float
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Places:
    """Places of holes, each under the key by which a fault names it, and the width of the
    circles of a drawing, None where there is none."""

    at: dict[str, Point]
    width: float | None = None


def read_holes(table: Table, cutter: Cutter | None, depth: float, parts: Parts) -> Holes:
    """The holes of a drill cut of that depth, checked against the cutter and the blank."""
    places = _read_places(table)
    peck = table.length("peck", SIZE, cutter.diameter if cutter else 1.0)
    diameter = hole_diameter(table, cutter, places.width)
    check_points(table, places.at, 0.0 if math.isnan(diameter) else diameter / 2.0, parts)
    _check_twice(table, places.at)
    check_pecks(table, peck, depth)
    if cutter is not None:
        check_hole(table, cutter, diameter, depth, parts.blank.material)
    return Holes(at=tuple(places.at.values()), peck=peck, diameter=diameter)


def check_hole(table: Table, cutter: Cutter, diameter: float, depth: float, material: str) -> None:
    """Whether a cutter can make a hole of that width, in its form and its length."""
    if math.isnan(diameter):
        return
    bored = diameter > cutter.diameter + TOLERANCES.equal
    if bored and cutter.shape is Shape.DRILL:
        show = table.reading.show
        table.fault(
            "cutter",
            f"{quoted(cutter.name)} ({show(cutter.diameter)}) is a drill, which cannot cut "
            f"sideways: for holes of {show(diameter)} take a drill of that diameter, or a thinner "
            "flat cutter",
        )
    elif fits(table, cutter, SIDEWAYS if bored else (Shape.DRILL, Shape.FLAT), 'do = "drill"'):
        check_length(table, cutter, depth, depth + cutter.point_length)
        if not bored:
            warn_drill_speed(table, cutter, material)


def hole_diameter(table: Table, cutter: Cutter | None, width: float | None = None) -> float:
    """The diameter of holes: as said, else that of the drawing, else the cutter's."""
    show = table.reading.show
    if table.has("diameter"):
        diameter = table.length("diameter", SIZE)
        if width is not None and abs(width - diameter) > TOLERANCES.join:
            table.warn(
                "diameter",
                f"{show(diameter)} is not what the circles of the drawing are wide "
                f"({show(width)}): the holes are made {show(diameter)} wide",
            )
    elif cutter is None:
        return width or math.nan
    elif width is None or abs(width - cutter.diameter) <= TOLERANCES.join:
        return cutter.diameter
    else:
        diameter = width
    if cutter is not None and diameter < cutter.diameter - TOLERANCES.equal:
        table.fault(
            "diameter" if table.has("diameter") else "at",
            f"{show(diameter)} is narrower than the cutter {quoted(cutter.name)} "
            f"({show(cutter.diameter)}): take a thinner cutter",
        )
        return math.nan
    return diameter


def _check_twice(table: Table, places: dict[str, Point]) -> None:
    """No two holes at one place: the first that stands twice is told."""
    cells: dict[tuple[int, int], str] = {}
    for key, (x, y) in places.items():
        if math.isnan(x + y):
            continue
        column, row = (math.floor(value / TOLERANCES.join) for value in (x, y))
        near = (cells.get((column + i, row + j)) for i in (-1, 0, 1) for j in (-1, 0, 1))
        for other in near:
            if other is not None and math.dist(places[other], (x, y)) <= TOLERANCES.join:
                show = table.reading.show
                table.fault(
                    key,
                    f"stands where {other} does (x = {show(x)}, y = {show(y)}): leave one out",
                )
                return
        cells[column, row] = key


def _read_places(table: Table) -> _Places:
    if isinstance(table.values.get("at"), dict):
        return _pattern(table.table("at"))
    return _Places(at=read_points(table, "at", _FORM))


def read_points(table: Table, key: str, form: str) -> dict[str, Point]:
    """The points of an array under a key, each under its own key path."""
    raw = table.array(key, form)
    if not raw and table.values.get(key) == []:
        table.fault(key, "has no holes: give at least one [x, y]")
    found = {}
    for place, entry in enumerate(raw, start=1):
        x, y = table.as_lengths(f"{key}[{place}]", entry, "[x, y]", PLACE)
        found[f"{key}[{place}]"] = (x, y)
    return found


def _pattern(table: Table) -> _Places:
    """A row, a grid, a circle or the holes of a drawing."""
    kinds = [kind for kind in PATTERNS if table.has(kind)]
    if len(kinds) != 1:
        names = suggestion("", PATTERNS) if not kinds else f"holds {' and '.join(kinds)}"
        table.fault("", f"{'names no pattern: ' if not kinds else ''}{names}: give one of them")
        return _Places(at={})
    table.allow(PATTERNS[kinds[0]])
    if kinds[0] == "dxf":
        return _drawn(table)
    points = _grid(table) if kinds[0] == "from" else _circle(table)
    return _Places(at=_named(points))


def _named(points: list[Point]) -> dict[str, Point]:
    return {f"at: hole {place}": point for place, point in enumerate(points, start=1)}


def _grid(table: Table) -> list[Point]:
    """A row along the step, or rows along x, dx apart, that stand dy apart along y."""
    x, y = table.lengths("from", "[x, y]", PLACE)
    return [(x + dx, y + dy) for dx, dy in read_steps(table, "holes")]


def _circle(table: Table) -> list[Point]:
    """Holes spaced evenly on a circle, counter-clockwise from the first."""
    x, y = table.lengths("centre", "[x, y]", PLACE)
    radius = table.length("radius", SIZE)
    count = table.whole("count", (1, MAX_ENTRIES))
    first = table.degrees("first", TURN, FIRST)
    turns = [first + 2.0 * math.pi * i / count for i in range(count)]
    return [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def _drawn(table: Table) -> _Places:
    """The points and circles on one layer of a drawing."""
    file = named_file(table, "dxf", MAX_DRAWING_BYTES)
    layer = table.text("layer", "the layer that the holes are drawn on")
    unit = file_unit(table)
    if file is None or not layer or (table.has("unit") and unit is None):
        return _Places(at={})
    try:
        holes = read_dxf_holes(file, layer, unit=unit)
    except DrawingError as error:
        table.fault("dxf", str(error))
        return _Places(at={})
    if not 0 < len(holes) <= MAX_ENTRIES:
        table.fault(
            "layer", f"has {len(holes)} holes; from 1 to {MAX_ENTRIES} points or circles are read"
        )
        return _Places(at={})
    points = [(hole.x, hole.y) for hole in holes]
    return _Places(at=_named(points), width=_width(table, holes))


def _width(table: Table, holes: tuple[Hole, ...]) -> float | None:
    """The diameter on which all circles agree; None where there are none, or after a fault."""
    widths = [hole.diameter for hole in holes if hole.diameter is not None]
    if not widths:
        return None
    least, most, show = min(widths), max(widths), table.reading.show
    if most - least > TOLERANCES.join:
        table.fault(
            "layer",
            f"holds circles from {show(least)} to {show(most)} wide: a drill cut has one "
            "diameter, so put each on a layer and in a cut of its own",
        )
        return None
    return widths[0]
