"""One line of a program taken apart into words: nothing is skipped, nothing is guessed.

The grammar is that of NISTIR 6556, section 3.3 and appendix E: an optional ``/``, an optional
line number, then words and comments in any order. Two habits outside it are read, because they
can hide nothing, and `Line.habits` says so: a semicolon makes the rest of the line a comment, and
a line number may be as long as it likes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from toolpath.errors import ProgramError
from toolpath.rs274.habits import Habit

LINE_LIMIT = 256
"""Longest permitted line in characters, without its end (NISTIR 6556, section 3.3)."""

LABEL_DIGITS = 5
"""Most digits of a line number in the standard (NISTIR 6556, section 3.3.1)."""

M_WORDS = 4
"""Most M words on one line (NISTIR 6556, section 3.3.5)."""

NUMBER_LIMIT = 1e7
"""Numbers as large as this mean nothing on any machine; they are refused before they overflow."""

LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")
"""Letters that start a word (NISTIR 6556, table 3)."""

_WORD = re.compile(r"([A-Z])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_COMMENT = re.compile(r"[(;]")
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and its number; `text` is the word as written, without blanks, upper case."""

    letter: str
    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line taken apart.

    `number` counts from 1 in the file; `deleted` whether it begins with ``/``; `label` its line
    number (N); `habits` what was read that the standard has not.
    """

    number: int
    text: str
    words: tuple[Word, ...]
    label: int | None = None
    deleted: bool = False
    habits: tuple[Habit, ...] = ()

    def fault(self, reason: str) -> ProgramError:
        """The error that says `reason` of this line."""
        return ProgramError(reason, line=self.number, text=self.text)


def split_line(text: str, number: int) -> Line:
    """The words of one line, `text` without its line end.

    Raises
    ------
    ProgramError
        For anything that the grammar does not expressly allow, with what and why.
    """
    bare = Line(number, text, ())
    if _CONTROL.search(text):
        raise bare.fault("a control character; a program is plain text")
    if len(text) > LINE_LIMIT:
        raise bare.fault(f"more than {LINE_LIMIT} characters on one line, which are the most")
    parts, semicolon = _outside_comments(bare)
    head = _compact(bare, parts[0])
    deleted = head.startswith("/")
    words = _words(bare, head.removeprefix("/"))
    label, words = _take_label(bare, words)
    habits = (Habit.SEMICOLON,) if semicolon else ()
    if label is not None and len(label) > LABEL_DIGITS:
        habits = (*habits, Habit.LONG_LABEL)
    for part in parts[1:]:
        words += _words(bare, _compact(bare, part))
    _check_letters(bare, words)
    number_given = None if label is None else int(label)
    return Line(number, text, tuple(words), number_given, deleted, habits)


def _outside_comments(line: Line) -> tuple[list[str], bool]:
    """The stretches of a line outside its comments, and whether a semicolon began one."""
    rest, parts = line.text, []
    while (opening := _COMMENT.search(rest)) is not None:
        parts.append(rest[: opening.start()])
        if opening[0] == ";":
            return parts, True
        inner, closed, rest = rest[opening.end() :].partition(")")
        if not closed:
            raise line.fault("a comment is not closed on its line")
        if "(" in inner:
            raise line.fault("a bracket inside a comment; comments cannot be nested")
    parts.append(rest)
    return parts, False


def _compact(line: Line, part: str) -> str:
    """A stretch in upper case without blanks and tabs, which mean nothing outside comments."""
    if not part.isascii():
        odd = next(letter for letter in part if not letter.isascii())
        raise line.fault(f"the character {odd!a} outside a comment")
    return part.replace(" ", "").replace("\t", "").upper()


def _words(line: Line, body: str) -> list[Word]:
    """The words of a compact stretch, all of it."""
    found = [Word(c, float(n), c + n) for c, n in _WORD.findall(body)]
    if sum(len(word.text) for word in found) != len(body):
        raise line.fault(_what_is_wrong(body))
    return found


def _what_is_wrong(body: str) -> str:
    """Why a compact stretch is not made of words."""
    place = 0
    while (match := _WORD.match(body, place)) is not None:
        place = match.end()
    found = body[place]
    if "#" in body:
        return "a parameter (#); parameters are not read, so the program cannot be judged"
    if "[" in body or "]" in body:
        return "an expression in square brackets; expressions are not read"
    if found.isalpha():
        return f"{found} without a number" if found in LETTERS else _no_word(found)
    return f'"{found}" where a word should begin'


def _no_word(letter: str) -> str:
    exponent = ", and a number has no exponent" if letter == "E" else ""
    return f"{letter} starts no word{exponent}"


def _take_label(line: Line, words: list[Word]) -> tuple[str | None, list[Word]]:
    """The digits of the line number, if the first word is one, and the other words."""
    if not words or words[0].letter != "N":
        return None, words
    digits = words[0].text[1:]
    if not digits.isdigit():
        raise line.fault(f"{words[0].text}: a line number is made of digits only")
    return digits, words[1:]


def _check_letters(line: Line, words: list[Word]) -> None:
    """Refuse letters that start no word, numbers out of all reason, and repeated words."""
    seen: set[str] = set()
    m_words = 0
    for word in words:
        letter = word.letter
        if letter in seen:
            raise line.fault(f"{letter} twice on one line")
        if letter == "M":
            m_words += 1
        elif letter == "N":
            raise line.fault("a line number (N) that does not stand at the start of its line")
        elif letter not in LETTERS:
            raise line.fault(_no_word(letter))
        elif letter != "G":
            seen.add(letter)
        if abs(word.value) >= NUMBER_LIMIT:
            raise line.fault(f"{letter}: the number is too large to mean anything")
    if m_words > M_WORDS:
        raise line.fault(f"{m_words} M words on one line; {M_WORDS} are the most")
