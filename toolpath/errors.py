"""The errors that a user can meet, and nothing else.

::

    KeepclearError
    ├── FaultsError     the job, a file it names, or the command line is wrong     exit 2
    ├── DrawingError    a drawing or a mesh that cannot be used (becomes a fault)  exit 2
    ├── ProgramError    a program that cannot be read or judged                    exit 2
    ├── EntryError      no possible way into a cut (the cut is refused)            exit 3
    └── InternalError   two parts of Keepclear disagree: a defect                  exit 1

A collision that the check finds is not an error: it is a `toolpath.check.report.Finding`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong in a job, with where it stands.

    `where` is a key path such as ``cut[3] "control cavity": depth`` (entries are counted from 1)
    or empty for the whole file; `message` has the value, the limit and the mend.
    """

    file: str
    where: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.where, self.message) if part)


class KeepclearError(Exception):
    """The root of all errors that end in a message rather than a traceback."""


class FaultsError(KeepclearError):
    """The job or the command line is wrong; `faults` holds everything that was found."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class DrawingError(KeepclearError):
    """A drawing or mesh file that cannot be used; the message says why and how to mend it."""


class ProgramError(KeepclearError):
    """A program that cannot be read or judged.

    `line` counts from 1 (0: the program as a whole), `text` is the line as it stands; the
    message shows the first of it, without what a terminal would take for an order.
    """

    def __init__(self, reason: str, *, line: int = 0, text: str = "") -> None:
        self.reason, self.line, self.text = reason, line, text
        place = f"line {line}: " if line else ""
        shown = "".join(letter if letter.isprintable() else "?" for letter in text.strip()[:60])
        quoted = f' in "{shown}"' if shown else ""
        super().__init__(f"{place}{reason}{quoted}")


class EntryError(KeepclearError):
    """A cut that the cutter cannot get into without a straight plunge."""


class InternalError(KeepclearError):
    """Two parts of Keepclear disagree about the same thing; nothing it says can be trusted."""
