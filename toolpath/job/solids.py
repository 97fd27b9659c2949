"""Embedded pieces: their solids, where they lie, and how far they may have moved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from toolpath.drawing.heights import Surface, grid_surface, is_point_list, point_surface
from toolpath.drawing.mesh import read_mesh
from toolpath.drawing.samples import read_samples
from toolpath.errors import DrawingError
from toolpath.job.files import file_unit, named_file
from toolpath.job.keys import DRIFT, PIECE, REPEAT, SOLIDS
from toolpath.job.limits import (
    DRIFT_TURN,
    GAP,
    MAX_DRAWING_BYTES,
    MAX_ENTRIES,
    MAX_MESH_BYTES,
    PLACE,
    ROOM,
    SCALE,
    SIZE,
    TURN,
)
from toolpath.job.model import (
    Box,
    Cylinder,
    Drift,
    Hardness,
    Heights,
    Mesh,
    Piece,
    Prism,
    Rule,
    Side,
    Solid,
    Sphere,
)
from toolpath.job.rows import read_steps
from toolpath.job.shapes import read_shape
from toolpath.job.table import Table
from toolpath.job.words import quoted

_NO_UNIT = 'missing: a mesh says nothing of its unit: give unit = "mm" (or "in", "cm", "m")'


def read_piece(table: Table, clearance: float) -> tuple[Piece, ...]:
    """One ``[[piece]]``, as often as it is repeated; `clearance` is that of ``[check]``. Empty
    where a part is faulty."""
    table.allow(PIECE)
    name = table.text("name", "a name")
    solid = _solid(table.table("solid"))
    x, y = table.lengths("at", "[x, y]", PLACE)
    side, depth = _depth(table)
    turn = table.degrees("turn", TURN, 0.0)
    rule = table.choice("rule", Rule, Rule.KEEP)
    gap = table.length("clearance", ROOM, clearance)
    drift = _drift(table.table("drift", optional=True))
    hardness = table.choice("hardness", Hardness, Hardness.STONE)
    steps = _steps(table)
    if solid is None or hardness is None or rule is None:
        return ()
    piece = Piece(
        name=name,
        solid=solid,
        at=(x, y),
        measured_from=side,
        depth=depth,
        clearance=gap,
        turn=turn,
        rule=rule,
        drift=drift,
        hardness=hardness,
    )
    if not table.has("repeat"):
        return (piece,)
    return tuple(
        replace(piece, name=f"{name} {place}", at=(x + dx, y + dy))
        for place, (dx, dy) in enumerate(steps, start=1)
    )


def read_pieces(tables: Sequence[Table], clearance: float) -> list[tuple[Piece, ...]]:
    """The pieces of all tables, a group for each; their names differ and their count is limited."""
    groups: list[tuple[Piece, ...]] = []
    count = 0
    for table in tables:
        groups.append(read_piece(table, clearance))
        count += len(groups[-1])
        if count > MAX_ENTRIES:
            key = "repeat" if table.has("repeat") else ""
            table.fault(key, f"makes {count} pieces in all; at most {MAX_ENTRIES} are read")
            break
    _check_repeats(tables[: len(groups)], groups)
    return groups


def _check_repeats(tables: Sequence[Table], groups: Sequence[tuple[Piece, ...]]) -> None:
    """No name that a repeated piece makes may be used twice."""
    first: dict[str, int] = {}
    for place, (table, group) in enumerate(zip(tables, groups, strict=True), start=1):
        for piece in group:
            other = first.setdefault(piece.name, place)
            if other != place and (table.has("repeat") or tables[other - 1].has("repeat")):
                table.fault("name", f"{quoted(piece.name)} is made by piece[{other}] too: rename")
                break


def _steps(table: Table) -> list[tuple[float, float]]:
    """How far each of the repeated pieces lies from `at`; empty where it is not, or after a
    fault."""
    repeat = table.table("repeat", optional=True)
    repeat.allow(REPEAT)
    return [] if repeat.void else read_steps(repeat, "pieces")


def _depth(table: Table) -> tuple[Side, float]:
    """The face that the depth is measured from, and the depth."""
    given = [side for side in Side if table.has(f"from_{side.value}")]
    if len(given) == 2:
        table.fault("from_back", "given together with from_front: leave one of them out")
    elif not given and not table.void:
        table.fault(
            "from_front",
            "missing: give from_front or from_back, the distance of that face from the piece",
        )
    depths = [table.length(f"from_{side.value}", GAP) for side in given]
    return (given[0], depths[0]) if given else (Side.FRONT, math.nan)


def _drift(table: Table) -> Drift:
    table.allow(DRIFT)
    return Drift(
        side=table.length("side", ROOM, 0.0),
        rise=table.length("rise", ROOM, 0.0),
        turn=table.degrees("turn", DRIFT_TURN, 0.0),
    )


def _solid(table: Table) -> Solid | None:
    if table.void:
        return None
    kind = table.word("kind", list(SOLIDS), None)
    if not kind:
        return None
    table.allow(SOLIDS[kind])
    if kind == "box":
        x, y, z = table.lengths("size", "[x, y, z]", SIZE)
        return Box(size=(x, y, z))
    if kind == "cylinder":
        return Cylinder(
            diameter=table.length("diameter", SIZE), height=table.length("height", SIZE)
        )
    if kind == "sphere":
        return Sphere(diameter=table.length("diameter", SIZE))
    return {"prism": _prism, "heights": _heights, "mesh": _mesh}[kind](table)


def _prism(table: Table) -> Prism | None:
    drawn = read_shape(table, "outline")
    height = table.length("height", SIZE)
    return None if drawn is None else Prism(outline=drawn.outline, height=height)


def _mesh(table: Table) -> Mesh | None:
    file = named_file(table, "file", MAX_MESH_BYTES)
    unit = file_unit(table, required=_NO_UNIT)
    scale = table.number("scale", SCALE, "", 1.0)
    tilt = (0.0, 0.0)
    if table.has("tilt"):
        about_x, about_y = table.numbers("tilt", "[about x, about y]", TURN, "degrees")
        tilt = (math.radians(about_x), math.radians(about_y))
    if file is None or unit is None or math.isnan(scale + sum(tilt)):
        return None
    try:
        data = read_mesh(file, unit * scale)
    except (DrawingError, ValueError) as error:
        table.fault("file", str(error))
        return None
    size = float(np.ptp(data.vertices, axis=0).max())
    if SIZE.breach(size):
        table.fault("file", f"is {table.reading.show(size)} large: look at unit and scale")
        return None
    return Mesh(
        file=file,
        vertices=data.vertices,
        triangles=data.triangles,
        watertight=data.watertight,
        tilt=tilt,
    )


def _heights(table: Table) -> Heights | None:
    file = named_file(table, "file", MAX_DRAWING_BYTES)
    if file is None:
        return None
    try:
        surface = _listed(table, file) if is_point_list(file) else _grid(table, file)
    except DrawingError as error:
        table.fault("file", str(error))
        return None
    if surface is None:
        return None
    size = float(np.ptp(surface.points, axis=0).max())
    if SIZE.breach(size):
        table.fault("file", f"is {table.reading.show(size)} large: look at its numbers")
        return None
    return Heights(file=file, points=surface.points, triangles=surface.triangles)


def _listed(table: Table, file: Path) -> Surface | None:
    """The surface over a list of points, which says itself where they lie."""
    given = [key for key in ("size", "low", "high") if table.has(key)]
    for key in given:
        table.fault(key, f"given with a list of points, which says so itself: leave {key} out")
    return None if given else point_surface(file, table.reading.unit.mm)


def _grid(table: Table, file: Path) -> Surface | None:
    """The surface over a grid of samples."""
    x, y = table.lengths("size", "[x, y]", SIZE)
    samples = read_samples(file)
    if table.has("low") or table.has("high") or samples.full_scale is not None:
        low, high = table.length("low", GAP), table.length("high", SIZE)
        if high <= low:
            show = table.reading.show
            table.fault("high", f"{show(high)} must be more than low, {show(low)}")
        values = samples.between(low, high)
    else:
        values = samples.values * table.reading.unit.mm
        if float(values.min()) < 0.0:
            raise DrawingError(
                f"{file.name}: its least number is {table.reading.show(float(values.min()))}: "
                "measure heights from the foot of the piece, 0 or more, or give low and high"
            )
    good = not math.isnan(x + y + float(values[0, 0]))
    return grid_surface(values, (x, y)) if good else None
