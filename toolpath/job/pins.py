"""Register pins for turning over: two holes on the turning line, and an odd mark beside one.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString

from toolpath.drawing.outline import Err, area_of
from toolpath.job.cross import Parts, Point, check_points
from toolpath.job.holes import check_hole, hole_diameter, read_points
from toolpath.job.keys import PINS as KEYS
from toolpath.job.limits import GAP, PLACE, SIZE
from toolpath.job.model import (
    MARK,
    PINS,
    Clamp,
    Cut,
    Cutter,
    Drill,
    Pins,
    Pocket,
    Profile,
    ProfileSide,
    Relief,
    Shape,
    Skim,
    TurnOver,
)
from toolpath.job.table import Table
from toolpath.job.tools import read_named
from toolpath.job.words import quoted
from toolpath.tolerances import TOLERANCES

BOARD = 8.0
"""How deep pins go into the spoilboard unless the job says, mm."""
INSET = 10.0
"""From the edge of the blank to the middle of a pin unless the job says, mm."""
BESIDE = 3.0
"""Diameters from the turning line to the odd mark unless the job says."""
MARK_DEPTH = 2.0
"""What is left of it once its face is skimmed, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What pins must keep away from: the cuts and clamps of the job, by a clearance."""

    cuts: tuple[Cut, ...]
    clamps: tuple[Clamp, ...]
    clearance: float
    whole: bool = True
    """Whether these are all cuts: none was left out for a fault of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """The turning line of a blank: `across` is the axis (0 x, 1 y) on which it has a `level`."""

    across: int
    level: float

    def at(self, along: float, off: float = 0.0) -> Point:
        """A point along the line, `off` to its side."""
        level = self.level + off
        return (level, along) if self.across == 0 else (along, level)

    @property
    def words(self) -> str:
        """The axis on which the line has its level."""
        return "xy"[self.across]


def read_pins(table: Table, around: Around, parts: Parts) -> tuple[Pins, tuple[Cut, ...]] | None:
    """``[pins]``, with the two drill cuts that make them; None where there are none, or after a
    fault. They belong before all cuts of the file, on the face of its first."""
    if table.void:
        return None
    table.allow(KEYS)
    cutter = read_named(table, "cutter", parts.cutters)
    diameter = hole_diameter(table, cutter)
    board = table.length("board", GAP, BOARD)
    inset = table.length("inset", SIZE, INSET)
    if table.has("at") and table.has("inset"):
        table.fault("inset", "given together with at: leave one of them out")
    _check_faces(table, around)
    depth = parts.blank.thickness + parts.blank.thickness_within + board
    if cutter is not None:
        check_hole(table, cutter, diameter, depth, parts.blank.material)
    line = None if parts.drawn is None else _line_of(parts)
    if line is None:
        return None
    at = _places(table, line, inset, parts)
    mark = _mark(table, line, at, diameter)
    if at is None or mark is None or cutter is None or math.isnan(diameter):
        return None
    pins = Pins(diameter=diameter, at=at, mark=mark)
    _check_places(table, pins, around, parts)
    return pins, _drills(pins, cutter, depth, around.cuts)


def _check_faces(table: Table, around: Around) -> None:
    if around.whole and len({cut.face for cut in around.cuts}) == 1:
        table.fault("", "pins need a second face: all cuts are made from one, so leave [pins] out")
    for cut in around.cuts:
        if cut.name in (PINS, MARK):
            table.fault("", f"{quoted(cut.name)} is the name of a cut of the job: rename that cut")


def _line_of(parts: Parts) -> _Line:
    """The middle of the blank's box, along which it keeps its place when it is turned over."""
    x0, y0, x1, y1 = parts.blank.outline.polygon(TOLERANCES.flatten, Err.INWARD).bounds
    if parts.blank.turn_over is TurnOver.LEFT_RIGHT:
        return _Line(across=0, level=(x0 + x1) / 2.0)
    return _Line(across=1, level=(y0 + y1) / 2.0)


def _places(table: Table, line: _Line, inset: float, parts: Parts) -> tuple[Point, Point] | None:
    if not table.has("at"):
        return _inset_places(table, line, inset, parts)
    points = read_points(table, "at", "both pins, [[x, y], [x, y]]")
    if len(points) != 2:
        if points:
            table.fault("at", f"has {len(points)} pins: give two, at the far ends of the blank")
        return None
    show = table.reading.show
    for key, point in points.items():
        off = abs(point[line.across] - line.level)
        if off > TOLERANCES.join:
            table.fault(
                key,
                f"lies {show(off)} off the turning line, {line.words} = {show(line.level)}: "
                "put it on the line, or it will not meet its hole after turning over",
            )
    first, second = points.values()
    return None if math.isnan(sum((*first, *second))) else (first, second)


