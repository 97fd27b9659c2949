"""DXF drawings: outlines and holes of each layer, as a job reads them."""

import re
from pathlib import Path

import ezdxf  # noqa: F401  # here, so that its parser is watched too
from fuzz.drawn import read_holes_of, read_outline_of, short
from fuzz.mutate import seeds_of, text_mutator, words_of
from fuzz.target import Target

from toolpath.drawing.dxf import layers
from toolpath.errors import DrawingError

_MOST_LAYERS = 4


def _read(path: Path) -> str:
    try:
        names = layers(path)[:_MOST_LAYERS]
    except DrawingError as error:
        return short(str(error))
    words = set()
    for place, name in enumerate((*names, "nowhere")):
        unit = {} if place % 2 == 0 else {"unit": "in"}
        words.add(read_outline_of(path, {"dxf": path.name, "layer": name, **unit}))
        words.add(read_holes_of(path, name, 25.4 if unit else None))
    return "answer" if "answer" in words else min(words)


TARGET = Target(
    name="dxf",
    endings=(".dxf",),
    read=_read,
    mutate=text_mutator(
        word=re.compile(rb"[ \t]*\d+\r?\n[^\n]*\n"),
        words=words_of("dxf"),
        unit=2,
        others=seeds_of("dxf"),
    ),
)
