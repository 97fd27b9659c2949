"""Meshes and measured tops, as the solid of a piece."""

import re
from pathlib import Path
from random import Random

import PIL.PngImagePlugin
import PIL.TiffImagePlugin  # noqa: F401  # here, so that the readers are watched too
import trimesh.exchange.load  # noqa: F401
from fuzz.drawn import read_solid_of
from fuzz.mutate import binary, png, text_mutator, words_of, zipped
from fuzz.target import Target

_MESHES = (".stl", ".obj", ".ply", ".3mf")
_GRIDS = (".png", ".tif", ".npy", ".csv")

_TEXT = text_mutator(
    word=re.compile(rb"</?\w+|/?>|[\w:]+=\"[^\"]*\"|[A-Za-z_]+|'[^'\n]*'|\([^)\n]*\)|\n"),
    words=words_of("meshes"),
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