def _inset_places(
    table: Table, line: _Line, inset: float, parts: Parts
) -> tuple[Point, Point] | None:
    """Both ends of the turning line within the blank, moved in by the inset."""
    if math.isnan(inset):
        return None
    area = parts.blank.outline.polygon(TOLERANCES.flatten, Err.INWARD)
    x0, y0, x1, y1 = area.bounds
    reach = LineString([line.at(min(x0, y0) - 1.0), line.at(max(x1, y1) + 1.0)])
    ends = shapely.bounds(shapely.intersection(area, reach))
    along = 1 - line.across
    low, high = float(ends[along]) + inset, float(ends[along + 2]) - inset
    if not low < high:
        show = table.reading.show
        table.fault(
            "inset", f"{show(inset)} from both edges leaves no line between the pins: give less"
        )
        return None
    return line.at(low), line.at(high)


def _mark(
    table: Table, line: _Line, at: tuple[Point, Point] | None, diameter: float
) -> Point | None:
    """The odd mark: as said, which must be off the line, or beside the first pin."""
    if not table.has("mark"):
        return None if at is None else line.at(at[0][1 - line.across], -BESIDE * diameter)
    x, y = table.lengths("mark", "[x, y]", PLACE)
    off, show = abs((x, y)[line.across] - line.level), table.reading.show
    if off < diameter:
        table.fault(
            "mark",
            f"lies {show(off)} from the turning line, {line.words} = {show(line.level)}, where it "
            f"shows no wrong turn: put it at least {show(diameter)} off",
        )
    return None if math.isnan(x + y) else (x, y)


def _check_places(table: Table, pins: Pins, around: Around, parts: Parts) -> None:
    """Pins and mark must lie in the blank, apart, and outside what is cut, kept or clamped."""
    given = table.has("at")
    keys = ("at[1]", "at[2]") if given else ("inset", "inset")
    radius, show = pins.diameter / 2.0, table.reading.show
    if math.dist(*pins.at) < 2.0 * pins.diameter:
        table.fault(keys[1], f"both pins are {show(math.dist(*pins.at))} apart: that is no line")
    told = set()
    for key, (x, y) in zip((*keys, "mark"), (*pins.at, pins.mark), strict=True):
        check_points(table, {key: (x, y)}, radius, parts)
        spot = shapely.Point(x, y)
        for what, area in _kept_free(around):
            far = float(shapely.distance(area, spot))
            if far >= radius + around.clearance or (key, what) in told:
                continue
            told.add((key, what))
            table.fault(
                key,
                f"the hole at x = {show(x)}, y = {show(y)} lies in or too near {what}: its middle "
                f"needs {show(radius + around.clearance)}, and has {show(far)}; move it",
            )


def _kept_free(around: Around) -> Iterator[tuple[str, shapely.Geometry]]:
    """Where no pin may stand, with its name: cuts on either face but skims, which pins may stand
    in, and clamps of the first."""
    for cut in around.cuts:
        if not isinstance(cut, Skim):
            yield f"the cut {quoted(cut.name)}", _area_of_cut(cut)
    for clamp in around.clamps:
        if around.cuts and clamp.face is around.cuts[0].face:
            yield clamp.name, area_of(clamp.outline, TOLERANCES.flatten, Err.OUTWARD)


def _area_of_cut(cut: Drill | Pocket | Profile | Relief) -> shapely.Geometry:
    """What a cut takes, and for an outer or inner profile what it frees."""
    if isinstance(cut, Drill):
        return shapely.buffer(shapely.MultiPoint(cut.at), cut.diameter / 2.0)
    area = area_of(cut.outline, TOLERANCES.flatten, Err.OUTWARD)
    if isinstance(cut, Pocket):
        if cut.ledge is None:
            return area
        ledge = area_of(cut.ledge.outline, TOLERANCES.flatten, Err.OUTWARD)
        return shapely.union_all([area, ledge])
    return area if isinstance(cut, Relief) else _area_of_profile(cut, area)


def _area_of_profile(cut: Profile, area: shapely.Geometry) -> shapely.Geometry:
    if cut.side is ProfileSide.OUTER:
        return shapely.buffer(area, cut.cutter.diameter)
    if cut.side is ProfileSide.INNER:
        return area
    return shapely.buffer(shapely.boundary(area), _half_width(cut))


def _half_width(cut: Profile) -> float:
    """Half the width at the face of a groove along an outline."""
    cutter = cut.cutter
    if cutter.shape is not Shape.VEE:
        return cutter.radius
    return min(cutter.radius, cutter.tip_diameter / 2.0 + cut.depth * math.tan(cutter.angle / 2.0))


def _drills(pins: Pins, cutter: Cutter, depth: float, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """The cuts that make pins and mark, on the face that is cut first."""
    if not cuts:
        return ()
    face, peck = cuts[0].face, pins.diameter
    skimmed = sum(cut.depth for cut in cuts if isinstance(cut, Skim) and cut.face is face)
    holes = Drill(
        name=PINS,
        face=face,
        cutter=cutter,
        depth=depth,
        through=True,
        at=pins.at,
        peck=peck,
        diameter=pins.diameter,
        pins=True,
    )
    mark = Drill(
        name=MARK,
        face=face,
        cutter=cutter,
        depth=MARK_DEPTH + skimmed,
        at=(pins.mark,),
        peck=peck,
        diameter=pins.diameter,
    )
    return holes, mark
