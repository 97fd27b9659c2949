"""Outlines from DXF drawings.

Frame: the drawing's model space seen from above, x right and y up, scaled to millimetres; paper
space is ignored. What stands on the layer is read through blocks, however nested, turned, mirrored
or stretched. Lines, arcs and bulges stay what they are; ellipses and splines become chords within
`Tolerances.flatten` (see `toolpath.drawing.curves` for the side).
"""

from __future__ import annotations

import codecs
import difflib
import io
import logging
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from toolpath.drawing.chain import chain
from toolpath.drawing.curves import Run, mapped, spline, turn_path
from toolpath.drawing.dxf_sections import require_single_sections
from toolpath.drawing.losses import refusing_losses
from toolpath.drawing.outline import FloatArray, Outline
from toolpath.drawing.shapes import show_point
from toolpath.errors import DrawingError
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

INSUNITS_MM: dict[int, float] = {
    1: 25.4,
    2: 304.8,
    3: 1_609_344.0,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    7: 1e6,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    11: 1e-7,
    12: 1e-6,
    13: 1e-3,
    14: 100.0,
    15: 1e4,
    16: 1e5,
    17: 1e12,
    18: 149_597_870_700e3,
    19: 9_460_730_472_580_800e3,
    20: 149_597_870_700e3 * 648_000.0 / math.pi,
    21: 1_200_000.0 / 3937.0,
    22: 100_000.0 / 3937.0,
    23: 3_600_000.0 / 3937.0,
    24: 5280.0 * 1_200_000.0 / 3937.0,
}
"""Millimetres per drawing unit by `$INSUNITS`, as the format's owner lists them; 0 is no unit.

1 inch, 2 foot, 3 mile, 4 mm, 5 cm, 6 m, 7 km, 8 microinch, 9 mil, 10 yard, 11 angstrom, 12 nm,
13 micron, 14 dm, 15 dam, 16 hm, 17 Gm, 18 astronomical unit, 19 light year, 20 parsec, 21 to 24
US survey foot, inch, yard and mile (1200/3937 m to the foot).
"""

_MOST_BYTES = 100_000_000
_KEPT_BYTES = 2_000_000
"""A drawing up to this size is kept as parsed for the next layer that is asked of it."""
_MOST_ENTITIES = 100_000
_DEEPEST = 40  # blocks within blocks; a block that holds itself never ends
FARTHEST = 1e9
"""mm; beyond it float64 no longer tells 1e-6 mm, a ten-thousandth of join."""
_IGNORED = ("VIEWPORT",)
_LOSS = re.compile("ignored by|ignoring content|Ignoring (invalid )?BLOCK")
"""What the library logs where it passes over part of a drawing."""


def read_dxf(path: Path, layer: str, *, unit: float | None, join: float) -> Outline:
    """Read the closed outlines on one layer of a DXF drawing.

    Parameters
    ----------
    path : Path
        The drawing, text or binary DXF.
    layer : str
        Compared without regard to capitals. Entities on layer 0 of a block count as on the layer
        on which the block is inserted.
    unit : float or None
        Millimetres per drawing unit; None takes it from `$INSUNITS`.
    join : float
        Ends nearer than this, mm, are one point.

    Returns
    -------
    Outline
        Regions in mm; loops within loops are holes. Chords of ellipses and splines and joined
        gaps may lie off by `Loop.error`, for which `Loop.flatten` makes up on the safe side.

    Raises
    ------
    DrawingError
        The file cannot be read as DXF, has no unit, no such layer, or the layer holds anything
        but flat lines, arcs, circles, ellipses, splines, polylines and blocks of them, or they do
        not close. Points are ignored, hidden entities too.
    """
    drawing = open_drawing(path)
    try:
        per_unit = mm_per_unit(drawing, unit)
        found = [item for item in _outlines(drawing) if on_layer(item, layer)]
        if not found:
            raise DrawingError(missing_message(drawing, layer, _outlines(drawing)))
        world = np.diag([per_unit, per_unit, per_unit, 1.0])
        runs = [run for item in found for run in _runs(item, world)]
        outline = chain(runs, join, f'layer "{layer}"')
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error
    if not outline:
        raise DrawingError(
            f'{path.name}: layer "{layer}" holds no outline: draw a closed shape on it'
        )
    return outline


