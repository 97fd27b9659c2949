"""SVG drawings: the outlines of the first few elements that have an id."""

import re
from pathlib import Path

from fuzz.drawn import read_outline_of
from fuzz.mutate import seeds_of, text_mutator, words_of
from fuzz.target import Target

_MOST_IDS = 5
_ID = re.compile(rb"\bid\s*=\s*[\"']([^\"'\n]{1,60})")


def _read(path: Path) -> str:
    names = dict.fromkeys(
        each.decode("utf-8", "replace") for each in _ID.findall(path.read_bytes())
    )
    words = {
        read_outline_of(path, {"svg": path.name, "id": name})
        for name in [*names][:_MOST_IDS] or ["a"]
    }
    return "answer" if "answer" in words else min(words)


TARGET = Target(
    name="svg",
    endings=(".svg",),
    read=_read,
    mutate=text_mutator(
        word=re.compile(rb"</?[\w:]+|/?>|[\w:-]+=(?:\"[^\"]*\"|'[^']*')|[A-Za-z]+|\n"),
        words=words_of("svg"),
        others=seeds_of("svg"),
    ),
)
