"""Lengths, times and findings in words, for pictures and the sheet.

Gaps are rounded down and needed gaps up, so that a rounded number never flatters.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from enum import Enum

from toolpath.check.report import Closest, Code, Finding, Part
from toolpath.job.model import Shape, Side, TurnOver, Zero
from toolpath.units import Unit

_ORDERING = set("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that change the reading order of what follows them."""

CODE_WORDS: dict[Code, str] = {
    Code.PIECE: "too near a piece",
    Code.CLAMP: "too near a clamp",
    Code.HARD_PIECE: "cuts a hard piece",
    Code.BREAK_THROUGH: "breaks through",
    Code.FLOOR: "leaves too thin a floor",
    Code.WALL: "leaves too thin a wall",
    Code.COVER: "leaves too little over a piece",
    Code.TAB: "leaves too little of a tab",
    Code.RAPID_IN_STOCK: "rapid in material",
    Code.SHANK_IN_STOCK: "shank in material",
    Code.NUT_IN_STOCK: "collet nut in material",
    Code.SHOE_IN_STOCK: "dust shoe in material",
    Code.TRAVEL: "beyond the machine's travel",
    Code.SPOILBOARD: "deep in the spoilboard",
    Code.OVERCUT: "cuts too much",
    Code.UNCUT: "leaves something uncut",
    Code.STEPDOWN: "takes much at once",
    Code.LOW_RAPID: "low rapid",
    Code.NOTE: "note",
}
PART_WORDS: dict[Part, str] = {
    Part.FLUTES: "flutes",
    Part.NECK: "neck",
    Part.SHANK: "shank",
    Part.NUT: "collet nut",
    Part.SHOE: "dust shoe",
}
SHAPE_WORDS: dict[Shape, str] = {
    Shape.FLAT: "flat end",
    Shape.BALL: "ball end",
    Shape.BULL: "flat end, rounded corner",
    Shape.VEE: "vee",
    Shape.DRILL: "drill",
    Shape.ROUND_OVER: "round-over",
}
ZERO_WORDS: dict[Zero, str] = {
    Zero.LOWER_LEFT: "lower left corner",
    Zero.LOWER_RIGHT: "lower right corner",
    Zero.UPPER_LEFT: "upper left corner",
    Zero.UPPER_RIGHT: "upper right corner",
    Zero.CENTRE: "centre",
}
SIDE_WORDS: dict[Side, str] = {Side.FRONT: "FRONT", Side.BACK: "BACK"}
TURN_WORDS: dict[TurnOver, str] = {
    TurnOver.LEFT_RIGHT: "left to right",
    TurnOver.TOP_BOTTOM: "top to bottom",
}


def plain(text: str) -> str:
    """`text` on one line, fit to be shown: spaces for white space, U+FFFD for what is not a
    character to read (control characters, lone surrogates, marks that turn the reading order)."""
    shown = []
    for char in text:
        kind = unicodedata.category(char)
        if char in "\t\n\r\x0b\x0c" or kind in ("Zl", "Zp"):
            shown.append(" ")
        elif kind in ("Cc", "Cs", "Cn", "Co") or char in _ORDERING:
            shown.append("\ufffd")
        else:
            shown.append(char)
    return "".join(shown)


def shorten(text: str, limit: int) -> str:
    """`text` made plain and cut to at most `limit` characters, with a mark where it was cut."""
    whole = plain(text)
    return whole if len(whole) <= limit else whole[: limit - 1] + "…"


