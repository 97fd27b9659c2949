"""Triangle meshes of embedded pieces, read from STL, OBJ, PLY and 3MF files.

Frame: the file's own axes, scaled to millimetres; z is up. Nothing is moved, healed or closed.
"""

from __future__ import annotations

import codecs
import io
import math
import re
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, NoReturn

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.obj import triangles_named
from toolpath.drawing.threemf import triangles_placed
from toolpath.errors import DrawingError

if TYPE_CHECKING:
    from trimesh import Trimesh

_SOLID_LINES = re.compile(rb"^[ \t]*(?:end)?solid\b.*$", re.IGNORECASE | re.MULTILINE)
_CORNERS = re.compile(rb"\b(?:vertex|endloop)\b", re.IGNORECASE)

ENDINGS = (".stl", ".obj", ".ply", ".3mf")
"""The file endings that are read."""

MOST_TRIANGLES = 2_000_000
"""Largest mesh that is read: more would take minutes and gigabytes to check."""

_COUNTED = {".3mf": triangles_placed, ".obj": triangles_named}
"""What counts the triangles of a file apart from its parser: where the two differ some are lost."""

_MOST_BYTES = 800_000_000  # unpacked; above MOST_TRIANGLES in any of the formats, even as text
_FARTHEST = 1e9  # units of the file; beyond it the corners no longer tell 1e-6 of a unit
_NEEDLE = 1e-12  # twice the area over the longest side squared: rounding of float64, not a shape


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshData:
    """A mesh in mm: `vertices` (v, 3) float64, read-only, each used by a triangle; `triangles`
    (t, 3) int64 into them, read-only; `watertight` if every edge is shared by two triangles."""

    vertices: NDArray[np.float64] = field(repr=False)
    triangles: NDArray[np.int64] = field(repr=False)
    watertight: bool


def read_mesh(path: Path, scale: float) -> MeshData:
    """Read a mesh file; several bodies are taken together, each where its file places it.

    Triangles without area are dropped, and corners nearer to each other than 1e-8 of the file's
    unit become one; the surface stays where it is but for that. A file cut short is refused,
    except an OBJ file, which does not say where it ends: its mesh is then not watertight.

    Parameters
    ----------
    path : Path
        A file with one of the `ENDINGS`.
    scale : float
        Millimetres per unit of the file, times any scale of the maker's. What a 3MF file says of
        its own unit is not applied on top.

    Raises
    ------
    DrawingError
        A scale that is not a positive number, an unknown ending, a file that is missing, broken,
        empty or larger than `MOST_TRIANGLES`, or a coordinate that is not finite.
    """
    if not (math.isfinite(scale) and scale > 0.0):
        raise DrawingError(f"{path.name}: a scale of {scale} must be more than 0")
    _check_file(path)
    mesh = _load(path)
    vertices = np.asarray(mesh.vertices, dtype=np.float64) * scale
    triangles = np.asarray(mesh.faces, dtype=np.int64)
    vertices, triangles = _used(vertices, _with_area(vertices, triangles))
    if not len(triangles):
        raise DrawingError(
            f"{path.name}: no triangle in it has an area: export the piece as a triangle mesh"
        )
    vertices.flags.writeable = triangles.flags.writeable = False
    return MeshData(vertices=vertices, triangles=triangles, watertight=bool(mesh.is_watertight))


def _check_file(path: Path) -> None:
    if path.suffix.lower() not in ENDINGS:
        raise DrawingError(
            f'{path.name}: a mesh file ends in {", ".join(ENDINGS)}, not "{path.suffix}": export '
            "the piece as one of those"
        )
    try:
        size = path.stat().st_size
    except OSError as error:
        raise DrawingError(
            f"{path.name}: cannot be read ({error.strerror}): check its name"
        ) from error
    if not path.is_file() or size == 0:
        raise DrawingError(f"{path.name}: the file is empty: export the mesh again")
    if zipfile.is_zipfile(path):
        try:
            with zipfile.ZipFile(path) as packed:
                size = sum(part.file_size for part in packed.infolist())
        except Exception as error:  # a broken list of parts may raise anything
            _broken(path, error)
    if size > _MOST_BYTES:
        _too_large(path, f"{size / 1e6:.0f} MB")
    if path.suffix.lower() == ".stl":
        _check_stl(path, size)
    if path.suffix.lower() == ".ply":
        _check_ply(path)


def _check_stl(path: Path, size: int) -> None:
    """Refuse a binary STL file (84 bytes and 50 a facet) of too many facets, and a text one
    without its last line: with facets lost a piece would be smaller than it is."""
    with path.open("rb") as file:
        binary = b"\0" in file.read(1024)
        file.seek(max(0, size - 1024))
        lines = file.read().split(b"\n")
    facets = (size - 84) // 50
    if binary and facets > MOST_TRIANGLES:
        _too_large(path, f"{facets} triangles")
    last = next((line.strip().lower() for line in reversed(lines) if line.strip()), b"")
    if not binary and not last.startswith(b"endsolid"):
        raise DrawingError(
            f"{path.name}: it is cut short or no STL file: its last line is not endsolid; export "
            "the mesh again"
        )
    if not binary:
        _check_text_facets(path)


