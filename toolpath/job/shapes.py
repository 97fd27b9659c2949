"""Shapes of a job file (rect, circle, polygon, slot, dxf, svg) turned into outlines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.drawing.dxf import read_dxf
from toolpath.drawing.outline import Err, Outline, Region
from toolpath.drawing.shapes import circle, polygon, rect, slot
from toolpath.drawing.svg import read_svg
from toolpath.errors import DrawingError
from toolpath.job.files import file_unit, named_file
from toolpath.job.keys import SHAPES
from toolpath.job.limits import GAP, MAX_DRAWING_BYTES, PLACE, SIZE
from toolpath.job.table import Table
from toolpath.job.words import suggestion
from toolpath.tolerances import TOLERANCES

_FORM = "a shape, such as { rect = [0, 0, 100, 50] }"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """An outline as it was drawn, with its areas flattened on either side.

    `inner` never reaches past the true outline, `outer` never stays within it.
    """

    outline: Outline
    inner: shapely.Geometry
    outer: shapely.Geometry


def read_shape(table: Table, key: str) -> Drawn | None:
    """The shape under a key; None after a fault."""
    raw = table.values.get(key)
    if raw is None:
        if not table.void:
            table.fault(key, f"missing: give {_FORM}")
        return None
    return shape_of(table.view(table.path(key), raw, _FORM))


def read_shapes(table: Table, key: str) -> tuple[Drawn, ...] | None:
    """The shapes of an array that may be absent; None where one of them is faulty."""
    entries = table.array(key, "an array of shapes", optional=True)
    views = [
        table.view(table.path(f"{key}[{place}]"), entry, _FORM)
        for place, entry in enumerate(entries, start=1)
    ]
    shapes = [shape_of(view) for view in views]
    drawn = tuple(shape for shape in shapes if shape is not None)
    return drawn if len(drawn) == len(shapes) else None


def shape_of(table: Table) -> Drawn | None:
    """The outline of one shape table; None after a fault."""
    if table.void:
        return None
    kinds = [kind for kind in SHAPES if table.has(kind)]
    if len(kinds) != 1:
        _fault_kinds(table, kinds)
        return None
    kind = kinds[0]
    table.allow(SHAPES[kind])
    try:
        outline = _READERS[kind](table)
        return None if outline is None else _drawn(outline)
    except DrawingError as error:
        table.fault(kind, str(error))
    except ValueError:
        table.fault(kind, "is too small or too thin to have an inside: draw it larger")
    return None


def _fault_kinds(table: Table, kinds: list[str]) -> None:
    if kinds:
        table.fault("", f"holds {' and '.join(kinds)}: one shape at a time")
        return
    foreign = [key for key in table.values if all(key not in keys.now for keys in SHAPES.values())]
    hint = suggestion(foreign[0], SHAPES) if foreign else f"known are {', '.join(SHAPES)}"
    table.fault("", f"names no shape: {hint}")


def _drawn(outline: Outline) -> Drawn:
    """Flatten the outline on both sides and make sure that it is sound."""
    for region in outline:
        flat = region.polygon(TOLERANCES.flatten, Err.INWARD)
        if not flat.is_valid:
            reason = shapely.is_valid_reason(flat)
            raise DrawingError(f"the outline crosses or touches itself ({reason}): redraw it")
    areas = [
        shapely.union_all([region.polygon(TOLERANCES.flatten, err) for region in outline])
        for err in (Err.INWARD, Err.OUTWARD)
    ]
    return Drawn(outline=outline, inner=areas[0], outer=areas[1])


def drawn_polygon(corners: NDArray[np.float64]) -> Drawn:
    """The polygon through corners (n, 2)."""
    return _drawn((polygon([(float(x), float(y)) for x, y in corners]),))


def _good(*values: float) -> bool:
    """Whether no value is the stand-in of a fault."""
    return not any(math.isnan(value) for value in values)


def _one(make: Callable[..., Region], *values: float) -> Outline | None:
    return (make(*values),) if _good(*values) else None


def _rect(table: Table) -> Outline | None:
    x0, y0, x1, y1 = table.lengths("rect", "[x0, y0, x1, y1]", PLACE)
    corner = table.length("corner", GAP, 0.0)
    if x1 <= x0 or y1 <= y0:
        table.fault("rect", "has no area: give [x0, y0, x1, y1] with x0 < x1 and y0 < y1")
        return None
    return _one(rect, x0, y0, x1, y1, corner)


def _circle(table: Table) -> Outline | None:
    x, y, radius = table.lengths("circle", "[x, y, radius]", PLACE)
    return _one(circle, x, y, _size(table, "circle[3]", radius))


def _slot(table: Table) -> Outline | None:
    *ends, width = table.lengths("slot", "[x0, y0, x1, y1, width]", PLACE)
    return _one(slot, *ends, _size(table, "slot[5]", width))


def _size(table: Table, key: str, value: float) -> float:
    """A size that was read as one of an array of coordinates."""
    breach = SIZE.breach(value)
    if breach is None:
        return value
    show = table.reading.show
    table.fault(key, f"{show(value)} {breach[0]} {show(breach[1])}")
    return math.nan


def _polygon(table: Table) -> Outline | None:
    raw = table.array("polygon", "[[x, y], …]")
    corners = [
        table.as_lengths(f"polygon[{place}]", entry, "[x, y]", PLACE)
        for place, entry in enumerate(raw, start=1)
    ]
    if isinstance(table.values["polygon"], list) and not raw:
        table.fault("polygon", "has no corners: give at least three [x, y]")
    good = bool(corners) and all(_good(*corner) for corner in corners)
    return (polygon([(x, y) for x, y in corners]),) if good else None


def _dxf(table: Table) -> Outline | None:
    file = named_file(table, "dxf", MAX_DRAWING_BYTES)
    layer = table.text("layer", "the layer that the outline is drawn on")
    unit = file_unit(table)
    join = table.length("join", SIZE, TOLERANCES.join)
    said_wrongly = table.has("unit") and unit is None
    if file is None or not layer or said_wrongly or not _good(join):
        return None
    outline = read_dxf(file, layer, unit=unit, join=join)
    if not outline:
        raise DrawingError(f"no closed outline on layer {layer}")
    return outline


def _svg(table: Table) -> Outline | None:
    file = named_file(table, "svg", MAX_DRAWING_BYTES)
    name = table.text("id", "the id of a shape or group in the drawing")
    join = table.length("join", SIZE, TOLERANCES.join)
    if file is None or not name or not _good(join):
        return None
    return read_svg(file, name, join=join)


_READERS: dict[str, Callable[[Table], Outline | None]] = {
    "rect": _rect,
    "circle": _circle,
    "polygon": _polygon,
    "slot": _slot,
    "dxf": _dxf,
    "svg": _svg,
}