def slug(text: str, empty: str = "cut") -> str:
    """A file name part of at most 40 lower-case letters, digits and single hyphens, accents taken
    off; `empty` where nothing is left."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return "-".join(re.findall(r"[a-z0-9]+", plain.lower()))[:40].strip("-") or empty


class _Round(Enum):
    """Which way a shown number is rounded."""

    NEAREST = "nearest"
    DOWN = "down"
    UP = "up"


def _number(value: float, decimals: int, way: _Round = _Round.NEAREST) -> str:
    """A number with up to that many decimals, trailing zeros dropped.

    The value is first rounded at six decimals more, so that 1.02 stays 1.02 when rounded up.
    """
    scale = 10.0**decimals
    scaled = round(value * scale, 6)
    if way is _Round.DOWN:
        scaled = math.floor(scaled)
    elif way is _Round.UP:
        scaled = math.ceil(scaled)
    text = f"{scaled / scale:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """Shows lengths (given in mm) in the unit of a job; inch jobs get the mm in brackets."""

    unit: Unit

    def bare(self, mm: float, way: _Round = _Round.NEAREST) -> str:
        """The number alone, in the job's unit."""
        return _number(mm / self.unit.mm, 2 if self.unit is Unit.MM else 3, way)

    def words(self, **values: float) -> str:
        """Words of a program, such as X=1.5 for `X1.5`, as finely as one is written."""
        places = 4 if self.unit is Unit.MM else 5
        return " ".join(
            f"{letter}{_number(mm / self.unit.mm, 1 if letter == 'F' else places)}"
            for letter, mm in values.items()
        )

    def short(self, mm: float) -> str:
        """The number and the job's unit."""
        return f"{self.bare(mm)} {self.unit.value}"

    def show(self, mm: float, way: _Round = _Round.NEAREST) -> str:
        """The number and the unit; for an inch job with millimetres in brackets."""
        text = f"{self.bare(mm, way)} {self.unit.value}"
        return text if self.unit is Unit.MM else f"{text} ({_number(mm, 2, way)} mm)"

    def gap(self, mm: float) -> str:
        """A gap: rounded down."""
        return self.show(mm, _Round.DOWN)

    def need(self, mm: float) -> str:
        """A needed gap: rounded up."""
        return self.show(mm, _Round.UP)

    def short_gap(self, mm: float) -> str:
        """A gap for a picture: the job's unit only, rounded down."""
        return f"{self.bare(mm, _Round.DOWN)} {self.unit.value}"

    def bare_need(self, mm: float) -> str:
        """A needed gap for a picture: the number only, rounded up."""
        return self.bare(mm, _Round.UP)

    def area(self, mm2: float) -> str:
        """An area; for an inch job with mm² in brackets."""
        metric = f"{_number(mm2, 1)} mm²"
        if self.unit is Unit.MM:
            return metric
        return f"{_number(mm2 / self.unit.mm**2, 4)} in² ({metric})"

    def fine_area(self, mm2: float) -> str:
        """A small area, to a hundredth of a mm²; for an inch job with mm² in brackets."""
        metric = f"{_number(mm2, 2)} mm²"
        if self.unit is Unit.MM:
            return metric
        return f"{_number(mm2 / self.unit.mm**2, 5)} in² ({metric})"

    def feed(self, mm_per_min: float) -> str:
        """A feed; for an inch job with mm/min in brackets."""
        metric = f"{_number(mm_per_min, 0)} mm/min"
        if self.unit is Unit.MM:
            return metric
        return f"{_number(mm_per_min / self.unit.mm, 1)} in/min ({metric})"


BOX, AIR = "box", "air"
"""The two rehearsals of a program."""


def rehearsal_name(program: str, kind: str) -> str:
    """The name of the box or air pass of a program."""
    return f"{program.removesuffix('.nc')}-{kind}.nc"


def duration(seconds: float) -> str:
    """A time as a maker says it: "40 s", "12 min 30 s", "1 h 05 min". Rounded up."""
    whole = math.ceil(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = math.ceil(whole / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def closest_words(closest: Closest, needed: float, lengths: Lengths, limit: int = 28) -> str:
    """A nearest approach in a few words: piece, gap, needed gap."""
    name = shorten(closest.piece, limit)
    return f"{name}, {left_words(closest.gap, lengths)}, {lengths.bare_need(needed)} needed"


def left_words(gap: float, lengths: Lengths) -> str:
    """What is left between cutter and piece: "0.2 mm left"; 0 where they touch or overlap."""
    return f"{lengths.short_gap(gap)} left"


def refused_words(finding: Finding, lengths: Lengths, limit: int = 28) -> str:
    """Why a place is refused, in a few words: "REFUSED: pebble 3, 0.2 mm left, 1.02 needed"."""
    what = shorten(finding.piece, limit) if finding.piece else CODE_WORDS[finding.code]
    parts = [f"REFUSED: {what}"]
    if finding.gap is not None:
        parts.append(left_words(finding.gap, lengths))
    if finding.needed is not None:
        parts.append(f"{lengths.bare_need(finding.needed)} needed")
    return ", ".join(parts)