def _check_text_facets(path: Path) -> None:
    """Refuse a text STL file with a facet that has not three corners: the library counts corners
    through, so that all after it would be joined to others."""
    text = _SOLID_LINES.sub(b"", path.read_bytes())
    marks = b"".join(found[0][:1].lower() for found in _CORNERS.finditer(text))
    facets = marks.split(b"e")[:-1]  # each ends with "endloop"
    if marks != b"vvve" * len(facets):
        number = next((n for n, each in enumerate(facets, 1) if each != b"vvv"), len(facets) + 1)
        raise DrawingError(
            f"{path.name}: facet {number} of it has not three corners: export the piece as a "
            "triangle mesh again"
        )


def _check_ply(path: Path) -> None:
    """Refuse a PLY file with surfaces in another form than faces, which would be passed over, and
    a text one with fewer lines than its header promises elements."""
    promised, text, within = 0, False, b""
    with path.open("rb") as file:
        for line in file:
            words = line.split()
            text = text or words[:2] == [b"format", b"ascii"]
            if words[:1] == [b"element"] and words[-1].isdigit():
                within, promised = words[1], promised + int(words[-1][:20])
            if words[:2] == [b"property", b"list"] and within not in (b"face", b"vertex"):
                raise DrawingError(
                    f"{path.name}: it holds a list that is not of faces, such as strips, which "
                    "would be passed over: export the piece as a triangle mesh"
                )
            if words == [b"end_header"]:
                break
        found = sum(1 for line in file if line.strip()) if text else promised
    if found < promised:
        raise DrawingError(
            f"{path.name}: it is cut short: {found} lines where its header promises {promised}; "
            "export the mesh again"
        )


def _too_large(path: Path, found: str) -> NoReturn:
    raise DrawingError(
        f"{path.name}: {found} is more than the {MOST_TRIANGLES} triangles that are read: reduce "
        "the mesh, or use a solid that surrounds the piece"
    )


def _broken(path: Path, error: Exception) -> NoReturn:
    raise DrawingError(
        f"{path.name}: cannot be read as a {path.suffix[1:].upper()} mesh: it is cut short, "
        "broken or another kind of file; export it again"
    ) from error


@np.errstate(all="ignore")  # what is not finite is refused below
def _load(path: Path) -> Trimesh:
    """The file's bodies as one mesh with equal corners merged."""
    import trimesh

    promised = None
    try:
        if path.suffix.lower() in _COUNTED:
            promised = _COUNTED[path.suffix.lower()](path)
            if promised > MOST_TRIANGLES:
                _too_large(path, f"{promised} triangles")
        with _opened(path) as file:  # no name: what it names outside itself is not looked for
            scene = trimesh.load_scene(file, file_type=path.suffix[1:].lower(), process=False)
        meshes = [part for part in scene.dump() if isinstance(part, trimesh.Trimesh)]
        for part in meshes:
            _check_corners(part)
        count = sum(len(part.faces) for part in meshes)
        mesh = trimesh.util.concatenate(meshes) if count else None
    except DrawingError as error:
        raise DrawingError(f"{path.name}: {str(error).removeprefix(f'{path.name}: ')}") from error
    except Exception as error:  # a parser fed with a broken file may raise anything
        _broken(path, error)
    if mesh is None:
        raise DrawingError(
            f"{path.name}: there is no triangle in it: export the piece as a triangle mesh"
        )
    if promised not in (None, count):
        raise DrawingError(
            f"{path.name}: it places {promised} triangles and {count} could be read: export the "
            "piece as one mesh of triangles"
        )
    if count > MOST_TRIANGLES:
        _too_large(path, f"{count} triangles")
    if not (np.abs(mesh.vertices) < _FARTHEST).all():
        raise DrawingError(
            f"{path.name}: a corner has a coordinate that is not a number or beyond "
            f"{_FARTHEST:g} units: export the mesh again"
        )
    bare = trimesh.Trimesh(vertices=mesh.vertices, faces=mesh.faces, process=False)
    bare.merge_vertices()
    return bare


def _check_corners(part: Trimesh) -> None:
    """Refuse triangles of corners that there are not, where -1 would pass for the last one, and
    corners of one or two coordinates."""
    faces, (count, axes) = part.faces, part.vertices.shape
    if axes != 3:
        raise DrawingError(
            f"its corners have {axes} coordinates: it is broken; export the mesh again"
        )
    if len(faces) and not (faces.min() >= 0 and faces.max() < count):
        odd = int(faces.min() if faces.min() < 0 else faces.max())
        raise DrawingError(
            f"a triangle names corner {odd}, counted from 0, and it holds {count}: it is broken; "
            "export the mesh again"
        )


def _opened(path: Path) -> BinaryIO:
    """The file from its first byte, a byte order mark left out: it would hide the first line."""
    file = path.open("rb")
    if file.read(len(codecs.BOM_UTF8)) != codecs.BOM_UTF8:
        file.seek(0)
        return file
    with file:
        return io.BytesIO(file.read())


def _with_area(vertices: NDArray[np.float64], triangles: NDArray[np.int64]) -> NDArray[np.int64]:
    """The triangles that are more than a line or a point."""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    longest = np.max([np.sum(side**2, axis=1) for side in (b - a, c - b, a - c)], axis=0)
    doubled = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    has_area: NDArray[np.bool_] = doubled > _NEEDLE * longest
    return triangles[has_area]


def _used(
    vertices: NDArray[np.float64], triangles: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Only the vertices that a triangle uses, and the triangles into them."""
    kept, inverse = np.unique(triangles, return_inverse=True)
    return vertices[kept], inverse.reshape(-1, 3).astype(np.int64)
