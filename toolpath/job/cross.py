"""Checks between the parts of a job: cuts against the blank and the cutter, the grid against
the memory, names against names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from toolpath.drawing.outline import Err, Region
from toolpath.field.grid import Grid
from toolpath.job.limits import BYTES_PER_CELL, CELL, FIELDS, MAX_CELLS, available_memory
from toolpath.job.model import Blank, Cutter, Heights, Machine, Mesh, Piece, Prism, Solid
from toolpath.job.shapes import Drawn
from toolpath.job.table import Table
from toolpath.job.words import number_text, quoted
from toolpath.tolerances import TOLERANCES

ABSURD = 2.0
"""A mesh, prism or measured top larger than this many blanks from corner to corner is a fault: an
inch taken for a millimetre is 25 times off."""

DIAL_NEAR = 0.1
"""How far, as a share of a cutter's speed, the nearest step of the dial may be off."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """What a cut is checked against. `drawn` is the blank's outline, None after a fault."""

    blank: Blank
    drawn: Drawn | None
    machine: Machine
    cutters: dict[str, Cutter]


def check_names(tables: Iterable[Table], kind: str) -> None:
    """No two cutters, pieces or cuts of one name."""
    first: dict[str, int] = {}
    for place, table in enumerate(tables, start=1):
        name = table.values.get("name")
        if isinstance(name, str) and first.setdefault(name, place) != place:
            table.fault(
                "name", f"{quoted(name)} is the name of {kind}[{first[name]}] too: give another"
            )


def check_size(table: Table, group: tuple[Piece, ...], outline: Region) -> None:
    """A mesh, prism or measured top that is far larger than the blank cannot lie in it: its unit
    is wrong. `group` holds one piece as often as it is repeated.

    One that merely sticks out is a warning, and not made here.
    """
    side = _largest_side(group[0].solid) if group else 0.0
    blank = float(np.hypot(*np.ptp(outline.outer.points[:, :2], axis=0)))
    if side > ABSURD * blank:
        show, solid = table.reading.show, group[0].solid
        name = solid.file.name if isinstance(solid, Mesh | Heights) else "the prism"
        mend = "unit or scale" if isinstance(solid, Mesh) else "its size"
        table.fault(
            "solid",
            f"{name} is {show(side)} on its largest side, the blank only "
            f"{show(blank)} from corner to corner: mend {mend}",
        )


def _largest_side(solid: Solid) -> float:
    """The largest side of what was read from a file or drawn, mm; 0 for what is given in numbers,
    which cannot be in a wrong unit alone."""
    if isinstance(solid, Mesh | Heights):
        points = solid.vertices if isinstance(solid, Mesh) else solid.points
        return float(np.ptp(points, axis=0).max())
    if isinstance(solid, Prism):
        corners = [region.polygon(TOLERANCES.flatten, Err.OUTWARD) for region in solid.outline]
        x0, y0, x1, y1 = shapely.total_bounds(corners)
        return max(float(x1 - x0), float(y1 - y0), solid.height)
    return 0.0


def check_grid(table: Table, outline: Region, cell: float) -> None:
    """A height-field cell whose grid would not fit into memory is a fault of ``[check]``."""
    if math.isnan(cell):
        return
    x, y = outline.outer.points[:, 0], outline.outer.points[:, 1]
    low, high = (float(x.min()), float(y.min())), (float(x.max()), float(y.max()))
    count = Grid.over(low, high, cell).count
    per_cell = BYTES_PER_CELL * FIELDS
    room = min(available_memory() // per_cell, MAX_CELLS)
    if count <= room:
        return
    fits = _two_digits_up(cell * math.sqrt(count / max(room, 1)))
    show = table.reading.show
    mend = (
        f"a cell of {show(fits)} would fit"
        if fits <= CELL.high
        else f"no cell up to {show(CELL.high)} would fit: the blank is too large"
    )
    need, have = count * per_cell / 1e6, room * per_cell / 1e6
    table.fault(
        "cell",
        f"{show(cell)} over this blank makes {number_text(count / 1e6, 2)} million cells, which "
        f"would take {need:.0f} MB where {have:.0f} MB can be had: {mend}",
    )


def _two_digits_up(value: float) -> float:
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    return math.ceil(value / unit) * unit


def check_inside(table: Table, key: str, drawn: Drawn, parts: Parts) -> None:
    """A cut's outline must lie within the blank."""
    if parts.drawn is None:
        return
    past = overhang(drawn.inner, parts.drawn.outer)
    if past is not None:
        show = table.reading.show
        sides = _sides(_box(drawn.inner), _box(parts.drawn.outer))
        words = " and ".join(f"{show(far)} past the {side} edge" for side, far in sides)
        x, y, far = past
        place = f"{show(far)} past the edge (at x = {show(x)}, y = {show(y)})"
        table.fault(key, f"reaches {words or place} of the blank: move it or make it smaller")


