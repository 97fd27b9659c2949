"""The sections of a DXF file, looked at before it is parsed: of two with one name the library keeps
the last, and the first would be lost without a word.

Source: DXF reference, "General DXF file structure": pairs of a group code and a value; a section
begins with 0, SECTION, 2 and its name. Text pairs are lines; binary ones end with a zero byte.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from toolpath.errors import DrawingError

_TEXT = re.compile(
    rb"^[ \t]*0[ \t]*\r?\n[ \t]*SECTION[ \t]*\r?\n"
    rb"(?:[ \t]*999[ \t]*\r?\n[^\n]*\n)*"  # comments
    rb"[ \t]*2[ \t]*\r?\n[ \t]*(\w+)",
    re.MULTILINE,
)
_BINARY = re.compile(rb"SECTION\0\x02\0?(\w+)\0")
"""Group codes are two bytes, in old files one."""


def require_single_sections(path: Path) -> None:
    """Raises DrawingError, without the file's name, where a section comes twice."""
    data = path.read_bytes()
    found = (_BINARY if b"\0" in data[:64] else _TEXT).findall(data)
    for name, count in Counter(found).items():
        if count > 1:
            raise DrawingError(
                f"section {name.decode('ascii', 'replace')} comes {count} times, of which all but "
                "the last would be lost: save the drawing as DXF again"
            )
