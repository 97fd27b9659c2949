"""The lines of a program from its bytes, of which no more than a piece is held at a time."""

from __future__ import annotations

import codecs
import re
from typing import BinaryIO

from toolpath.errors import ProgramError
from toolpath.rs274.words import LINE_LIMIT

LINES_LIMIT = 5_000_000
"""Most lines of a program."""

_READ = LINE_LIMIT + 2
"""Characters of a line that are looked at: enough to see that it is too long."""

_HEAD = 4 * _READ
"""Bytes that hold as many characters."""

_PIECE = 2**18
"""Bytes that are read at a time."""

_END = re.compile(rb"\r\n|\n|\r")


def _latin(error: UnicodeError) -> tuple[str, int]:
    """Bytes that are not UTF-8 are letters of an older encoding; they may stand in comments."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("toolpath-latin-1", _latin)


class Lines:
    """Lines, counted from 1, without their ends (CR, LF or both) and without a byte order mark;
    of one that is too long no more than shows it. `size` is how many bytes there are, if known.

    Raises ProgramError for more than `LINES_LIMIT` lines.
    """

    def __init__(self, file: BinaryIO, size: int = 0) -> None:
        self._file, self._size = file, size
        self._data = file.read(_PIECE).removeprefix(codecs.BOM_UTF8)
        self._at, self._passed, self._whole = 0, 0, False
        self._stop: int | None = None
        self.last = (0, "")
        self.limit = LINES_LIMIT

    def __iter__(self) -> Lines:
        return self

    def __next__(self) -> tuple[int, str]:
        while (end := self._end()) is None and not self._whole:
            if len(self._data) - self._at > _HEAD:
                return self._long()
            self._fill()
        if end is None and self._at == len(self._data):
            raise StopIteration
        first = self._at
        stop, self._at = end or (len(self._data), len(self._data))
        return self._give(self._data[first : min(stop, first + _HEAD)])

    @property
    def done(self) -> float:
        """The share of the bytes before the next line; 1 if it is not known."""
        at = self._passed + self._at
        return min(1.0, at / self._size) if self._size else 1.0

    def ahead(self) -> tuple[bytes, int, int]:
        """Bytes, and the place in them of the next line and after the last end of a line."""
        if self._stop is None:
            before = max(len(self._data) - 1, 0)  # a last CR may be half of an end
            self._stop = 1 + max(self._data.rfind(b"\n"), self._data.rfind(b"\r", 0, before))
        return self._data, self._at, self._stop

    def skip(self, at: int, last: int, number: int) -> None:
        """Lines were run up to `at`: the last of them is at `last` and has that number."""
        self._at = at
        self.last = number, _text(self._data[last:at].rstrip(b"\r\n"))

    def _give(self, line: bytes) -> tuple[int, str]:
        number = self.last[0] + 1
        if number > self.limit:
            raise ProgramError(f"more than {self.limit} lines, which are the most")
        self.last = number, _text(line)
        return self.last

    def _end(self) -> tuple[int, int] | None:
        """Where the end of the next line begins and ends, if it is sure."""
        found = _END.search(self._data, self._at)
        if found is None or (found.end() == len(self._data) and found[0] == b"\r"):
            return found.span() if found is not None and self._whole else None
        return found.span()

    def _fill(self) -> None:
        """Read on, unless there is nothing more."""
        more = self._file.read(_PIECE)
        self._whole = not more
        self._passed += self._at
        self._data, self._at, self._stop = self._data[self._at :] + more, 0, None

    def _long(self) -> tuple[int, str]:
        """A line longer than any that is read: its head is given and the rest passed over."""
        head = self._data[self._at : self._at + _HEAD]
        while self._end() is None and not self._whole:
            self._at = len(self._data) - self._data.endswith(b"\r")
            self._fill()
        end = self._end()
        self._at = end[1] if end else len(self._data)
        return self._give(head)


def _text(line: bytes) -> str:
    return line.decode("utf-8", errors="toolpath-latin-1")[:_READ]