def check_islands(table: Table, islands: tuple[Drawn, ...], drawn: Drawn) -> None:
    """Every island must share some area with its pocket; it may hang over the edge."""
    for place, island in enumerate(islands, start=1):
        if shapely.intersection(island.inner, drawn.inner).area == 0.0:
            far = table.reading.show(float(shapely.distance(island.inner, drawn.inner)))
            table.fault(
                f"islands[{place}]",
                f"lies {far} outside the outline of the cut: move it into it or leave it out",
            )


def overhang(area: shapely.Geometry, bound: shapely.Geometry) -> tuple[float, float, float] | None:
    """The point of an area that lies farthest outside another, and how far; None if none does."""
    if shapely.covers(bound, area):
        return None
    outside = shapely.difference(area, shapely.buffer(bound, TOLERANCES.inside_blank))
    if outside.is_empty:
        return None
    corners = shapely.get_coordinates(outside)
    distances = np.atleast_1d(shapely.distance(shapely.points(corners), bound))
    worst = int(np.argmax(distances))
    return float(corners[worst, 0]), float(corners[worst, 1]), float(distances[worst])


_Box = tuple[float, float, float, float]


def _box(area: shapely.Geometry) -> _Box:
    x0, y0, x1, y1 = shapely.bounds(area)
    return float(x0), float(y0), float(x1), float(y1)


def _sides(bounds: _Box, blank: _Box) -> list[tuple[str, float]]:
    """The sides of the blank's bounding box that an outline reaches past, and how far."""
    far = {
        "left": blank[0] - bounds[0],
        "lower": blank[1] - bounds[1],
        "right": bounds[2] - blank[2],
        "upper": bounds[3] - blank[3],
    }
    return [(side, over) for side, over in far.items() if over > TOLERANCES.inside_blank]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """What cutters must fit into: an outline without the islands that are left standing in it."""

    drawn: Drawn
    islands: tuple[Drawn, ...] = ()
    finish: float = 0.0
    """Left on the walls for one last pass, mm."""

    def areas(self) -> list[shapely.Geometry]:
        """The area of each region of the outline, never larger than the true one."""
        standing = shapely.union_all([island.outer for island in self.islands])
        return [
            shapely.difference(region.polygon(TOLERANCES.flatten, Err.INWARD), standing)
            for region in self.drawn.outline
        ]


def check_room(table: Table, opening: Opening, cutters: tuple[Cutter, ...]) -> None:
    """The smallest cutter must fit into each region of an outline, the others into one of them;
    what is left for the last pass must leave room for the smallest."""
    if any(math.isnan(cutter.diameter) for cutter in cutters):
        return
    areas, last = opening.areas(), cutters[-1]
    for place, area in enumerate(areas, start=1):
        where = "" if len(areas) == 1 else f" (part {place} of {len(areas)})"
        if shapely.is_empty(area):
            table.fault("islands", f"cover the whole outline{where}: nothing is left to cut")
        elif not _takes(area, last.radius):
            _fault_room(table, last, where, _widest(area))
        elif not _takes(area, last.radius + opening.finish):
            show, most = table.reading.show, (_widest(area) - last.diameter) / 2.0
            less = (
                f"leave less than {show(most)}, or"
                if most > TOLERANCES.join
                else "leave it out, or"
            )
            table.fault(
                "finish",
                f"{show(opening.finish)} on the walls leaves no room for {quoted(last.name)} "
                f"in the outline{where}: {less} take a thinner cutter",
            )
    open_areas = [area for area in areas if not shapely.is_empty(area)]
    for cutter in cutters[:-1] if open_areas else ():
        if not any(_takes(area, cutter.radius) for area in open_areas):
            _fault_room(table, cutter, "", max(_widest(area) for area in open_areas))


