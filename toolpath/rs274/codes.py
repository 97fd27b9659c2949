"""What the G and M words of a line say, by modal group, and which of them cannot be judged.

Groups are those of NISTIR 6556, table 4. A code that is not understood is never passed over:
it raises `ProgramError` with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from toolpath.rs274.words import Line, Word

WHOLE = 0.0001
"""A number this near to a whole one counts as whole (NISTIR 6556, section 3.3.2.1)."""


class Group(Enum):
    """A modal group: of its members one is in force, and one may stand on a line."""

    ACTION = "non-modal (group 0)"
    MOTION = "motion (group 1)"
    PLANE = "plane (group 2)"
    DISTANCE = "distance mode (group 3)"
    FEED_MODE = "feed mode (group 5)"
    UNITS = "units (group 6)"
    SIDE = "cutter radius compensation (group 7)"
    LENGTH = "tool length offset (group 8)"
    CYCLE_RETURN = "return in canned cycles (group 10)"
    ZERO = "coordinate system (group 12)"
    PATH = "path control (group 13)"
    ARC_CENTRES = "arc centres"
    STOPPING = "stopping (M group 4)"
    CHANGE = "cutter change (M group 6)"
    SPINDLE = "spindle (M group 7)"
    COOLANT = "coolant (M group 8)"
    OVERRIDES = "overrides (M group 9)"

    __hash__ = object.__hash__  # members are one of each; hashing names takes longer


_G: Mapping[int, Group] = {
    **dict.fromkeys((0, 10, 20, 30, 800, 810, 820, 830), Group.MOTION),
    **dict.fromkeys((40, 530), Group.ACTION),
    **dict.fromkeys((170, 180, 190), Group.PLANE),
    **dict.fromkeys((200, 210), Group.UNITS),
    400: Group.SIDE,
    490: Group.LENGTH,
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), Group.ZERO),
    **dict.fromkeys((610, 611, 640), Group.PATH),
    **dict.fromkeys((900, 910), Group.DISTANCE),
    911: Group.ARC_CENTRES,
    940: Group.FEED_MODE,
    **dict.fromkeys((980, 990), Group.CYCLE_RETURN),
}
"""Groups of the G codes that are understood, by ten times the code."""

_M: Mapping[int, Group] = {
    **dict.fromkeys((0, 1, 2, 30), Group.STOPPING),
    6: Group.CHANGE,
    **dict.fromkeys((3, 4, 5), Group.SPINDLE),
    **dict.fromkeys((7, 8, 9), Group.COOLANT),
    **dict.fromkeys((48, 49), Group.OVERRIDES),
}

_STORED = "it moves to a place that is stored in the machine and not in the program"
_MOVED_ZERO = "it moves the zero, so where the program cuts is not known"
_TABLE = "it needs a table that is stored in the machine and not in the program"
_CYCLE = "of the canned cycles only G81, G82 and G83 are read; write the moves out"
_DIALECT = "its meaning differs from machine to machine"

_WHY_NOT_G: Mapping[int, str] = {
    **dict.fromkeys((280, 300), _STORED),
    **dict.fromkeys((100, 920, 921, 922, 923), _MOVED_ZERO),
    **dict.fromkeys((410, 411, 420, 421, 430, 431), _TABLE),
    **dict.fromkeys((730, 740, 760, *range(840, 900, 10)), _CYCLE),
    382: "where a probe stops is not known",
    901: "arc centres measured from the zero are not read; write I and J from the arc's start",
    930: "feeds as inverse time are not read; write G94 feeds",
}

_WHY_NOT_M: Mapping[int, str] = {
    **dict.fromkeys((98, 99), "sub-programs are not read; write the moves out"),
    60: "it changes pallets, so what lies on the machine is not known",
}


@dataclass(frozen=True, slots=True)
class Block:
    """A line by what it says: codes by group (G codes times ten), other words by letter."""

    line: Line
    g: Mapping[Group, int]
    m: Mapping[Group, int]
    values: Mapping[str, float]


def sort_words(line: Line) -> Block:
    """The words of a line by modal group.

    Raises
    ------
    ProgramError
        For a code that is not understood, and for two codes of one group.
    """
    g: dict[Group, int] = {}
    m: dict[Group, int] = {}
    values: dict[str, float] = {}
    for word in line.words:
        if word.letter == "G":
            _add(line, g, *_g_code(line, word))
        elif word.letter == "M":
            _add(line, m, *_m_code(line, word))
        else:
            values[word.letter] = word.value
    return Block(line, g, m, values)


def whole(line: Line, letter: str, value: float) -> int:
    """The whole number that a word must hold, not negative."""
    nearest = round(value)
    if abs(value - nearest) > WHOLE or nearest < 0:
        raise line.fault(f"{letter}{value:g}: {letter} takes a whole number from 0 up")
    return nearest


def _add(line: Line, found: dict[Group, int], group: Group, code: int) -> None:
    if group in found:
        raise line.fault(f"two codes of one modal group, {group.value}, on one line")
    found[group] = code


def _g_code(line: Line, word: Word) -> tuple[Group, int]:
    tenths = round(word.value * 10)
    if abs(word.value - tenths / 10) > WHOLE or tenths not in _G:
        reason = _WHY_NOT_G.get(tenths, _DIALECT)
        raise line.fault(f"{word.text} cannot be judged: {reason}")
    return _G[tenths], tenths


def _m_code(line: Line, word: Word) -> tuple[Group, int]:
    code = whole(line, "M", word.value)
    if code not in _M:
        raise line.fault(f"{word.text} cannot be judged: {_WHY_NOT_M.get(code, _DIALECT)}")
    return _M[code], code