def layers(path: Path) -> tuple[str, ...]:
    """The layers on which something stands in model space, blocks looked into, sorted.

    Raises
    ------
    DrawingError
        The file cannot be read as DXF.
    """
    drawing = open_drawing(path)
    try:
        return _used_layers(_outlines(drawing))
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error


# ---- the file --------------------------------------------------------------------------------


def open_drawing(path: Path) -> Any:
    """The parsed drawing; DrawingError for whatever the library makes of a broken file."""
    log = logging.getLogger("ezdxf")
    log.setLevel(logging.ERROR)  # while it is loaded, of folders for its fonts
    import ezdxf  # noqa: F401

    log.setLevel(logging.NOTSET)
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise DrawingError(
                f"{size / 1e6:.0f} MB is more than the {_MOST_BYTES / 1e6:.0f} MB "
                "that are read: save the outlines alone"
            )
        if size > _KEPT_BYTES:
            return _parsed(path)
        return _kept(path, path.read_bytes())
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {error}") from error
    except FileNotFoundError as error:
        raise DrawingError(f"{path.name}: there is no such file: check its name") from error
    except Exception as error:  # a parser fed with a broken file may raise anything
        reason = str(error).removeprefix(f"{type(error).__name__}: ")[:120]
        raise DrawingError(
            f"{path.name}: cannot be read as DXF ({reason or type(error).__name__}): it is cut "
            "short, broken or another kind of file; save the drawing as DXF again"
        ) from error


@lru_cache(maxsize=1)
def _kept(path: Path, content: bytes) -> Any:
    """The drawing in a file that holds this; nothing that reads it changes it."""
    return _parsed(path)


def _parsed(path: Path) -> Any:
    import ezdxf

    require_single_sections(path)
    with path.open("rb") as file:
        marked = file.read(len(codecs.BOM_UTF8)) == codecs.BOM_UTF8
    with refusing_losses("ezdxf", _LOSS):
        if not marked:
            return ezdxf.readfile(path)
        return ezdxf.read(io.StringIO(path.read_text(encoding="utf-8-sig")))


def mm_per_unit(drawing: Any, unit: float | None) -> float:
    """Millimetres per drawing unit."""
    if unit is not None:
        if not (math.isfinite(unit) and unit > 0.0):
            raise DrawingError(f"unit must be more than 0 mm per drawing unit, not {unit}")
        return unit
    code = drawing.header.get("$INSUNITS", 0)
    if code not in INSUNITS_MM:
        said = "does not say its unit" if code in (0, None) else f"has an unknown unit ({code})"
        raise DrawingError(
            f'the drawing {said} ($INSUNITS): say unit = "mm" or unit = "in" beside it in the job'
        )
    return INSUNITS_MM[code]


def missing_message(drawing: Any, layer: str, items: Iterable[Item]) -> str:
    """Why nothing was found on a layer, with the layers of what could have been."""
    known = [entry.dxf.name for entry in drawing.layers]
    used = _used_layers(items)
    if layer.casefold() in {name.casefold() for name in known}:
        start = f'nothing is drawn on layer "{layer}"'
    else:
        start = f'there is no layer "{layer}"'
    if not used:
        return f"{start}, nor on any other: draw the outline in model space"
    lowered = {name.casefold(): name for name in used}
    nearest = difflib.get_close_matches(layer.casefold(), lowered, n=1, cutoff=0.5)
    hint = f'; did you mean "{lowered[nearest[0]]}"?' if nearest else ""
    names = ", ".join(f'"{name}"' for name in used[:30])
    return f"{start}; layers with something on them: {names}{hint}"


