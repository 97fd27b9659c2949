"""DXF drawings: outlines and holes of each layer, as a job reads them."""

import re
from pathlib import Path
from random import Random

import ezdxf  # noqa: F401  # here, so that its parser is watched too
from fuzz.drawn import read_holes_of, read_outline_of, short
from fuzz.mutate import new_number, seeds_of, text_mutator, words_of
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


_TEXT = text_mutator(
    word=re.compile(rb"[ \t]*\d+\r?\n[^\n]*\n"),
    words=words_of("dxf"),
    unit=2,
    others=seeds_of("dxf"),
)

_Pairs = list[list[bytes]]


def _pairs(data: bytes) -> _Pairs:
    """Codes and values."""
    rows = data.split(b"\n")
    return [list(pair) for pair in zip(rows[::2], rows[1::2], strict=False)]


_WORDS = [_pairs(word) for word in words_of("dxf") if not word.startswith(b"\n")]
_NAMES = [word.strip() for word in words_of("dxf") if word.startswith(b"\n")]
_OTHERS = [_pairs(seed) for seed in seeds_of("dxf") if b"\0" not in seed]


def _entity(pairs: _Pairs, rng: Random) -> tuple[int, int]:
    """Where an entity begins, and the next one."""
    starts = [place for place, (code, _) in enumerate(pairs) if code.strip() == b"0"]
    if not starts:
        return 0, len(pairs)
    nth = rng.randrange(len(starts))
    return starts[nth], (*starts, len(pairs))[nth + 1]


def _change(pairs: _Pairs, rng: Random) -> None:
    """One change that leaves codes and values in step."""
    way, place = rng.randrange(8), rng.randrange(len(pairs))
    first, last = _entity(pairs, rng)
    if way <= 2:
        code, value = pairs[place]
        if re.fullmatch(rb"\s*[-+.\deE]+\s*", value):
            pairs[place] = [code, new_number(value.strip(), rng)]
        elif code.strip() != b"0":
            pairs[place] = [code, rng.choice(_NAMES)]
    elif way == 3:
        pairs[place : place + rng.randrange(2)] = rng.choice(_WORDS)
    elif way == 4:
        del pairs[place]
    elif way == 5:
        pairs[last:last] = [list(pair) for pair in pairs[first:last]] * rng.choice((1, 1, 3, 30))
    elif way == 6:
        del pairs[first:last]
    else:
        other = rng.choice(_OTHERS)
        start, stop = _entity(other, rng)
        pairs[last:last] = [list(pair) for pair in other[start:stop]]


def _mutate(data: bytes, ending: str, rng: Random) -> bytes:
    pairs = _pairs(data)
    if rng.random() < 0.2 or not pairs:
        return _TEXT(data, ending, rng)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        if pairs:
            _change(pairs, rng)
    return b"".join(code + b"\n" + value + b"\n" for code, value in pairs)


TARGET = Target(
    name="dxf",
    endings=(".dxf",),
    read=_read,
    mutate=_mutate,
    seconds=60.0,  # of four readings and more, on a core that others share
)
