"""Places and widths of holes, from the points and circles on one layer of a DXF drawing.

Frame: the drawing's model space seen from above, x right and y up, scaled to millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from toolpath.drawing.dxf import (
    FARTHEST,
    Item,
    check_flat,
    mapped_on,
    missing_message,
    mm_per_unit,
    on_layer,
    open_drawing,
    place_of,
    plane_frame,
    to_world,
    walk,
)
from toolpath.drawing.outline import FloatArray
from toolpath.drawing.shapes import show_point
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

_SIMILAR = 1e-6  # relative; a circle stretched by less is round: 0.01 mm on ten metres


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A hole at x, y, mm; `diameter` is that of its circle, None where a point marks it."""

    x: float
    y: float
    diameter: float | None = None


def read_dxf_holes(path: Path, layer: str, *, unit: float | None) -> tuple[Hole, ...]:
    """The holes that points and circles mark on one layer, in the order of the file.

    What stands twice at one place within `Tolerances.join` counts once: the same circle drawn
    again, or a point that marks the middle of a circle.

    Parameters
    ----------
    path : Path
        The drawing, text or binary DXF; blocks are taken apart as for outlines.
    layer : str
        Compared without regard to capitals.
    unit : float or None
        Millimetres per drawing unit; None takes it from `$INSUNITS`.

    Raises
    ------
    DrawingError
        The file cannot be read as DXF, has no unit, no such layer, or the layer holds anything
        but points and flat, round circles, or two circles of different widths at one place.
    """
    drawing = open_drawing(path)
    try:
        per_unit = mm_per_unit(drawing, unit)
        found = [item for item in walk(drawing) if on_layer(item, layer)]
        if not found:
            raise DrawingError(missing_message(drawing, layer, walk(drawing)))
        world = np.diag([per_unit, per_unit, per_unit, 1.0])
        return _distinct([_hole(item, world) for item in found])
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error


def _hole(item: Item, world: FloatArray) -> Hole:
    """The hole of one entity; messages get its kind, layer and place."""
    placed = mapped_on(item.placed, world)
    kind = item.entity.dxftype()
    try:
        with np.errstate(all="ignore"):  # what overflows is refused below
            if kind == "POINT":
                return _at(to_world(item.entity, item.entity.dxf.location, placed))
            if kind == "CIRCLE":
                return _round(item, placed)
        raise DrawingError("holes are drawn as points and circles; move it to another layer")
    except Exception as error:  # DrawingError, or an attribute that a broken file left out
        reason = str(error) if isinstance(error, DrawingError) else f"it is broken ({error})"
        raise DrawingError(
            f'layer "{item.layer}": the {kind} {place_of(item.entity, placed)}marks no hole: '
            f"{reason}"
        ) from error


def _at(place: FloatArray, diameter: float | None = None) -> Hole:
    x, y = float(place[0]), float(place[1])
    if not (abs(x) < FARTHEST and abs(y) < FARTHEST):
        raise DrawingError("it lies too far off or nowhere: check the unit of the drawing")
    return Hole(x=x, y=y, diameter=diameter)


def _round(item: Item, placed: FloatArray) -> Hole:
    """The hole of a circle, which must still be round and flat where its block puts it."""
    entity, ocs = item.entity, item.entity.ocs()
    radius = abs(float(entity.dxf.radius))
    centre = ocs.to_wcs(entity.dxf.center)
    total = plane_frame([ocs.ux * radius, ocs.uy * radius, ocs.uz, centre]) @ placed
    if not np.isfinite(total).all():
        raise DrawingError("it holds a number that is not finite")
    check_flat(2.0 * float(np.hypot(total[0, 2], total[1, 2])))
    longest, shortest = np.linalg.svd(total[:2, :2], compute_uv=False)
    if longest - shortest > _SIMILAR * longest:
        raise DrawingError(
            f"it is stretched to {show_mm(2.0 * longest)} by {show_mm(2.0 * shortest)}: give its "
            "block the same scale along x and y"
        )
    if not TOLERANCES.equal < longest < FARTHEST:
        raise DrawingError(f"it is {show_mm(2.0 * longest)} wide: check the unit of the drawing")
    return _at(total[3, :2], 2.0 * math.sqrt(longest * shortest))


def _distinct(holes: Sequence[Hole]) -> tuple[Hole, ...]:
    """The holes without repeats at one place."""
    from scipy.spatial import cKDTree

    tree = cKDTree([(hole.x, hole.y) for hole in holes])
    dropped: set[int] = set()
    for i, j in sorted(tree.query_pairs(TOLERANCES.join)):
        if i in dropped or j in dropped:
            continue
        dropped.add(_spare(holes, i, j))
    return tuple(hole for place, hole in enumerate(holes) if place not in dropped)


def _spare(holes: Sequence[Hole], first: int, second: int) -> int:
    """Which of two holes at one place to leave out."""
    a, b = holes[first].diameter, holes[second].diameter
    if a is not None and b is not None and abs(a - b) > TOLERANCES.join:
        raise DrawingError(
            f"two circles stand at {show_point(holes[first].x, holes[first].y)}, {show_mm(a)} and "
            f"{show_mm(b)} wide: keep one on this layer"
        )
    return first if a is None else second
