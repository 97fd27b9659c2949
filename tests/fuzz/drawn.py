"""What a job makes of a file that it names: an answer or faults."""

from pathlib import Path

import numpy as np
import shapely
from fuzz.target import LONGEST, Unsound

from toolpath.drawing.holes import read_dxf_holes
from toolpath.errors import DrawingError
from toolpath.job.model import Heights, Mesh, Piece
from toolpath.job.shapes import shape_of
from toolpath.job.solids import read_piece
from toolpath.job.table import Reading, Table


def _table(path: Path, where: str, values: dict[str, object]) -> Table:
    return Table(reading=Reading(file=path.parent / "job.toml"), where=where, values=values)


def read_outline_of(path: Path, values: dict[str, object]) -> str:
    """The outline of a shape table, which must be sound and finite."""
    table = _table(path, "cut[1]: outline", values)
    drawn = shape_of(table)
    if drawn is None:
        return _faults(table)
    _none(table)
    for area in (drawn.inner, drawn.outer):
        if not np.isfinite(shapely.get_coordinates(area)).all() or not area.is_valid:
            raise Unsound("an outline that is not sound")
    if not (drawn.outer.area > 0.0 and drawn.inner.area <= drawn.outer.area * (1 + 1e-9)):
        raise Unsound(f"inner {drawn.inner.area} mm² in outer {drawn.outer.area} mm²")
    return "answer"


def read_holes_of(path: Path, layer: str, unit: float | None) -> str:
    """The holes that a layer of a drawing marks."""
    try:
        holes = read_dxf_holes(path, layer, unit=unit)
    except DrawingError as error:
        return short(str(error))
    if not holes or not np.isfinite([(hole.x, hole.y, hole.diameter or 1) for hole in holes]).all():
        raise Unsound("holes without a place")
    return "answer"


def read_solid_of(path: Path, solid: dict[str, object]) -> str:
    """A piece whose solid is in the file."""
    values = {"name": "pebble", "solid": solid, "at": [0, 0], "from_front": 5}
    table = _table(path, "piece[1]", values)
    pieces = read_piece(table, 1.0)
    if not pieces:
        return _faults(table)
    _none(table)
    _sound(pieces[0])
    return "answer"


def _sound(piece: Piece) -> None:
    solid = piece.solid
    if isinstance(solid, Mesh):
        points, triangles = solid.vertices, solid.triangles
    elif isinstance(solid, Heights):
        points, triangles = solid.points, solid.triangles
        if points[:, 2].min() < 0.0:
            raise Unsound("heights below the foot")
    else:
        raise Unsound(f"a {type(solid).__name__}")
    if not np.isfinite(points).all() or not len(triangles):
        raise Unsound("a mesh that is not finite or empty")
    if triangles.min() < 0 or triangles.max() >= len(points):
        raise Unsound("triangles of corners that there are not")


def _none(table: Table) -> None:
    if table.reading.faults:
        raise Unsound("an answer and a fault")


def _faults(table: Table) -> str:
    if not table.reading.faults:
        raise Unsound("neither an answer nor a fault")
    for fault in table.reading.faults:
        short(str(fault))
    return "FaultsError"


def short(message: str) -> str:
    """The word for a fault, whose message a person can read."""
    if len(message) > LONGEST or not message.strip():
        raise Unsound(f"a message of {len(message)} characters: {message[:200]}")
    return "DrawingError"
