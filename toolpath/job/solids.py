"""Embedded pieces: their solids, where they lie, and how far they may have moved."""

from __future__ import annotations

import math

import numpy as np

from toolpath.drawing.mesh import read_mesh
from toolpath.errors import DrawingError
from toolpath.job.files import file_unit, named_file
from toolpath.job.keys import DRIFT, PIECE, SOLIDS
from toolpath.job.limits import DRIFT_TURN, GAP, MAX_MESH_BYTES, PLACE, SCALE, SIZE, TURN
from toolpath.job.model import (
    Box,
    Cylinder,
    Drift,
    Hardness,
    Mesh,
    Piece,
    Rule,
    Side,
    Solid,
    Sphere,
)
from toolpath.job.table import Table

_LATER = ("prism", "heights")
_NO_UNIT = 'missing: a mesh says nothing of its unit: give unit = "mm" (or "in", "cm", "m")'


def read_piece(table: Table, clearance: float) -> Piece | None:
    """One ``[[piece]]``; `clearance` is that of ``[check]``. None where a part is faulty."""
    table.allow(PIECE)
    name = table.text("name", "a name")
    solid = _solid(table.table("solid"))
    x, y = table.lengths("at", "[x, y]", PLACE)
    side, depth = _depth(table)
    turn = table.degrees("turn", TURN, 0.0)
    table.choice("rule", Rule, Rule.KEEP, later=("may-cut",))
    gap = table.length("clearance", GAP, clearance)
    drift = _drift(table.table("drift", optional=True))
    hardness = table.choice("hardness", Hardness, Hardness.STONE)
    if solid is None or hardness is None:
        return None
    return Piece(
        name=name,
        solid=solid,
        at=(x, y),
        measured_from=side,
        depth=depth,
        clearance=gap,
        turn=turn,
        drift=drift,
        hardness=hardness,
    )


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
        side=table.length("side", GAP, 0.0),
        rise=table.length("rise", GAP, 0.0),
        turn=table.degrees("turn", DRIFT_TURN, 0.0),
    )


def _solid(table: Table) -> Solid | None:
    if table.void:
        return None
    kinds = [kind for kind in SOLIDS if kind not in _LATER]
    kind = table.word("kind", kinds, None, _LATER)
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
    return _mesh(table)


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
