"""Meshes and measured tops, as the solid of a piece."""

import re
from pathlib import Path
from random import Random

import PIL.PngImagePlugin
import PIL.TiffImagePlugin  # noqa: F401  # here, so that the readers are watched too
import trimesh.exchange.load  # noqa: F401

from fuzz.drawn import read_solid_of
from fuzz.mutate import binary, png, text_mutator, zipped
from fuzz.target import Target

_MESHES = (".stl", ".obj", ".ply", ".3mf")
_GRIDS = (".png", ".tif", ".npy", ".csv")

_WORDS = tuple(
    word.encode()
    for word in (
        *("solid a\n", "endsolid a\n", "facet normal 0 0 1\n", "outer loop\n", "vertex 0 0 1\n"),
        *("endloop\n", "endfacet\n", "v 0 0 1\n", "v 1 2 3 0.5\n", "vn 0 0 1\n", "vt 0 1\n"),
        *(
            "f 1 2 3\n",
            "f 1/1/1 2/2/2 3/3/3\n",
            "f -1 -2 -3\n",
            "f 1 2 3 4\n",
            "f 1 2 99\n",
            "f 0 0 0\n",
        ),
        *("o a\n", "g a\n", "usemtl a\n", "mtllib a.mtl\n", "s 1\n", "l 1 2\n", "\\\n", "# x\n"),
        *("ply\n", "format ascii 1.0\n", "format binary_little_endian 1.0\n", "end_header\n"),
        *(
            "format binary_big_endian 1.0\n",
            "element vertex 4\n",
            "element face 2\n",
            "comment x\n",
        ),
        *("property float x\n", "property double y\n", "property list uchar int vertex_indices\n"),
        *("property uchar red\n", "element edge 1\n", "property list int int vertex_index\n"),
        *('<vertex x="1" y="2" z="3"/>', '<triangle v1="0" v2="1" v3="2"/>', "<mesh>", "</mesh>"),
        *('<item objectid="1"/>', '<component objectid="1"/>', "<components>", "</components>"),
        *('<object id="2" type="model">', "</object>", "<build>", "</build>", "<resources>"),
        *(
            'transform="1 0 0 0 1 0 0 0 1 5 0 0"',
            'transform="0 0 0 0 0 0 0 0 0 0 0 0"',
            'unit="inch"',
        ),
        *('p:path="/3D/other.model"', 'partnumber="a"', "&a;", "<!DOCTYPE a>", "<!-- x -->"),
        *("x,y,z\n", "x;y;z\n", "0,0,1\n", "1,2,3\n", "1;2;3\n", ",", ";", "\t", " ", "\n", "\n\n"),
        *("{'descr': '<f8', 'fortran_order': False, 'shape': (2, 2), }", "True", "'|O'", "'<u2'"),
        *(
            "(2000, 2000)",
            "(2, 2)",
            "(0, 5)",
            "'>f4'",
            "'<c16'",
            "'<f2'",
            "'|u1'",
            "'<i8'",
            "(-1, 2)",
        ),
    )
)

_TEXT = text_mutator(
    word=re.compile(rb"</?\w+|/?>|[\w:]+=\"[^\"]*\"|[A-Za-z_]+|'[^'\n]*'|\([^)\n]*\)|\n"),
    words=_WORDS,
)
_ZIP = zipped(_TEXT)


def _mutate(data: bytes, ending: str, rng: Random) -> bytes:
    if ending == ".3mf":
        return _ZIP(data, ending, rng)
    if ending == ".png":
        return png(data, ending, rng)
    plain = b"\0" not in data[:1000]
    if ending == ".npy":
        return _header(data, ending, rng) if rng.random() < 0.6 else binary(data, ending, rng)
    if ending == ".ply" and not plain and rng.random() < 0.6:
        head, end, body = data.partition(b"end_header\n")
        return _TEXT(head, ending, rng) + end + body
    return (_TEXT if plain and rng.random() < 0.9 else binary)(data, ending, rng)


def _header(data: bytes, ending: str, rng: Random) -> bytes:
    """Another header of an array, with its length right again."""
    size = int.from_bytes(data[8:10], "little")
    head = _TEXT(data[10 : 10 + size].rstrip(), ending, rng)[:60_000] + b"\n"
    return data[:8] + len(head).to_bytes(2, "little") + head + data[10 + size :]


def _read(path: Path) -> str:
    ending = path.suffix
    if ending in _MESHES:
        solid = {"kind": "mesh", "file": path.name, "unit": "mm"}
        return f"{ending} {read_solid_of(path, solid)}"
    words = {read_solid_of(path, {"kind": "heights", "file": path.name, "size": [40, 30]})}
    span = {"size": [40, 30], "low": 1, "high": 9}
    words.add(read_solid_of(path, {"kind": "heights", "file": path.name, **span}))
    if ending == ".csv":
        words.add(read_solid_of(path, {"kind": "heights", "file": path.name}))
    return f"{ending} {'answer' if 'answer' in words else min(words)}"


TARGET = Target(name="meshes", endings=_MESHES + _GRIDS, read=_read, mutate=_mutate, seconds=10.0)