def _takes(area: shapely.Geometry, radius: float) -> bool:
    """Whether a disc fits into an area, which may be just as wide: a slot cut in one pass."""
    slack = 2.0 * TOLERANCES.flatten
    return not shapely.is_empty(shapely.buffer(area, slack - radius))


def _fault_room(table: Table, cutter: Cutter, where: str, widest: float) -> None:
    show = table.reading.show
    table.fault(
        "cutter",
        f"{quoted(cutter.name)} ({show(cutter.diameter)}) does not fit into the "
        f"outline{where}: it takes one of at most {show(widest)}",
    )


def _widest(area: shapely.Geometry) -> float:
    """Diameter of the largest disc inside an area, within a hundredth of a millimetre."""
    circles = [
        2.0 * float(shapely.maximum_inscribed_circle(part, tolerance=0.001).length)
        for part in shapely.get_parts(area)
        if part.geom_type == "Polygon"
    ]
    return round(max(circles, default=0.0), 2)


Point = tuple[float, float]


def check_points(table: Table, points: Mapping[str, Point], radius: float, parts: Parts) -> None:
    """Every hole of that radius, under the key that names it, must lie within the blank."""
    if parts.drawn is None:
        return
    show, blank = table.reading.show, parts.drawn.outer
    edge = shapely.boundary(blank)
    for key, (x, y) in points.items():
        if math.isnan(x + y):
            continue
        far = float(shapely.distance(blank, shapely.Point(x, y)))
        past = radius - float(shapely.distance(edge, shapely.Point(x, y)))
        if far > TOLERANCES.inside_blank:
            table.fault(
                key, f"x = {show(x)}, y = {show(y)} lies {show(far)} outside the blank: move it"
            )
        elif past > TOLERANCES.inside_blank:
            table.fault(
                key,
                f"the hole of {show(2.0 * radius)} at x = {show(x)}, y = {show(y)} reaches "
                f"{show(past)} past the edge of the blank: move it",
            )


def check_length(
    table: Table, cutter: Cutter, depth: float, tip: float, *, key: str = "cutter"
) -> None:
    """Reach, flutes and neck against the depth of a cut; `tip` is how deep the tip goes.

    The whole depth counts, even where what lies above was cut before or is wider.
    """
    show, equal, neck = table.reading.show, TOLERANCES.equal, cutter.neck
    down = f"the {show(tip)} that this cut goes down"
    if tip > depth:
        down += f" (its point takes {show(tip - depth)} of it)"
    name = quoted(cutter.name)
    if cutter.reach + equal < tip:
        table.fault(
            key,
            f"{name} reaches {show(cutter.reach)}, less than {down}: "
            "let it stick out more or take a longer one",
        )
        return
    thick = cutter.diameter - equal
    behind, width = ("shank", cutter.shank) if neck is None else ("neck", neck.diameter)
    if cutter.flute_length + equal < tip and width > thick:
        table.fault(
            key,
            f"{name} has flutes of {show(cutter.flute_length)}, less than {down}, and its {behind} "
            f"is no thinner than they are: take longer flutes or a thinner {behind}",
        )
    elif cutter.shank_from + equal < tip and cutter.shank > thick:
        table.fault(
            key,
            f"{name} has a neck that ends {show(cutter.shank_from)} above its tip, less than "
            f"{down}, and its shank is no thinner than the flutes: take a longer neck or a thinner "
            "shank",
        )


def warn_dial(table: Table, cutter: Cutter, machine: Machine) -> None:
    """Warn of a speed that no step of the machine's dial comes near."""
    if not machine.dial or math.isnan(cutter.rpm) or any(map(math.isnan, machine.dial)):
        return
    step = min(range(len(machine.dial)), key=lambda i: abs(machine.dial[i] - cutter.rpm))
    speed = machine.dial[step]
    if abs(speed - cutter.rpm) > DIAL_NEAR * cutter.rpm:
        table.warn(
            "rpm",
            f"{number_text(cutter.rpm)} rev/min is more than {100 * DIAL_NEAR:.0f} % off every "
            f"step of the dial: the nearest is step {step + 1} with {number_text(speed)} rev/min, "
            "so set rpm to it and feed in proportion",
        )
