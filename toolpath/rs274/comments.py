"""Text that people chose, made fit to stand in a comment of a program."""

from __future__ import annotations

import re
import textwrap
import unicodedata

COMMENT_LETTERS = 50
"""Most letters in one comment; small controllers stumble over longer ones (common practice)."""

COMMENT_LINES = 4
"""Most comments that one text may become; what is longer is cut."""

_UNFIT = re.compile(r"[^A-Za-z0-9 .,\-+/=]+")
_MESSAGE = re.compile(r"msg|^m *s *g(?= *,)", re.IGNORECASE)


def comment_lines(text: str) -> list[str]:
    """Comment lines, brackets included, that say `text`; none if nothing of it can be written.

    Only letters, digits, blanks and ``.,-+/=`` are kept; accents are dropped and all else
    becomes a blank, so no bracket, line end or semicolon can leak. Nothing begins with the
    letters that make a comment an operator message (NISTIR 6556, section 3.3.4).
    """
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    plain = " ".join(_UNFIT.sub(" ", plain).split())
    wrapped = textwrap.wrap(plain, COMMENT_LETTERS - 4, break_on_hyphens=False)[:COMMENT_LINES]
    return [f"({_MESSAGE.sub('M-S-G', line)[:COMMENT_LETTERS]})" for line in wrapped]