def _used_layers(items: Iterable[Item]) -> tuple[str, ...]:
    names = {item.layer.casefold(): item.layer for item in items}
    return tuple(sorted(names.values(), key=str.casefold))


# ---- blocks ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Item:
    """An entity as it stands in model space: its layer there and the map that brings it there,
    (4, 4) for row vectors, drawing units."""

    entity: Any
    layer: str
    placed: FloatArray = field(repr=False)


def walk(drawing: Any) -> Iterator[Item]:
    """Every visible entity of model space with its blocks taken apart, points too."""
    try:
        for count, item in enumerate(_within(drawing.modelspace(), "0", np.eye(4), 0)):
            if count >= _MOST_ENTITIES:
                raise DrawingError(
                    f"there are more than {_MOST_ENTITIES} entities with all blocks taken apart: "
                    "save the outlines alone"
                )
            yield item
    except DrawingError:
        raise
    except Exception as error:  # a broken insert
        raise DrawingError(f"it is broken ({error}): save the drawing as DXF again") from error


def on_layer(item: Item, layer: str) -> bool:
    """Whether an entity stands on a layer; names differ in capitals only by accident."""
    return item.layer.casefold() == layer.casefold()


def _outlines(drawing: Any) -> Iterator[Item]:
    """What may be part of an outline: all but points."""
    return (item for item in walk(drawing) if item.entity.dxftype() != "POINT")


def _within(
    entities: Iterable[Any], outer_layer: str, placed: FloatArray, depth: int
) -> Iterator[Item]:
    for entity in entities:
        kind = entity.dxftype()
        known = entity.dxf.is_supported("invisible")
        if (known and entity.dxf.invisible) or kind in _IGNORED or (depth and kind == "ATTDEF"):
            continue
        own = _layer_of(entity)
        layer = outer_layer if own == "0" else own
        block = entity.block() if kind == "INSERT" else None
        if block is None or block.block.is_xref:
            yield Item(entity=entity, layer=layer, placed=placed)
            continue
        if depth >= _DEEPEST:
            raise DrawingError(
                f'block "{entity.dxf.name}" lies more than {_DEEPEST} blocks deep, or holds '
                "itself: take it apart in the drawing"
            )
        for single in _copies(entity):
            matrix = np.array(list(single.matrix44())).reshape(4, 4)
            yield from _within(block, layer, mapped_on(matrix, placed), depth + 1)
        yield from _within(entity.attribs, layer, placed, depth)


def mapped_on(one: FloatArray, other: FloatArray) -> FloatArray:
    """Two maps, one after the other; what overflows is refused where it is used."""
    with np.errstate(all="ignore"):
        return np.asarray(one @ other, dtype=np.float64)


def _layer_of(entity: Any) -> str:
    """The layer an entity is drawn on, group code 8; of kinds the library does not know too."""
    if entity.dxf.is_supported("layer"):
        return str(entity.dxf.layer)
    classes = entity.xtags.subclasses if hasattr(entity, "xtags") else ()
    return next((str(tags.get_first_value(8)) for tags in classes if tags.has_tag(8)), "0")


def _copies(insert: Any) -> Iterator[Any]:
    """The inserts of an array of rows and columns, one by one."""
    if insert.mcount > _MOST_ENTITIES:
        raise DrawingError(
            f'block "{insert.dxf.name}" stands in an array of {insert.mcount}: more than '
            f"{_MOST_ENTITIES} entities are not read"
        )
    yield from insert.multi_insert() if insert.mcount > 1 else (insert,)


# ---- entities --------------------------------------------------------------------------------


