"""Values, names and lists of words as they stand in a one-line message."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable

_LONGEST = 60
_MOST_CANDIDATES = 200
_PLAIN_NUMBER = 1e9


def quoted(text: str) -> str:
    """The text in double quotes, cut short, with whatever cannot be printed escaped."""
    short = text if len(text) <= _LONGEST else text[:_LONGEST] + "…"
    return f'"{escaped(short)}"'


def escaped(text: str) -> str:
    """The text with control and other unprintable characters as backslash escapes."""
    return "".join(
        ch if ch.isprintable() else ch.encode("unicode_escape").decode("ascii") for ch in text
    )


def number_text(value: float, decimals: int = 3) -> str:
    """A number without trailing zeros; a rounding never turns a small one into 0."""
    try:
        value = float(value)
    except OverflowError:
        return "a number beyond any size"
    if not math.isfinite(value) or abs(value) >= _PLAIN_NUMBER:
        return f"{value:.4g}"
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    if text in ("0", "-0"):
        return "0" if value == 0 else f"{value:.2g}"
    return text


def value_text(value: object) -> str:
    """A value of a TOML file as it is named in a message."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return number_text(value, 6)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "an array"
    return "a table" if isinstance(value, dict) else "a date or time"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that a misspelt one most likely means, None where none is near."""
    candidates = {name.casefold(): name for name in list(known)[:_MOST_CANDIDATES]}
    found = difflib.get_close_matches(word[:_LONGEST].casefold(), candidates, n=1, cutoff=0.6)
    return candidates[found[0]] if found else None


def suggestion(word: str, known: Iterable[str]) -> str:
    """``did you mean "depth"?``, or the known words where none is near."""
    names = list(known)
    near = nearest(word, names)
    if near is not None:
        return f"did you mean {quoted(near)}?"
    shown = ", ".join(escaped(name[:_LONGEST]) for name in names[:20])
    return f"known are {shown}{', …' if len(names) > 20 else ''}"
