"""How many triangles an OBJ file names, counted from its own lines.

A count made apart from the reader of the mesh, which passes over lines that begin with blanks or
hold tabs, and takes a corner counted backwards from the end of the file instead of from its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from toolpath.errors import DrawingError

_ZERO = re.compile(rb"\s[+-]?0+(?![\d.])")
_BACKWARDS = re.compile(rb"\s-")


def triangles_named(path: Path) -> int:
    """Triangles of all faces of the file, those of many corners taken apart.

    Raises
    ------
    DrawingError
        A face that names corner 0, for they count from 1, or counts corners backwards from a line
        that is not after the last of them.
    """
    count, backwards = 0, 0
    for number, line in _lines(path):
        kind, _, corners = line.partition(b" ")
        if kind == b"v" and backwards:
            raise DrawingError(
                f"line {backwards}: a face counts its corners backwards, and more corners follow "
                "it, so that it would be read wrong: export the piece with corners counted from 1"
            )
        if kind == b"f":
            count += max(0, len(corners.split()) - 2)
            if _ZERO.search(line):
                raise DrawingError(
                    f"line {number}: a face names corner 0, and corners count from 1: export the "
                    "piece again"
                )
            if not backwards and _BACKWARDS.search(line):
                backwards = number
    return count


def _lines(path: Path) -> Iterator[tuple[int, bytes]]:
    """Lines with their numbers, without what indents them; one that ends in a backslash goes on
    in the next."""
    number, whole = 0, b""
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            whole += line.replace(b"\t", b" ").strip()
            if whole.endswith(b"\\"):
                whole = whole[:-1] + b" "
                continue
            yield number, whole
            whole = b""
    yield number, whole