def _runs(item: Item, world: FloatArray) -> list[Run]:
    """The runs of one entity in mm; messages get its kind, layer and place."""
    placed = mapped_on(item.placed, world)
    try:
        with np.errstate(all="ignore"):  # what overflows is refused below
            runs = list(_converted(item.entity, placed))
        for run in runs:
            _check_near(run)
        return runs
    except Exception as error:  # DrawingError, or an attribute that a broken file left out
        reason = str(error) if isinstance(error, DrawingError) else f"it is broken ({error})"
        kind = item.entity.dxftype()
        raise DrawingError(
            f'layer "{item.layer}": the {kind} {place_of(item.entity, placed)}cannot be part of an '
            f"outline: {reason}"
        ) from error


def _check_near(run: Run) -> None:
    if not (np.abs(run.points) < FARTHEST).all():
        raise DrawingError(
            f"it reaches beyond {FARTHEST / 1e6:g} km or holds no number: check the unit of the "
            "drawing"
        )


@np.errstate(all="ignore")
def place_of(entity: Any, placed: FloatArray) -> str:
    """Where an entity stands, for a message, as far as it says so."""
    try:
        for name in ("start", "center", "insert"):
            if entity.dxf.hasattr(name):
                x, y, z = to_world(entity, entity.dxf.get(name), placed)
                return f"at {show_point(x, y)} " if math.isfinite(x + y + z) else ""
    except Exception:  # a broken entity has no place
        return ""
    return ""


