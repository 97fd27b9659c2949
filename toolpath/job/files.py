"""Files that a job names: found beside it, sized up, and noted as its sources."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

from toolpath.job.table import Table
from toolpath.job.words import quoted, suggestion
from toolpath.units import UNIT_NAMES

FILE_UNITS = tuple(UNIT_NAMES)
"""The units that a drawing or a mesh may be in."""

_MOST_LISTED = 500


def named_file(table: Table, key: str, most_bytes: int) -> Path | None:
    """The file that a key names, relative to the job; None after a fault.

    A file outside the job's folder (an absolute path, ``..`` or a link) is taken, with a warning:
    the job alone no longer holds all that it needs.
    """
    name = table.text(key, "the name of a file")
    if not name:
        return None
    file = table.reading.file.parent / name
    trouble = _trouble(file, name, most_bytes) or _note(table, key, file)
    if trouble is not None:
        table.fault(key, trouble)
        return None
    return file


def digest_of(content: bytes | Path) -> str:
    """A short text that changes with every change of a file's content. Raises OSError."""
    if isinstance(content, bytes):
        return hashlib.sha256(content).hexdigest()
    with content.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def file_unit(table: Table, *, required: str = "") -> float | None:
    """Millimetres in one unit of the file named in this table; None where it does not say.

    `required`, where given, is the fault of a table without the key.
    """
    if not table.has("unit"):
        if required and not table.void:
            table.fault("unit", required)
        return None
    word = table.word("unit", FILE_UNITS, None)
    return UNIT_NAMES[word] if word else None


def _trouble(file: Path, name: str, most_bytes: int) -> str | None:
    try:
        found = file.stat()
    except (OSError, ValueError):
        return f"{quoted(name)} cannot be found{_near(file)}"
    if not stat.S_ISREG(found.st_mode):
        return f"{quoted(name)} is a folder or a device, not a file: name a file"
    if found.st_size > most_bytes:
        size, most = found.st_size / 1e6, most_bytes / 1e6
        return f"{quoted(name)} has {size:.0f} MB; at most {most:.0f} MB are read: make it simpler"
    if not os.access(file, os.R_OK):
        return f"{quoted(name)} may not be read: change its permissions"
    return None


def _near(file: Path) -> str:
    """A hint at a file of a like name, or at the folder in which it should lie."""
    try:
        names = sorted(entry.name for entry in file.parent.iterdir())[:_MOST_LISTED]
    except (OSError, ValueError):
        return ": files are looked for from the job's own folder"
    hint = suggestion(file.name, names)
    if hint.startswith("did you mean"):
        return f": {hint}"
    return ": files are looked for from the job's own folder"


def _note(table: Table, key: str, file: Path) -> str | None:
    """Note a file as it is before it is read; what keeps it from being read."""
    sources = table.reading.sources
    if file in sources:
        return None
    try:
        sources[file] = digest_of(file)
    except OSError as error:
        return f"{quoted(str(file))} cannot be read ({error.strerror}): check the disk"
    folder = table.reading.file.parent.resolve()
    if not file.resolve().is_relative_to(folder):
        table.warn(key, f"{quoted(str(file))} lies outside the job's folder: keep them together")
    return None