_OWN_PLANE = ("ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "TEXT", "INSERT", "HATCH")


def to_world(entity: Any, point: Any, placed: FloatArray) -> FloatArray:
    """A point (3,) of an entity, given in the entity's own plane where it has one, in mm."""
    if entity.dxftype() in _OWN_PLANE:
        point = entity.ocs().to_wcs(point)
    return np.asarray((np.array([*point.xyz, 1.0]) @ placed)[:3], dtype=np.float64)


def _converted(entity: Any, placed: FloatArray) -> Iterator[Run]:
    kind = entity.dxftype()
    if kind == "LINE":
        ends = np.array([entity.dxf.start.xyz, entity.dxf.end.xyz])
        yield _straight(ends, placed)
    elif kind in ("ARC", "CIRCLE"):
        yield from _circular(entity, placed)
    elif kind == "ELLIPSE":
        yield _elliptic(entity, placed)
    elif kind == "SPLINE":
        yield _splined(entity, placed)
    elif kind == "LWPOLYLINE":
        rows = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
        yield from _bulged(rows, entity.closed, entity, entity.dxf.elevation, placed)
    elif kind == "POLYLINE":
        yield from _old_polyline(entity, placed)
    elif kind == "INSERT":
        raise DrawingError(
            f'its block "{entity.dxf.name}" is not in this file: bind it into the drawing'
        )
    else:
        raise DrawingError("move it to another layer, or turn it into lines")


def _straight(points: FloatArray, placed: FloatArray) -> Run:
    """A path of straight edges through (n, 3) points of the drawing."""
    world = _placed_points(points, placed)
    return Run(points=np.column_stack([world[:, :2], np.zeros(len(world))]))


def _placed_points(points: FloatArray, placed: FloatArray) -> FloatArray:
    """(n, 3) points in mm, refused if they do not lie flat."""
    world = np.column_stack([points, np.ones(len(points))]) @ placed
    check_flat(float(np.ptp(world[:, 2])) if np.isfinite(world).all() else math.nan)
    return np.asarray(world[:, :3], dtype=np.float64)


def check_flat(rise: float) -> None:
    """Raises DrawingError for an entity whose height (mm) changes."""
    if not math.isfinite(rise):
        raise DrawingError("it holds a number that is not finite")
    if rise > TOLERANCES.join:
        raise DrawingError(
            f"it does not lie flat: its height changes by {show_mm(rise)}; draw it in the plane of "
            "x and y"
        )


def _in_plane(path: FloatArray, frame: FloatArray, placed: FloatArray) -> Run:
    """A path in a plane of its own, whose `frame` (4, 4) brings it to the drawing."""
    total = frame @ placed
    if not (np.isfinite(path).all() and np.isfinite(total).all()):
        raise DrawingError("it holds a number that is not finite")
    reach = 2.0 * float(np.hypot(*np.ptp(path[:, :2], axis=0)))  # arcs of half a turn and all
    check_flat(float(np.hypot(total[0, 2], total[1, 2])) * reach)
    return mapped(path, total[:2, :2].T, total[3, :2], TOLERANCES.flatten)


def _circular(entity: Any, placed: FloatArray) -> Iterator[Run]:
    """ARC and CIRCLE: counter-clockwise in the entity's own plane, in degrees."""
    first, last = 0.0, 2.0 * math.pi
    if entity.dxftype() == "ARC":
        first, last = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    radius = abs(entity.dxf.radius)
    if radius == 0.0:
        return
    ocs = entity.ocs()
    rows = [ocs.ux * radius, ocs.uy * radius, ocs.uz, ocs.to_wcs(entity.dxf.center)]
    yield _in_plane(turn_path(first, last), plane_frame(rows), placed)


def _elliptic(entity: Any, placed: FloatArray) -> Run:
    """ELLIPSE: parameters run counter-clockwise about the extrusion, in radians."""
    dxf = entity.dxf
    rows = [dxf.major_axis, entity.minor_axis, dxf.extrusion, dxf.center]
    return _in_plane(turn_path(dxf.start_param, dxf.end_param), plane_frame(rows), placed)


def plane_frame(rows: list[Any]) -> FloatArray:
    """(4, 4) of two axes, a normal and an origin, for row vectors."""
    frame = np.eye(4)
    frame[:, :3] = [row.xyz for row in rows]
    return frame


def _splined(entity: Any, placed: FloatArray) -> Run:
    control = np.array([tuple(p) for p in entity.control_points], dtype=np.float64).reshape(-1, 3)
    if not len(control):
        raise DrawingError(
            "it holds fit points only, which do not say the curve between them: save it with "
            "control points, or as a polyline"
        )
    weights = np.array(entity.weights, dtype=np.float64) if len(entity.weights) else None
    return spline(
        _placed_points(control, placed)[:, :2],
        np.array(entity.knots, dtype=np.float64),
        int(entity.dxf.degree),
        TOLERANCES.flatten,
        weights,
    )


def _bulged(
    rows: FloatArray, closed: bool, entity: Any, elevation: float, placed: FloatArray
) -> Iterator[Run]:
    """A polyline of (n, 3) x, y, bulge in the entity's own plane."""
    path = np.vstack([rows, rows[:1]]) if closed and len(rows) else rows
    if len(path) < 2:
        return
    ocs = entity.ocs()
    axes = [ocs.ux, ocs.uy, ocs.uz, ocs.uz * elevation]
    yield _in_plane(path, plane_frame(axes), placed)


def _old_polyline(entity: Any, placed: FloatArray) -> Iterator[Run]:
    """POLYLINE with its VERTEX entities; the frame points of a fitted one are not drawn."""
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise DrawingError("it is a mesh: turn it into lines")
    drawn = [v for v in entity.vertices if not v.dxf.get("flags", 0) & _FRAME_POINT]
    points = np.array([v.dxf.location.xyz for v in drawn], dtype=np.float64).reshape(-1, 3)
    if entity.is_3d_polyline:
        points = np.vstack([points, points[:1]]) if entity.is_closed else points
        if len(points) > 1:
            yield _straight(points, placed)
        return
    bulges = np.array([v.dxf.get("bulge", 0.0) for v in drawn], dtype=np.float64)
    elevation = entity.dxf.elevation.z if entity.dxf.hasattr("elevation") else 0.0
    rows = np.column_stack([points[:, :2], bulges])
    yield from _bulged(rows, entity.is_closed, entity, elevation, placed)


_FRAME_POINT = 16
"""Bit of a VERTEX's flags: a control point of a fitted polyline."""
