"""The output folder: what lies in it is the whole new set or none.

Everything is written into a scratch folder inside the output folder and renamed into place at
the end, programs last, so that where there are programs there is all that belongs to them. Only
what Keepclear itself writes is ever taken away; one run at a time works in a folder.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from toolpath.errors import Fault, FaultsError

try:
    import fcntl
except ImportError:  # a system without it: runs are then not kept apart
    fcntl = None  # type: ignore[assignment]

OURS = {
    "programs": re.compile(r"\d{2,}-(front|back|plate)-[a-z0-9-]+\.nc"),
    "rehearsal": re.compile(r"[a-z0-9-]+\.nc"),
    "plan.json": None,
    "sheet.html": None,
    "pictures": re.compile(r"(plan|section|margin|uncut|thickness|relief|engaged)-[a-z0-9-]+\.png"),
}
"""What belongs to Keepclear in an output folder, and the names of files within; in the order in
which it is taken away: an older program beside a newer verdict is what must never be."""

PROGRAMS = ("programs", "rehearsal")
PATIENCE = 1.0
"""Seconds to wait for another run to let go of a folder."""

_SCRATCH = ".keepclear-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scratch:
    """A folder beside the final one, where a set is put together."""

    folder: Path
    target: Path

    @property
    def pictures(self) -> Path:
        """Where pictures are written."""
        return self.folder / "pictures"

    def write(self, name: str, text: str) -> Path:
        """Write a text file into the scratch folder, through to the disk."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        return path

    def publish(self, *, programs: bool) -> None:
        """Rename what was written into the target folder, programs last (or not at all)."""
        held_back = () if programs else PROGRAMS
        for path in self.pictures.glob("*"):  # all else is on the disk since it was written
            _sync(path)
        for path in self.folder.iterdir():
            _sync(path)
        for name in (name for name in reversed(OURS) if name not in held_back):
            made = self.folder / name
            if made.exists():
                made.rename(self.target / name)
        _sync(self.target)


@contextmanager
def fresh(target: Path) -> Iterator[Scratch]:
    """The output folder without its older set, held for this run, and a scratch folder in it that
    is gone at the end whatever happens.

    Raises FaultsError where the folder cannot be made or written, where another run is at work in
    it, or where a folder that would be ours holds a file that is not.
    """
    try:
        target.mkdir(parents=True, exist_ok=True)
        with _held(target):
            _clear(target)
            folder = _unused(target)
            folder.mkdir()
            try:
                yield Scratch(folder=folder, target=target)
            except BaseException:
                with suppress(OSError, FaultsError):  # the renames may have begun
                    _clear(target)
                raise
            finally:
                shutil.rmtree(folder, ignore_errors=True)
    except OSError as error:
        if not _is_about(error, target):
            raise
        raise _unwritable(target, error) from error


def clear(target: Path) -> None:
    """Take an older set away without making anything: before a job is found to be wrong.

    Raises FaultsError as `fresh` does; a folder that does not exist has nothing in it.
    """
    try:
        if target.is_dir():
            with _held(target):
                _clear(target)
        elif target.exists():
            raise _fault(target, "is a file: give the name of a folder with -o")
    except OSError as error:
        raise _unwritable(target, error) from error


def _clear(target: Path) -> None:
    """What is ours is taken away, left-overs of killed runs too; what is not is left and said.

    A folder goes in one rename, so that no older program is ever left without the others.
    """
    foreign: list[Path] = []
    for name, within in OURS.items():
        old = target / name
        if within is None or old.is_symlink() or old.is_file():
            old.unlink(missing_ok=True)
        elif old.is_dir():
            foreign += _taken(old, within, _unused(target))
    _sync(target)
    for left in target.glob(f"{_SCRATCH}*"):
        shutil.rmtree(left)
    if foreign:
        raise FaultsError(
            [
                Fault(
                    file=str(path),
                    where="",
                    message="was not written by Keepclear, which needs this place for itself: "
                    "move it away, or name another folder with -o",
                )
                for path in foreign
            ]
        )


def _taken(folder: Path, ours: re.Pattern[str], away: Path) -> list[Path]:
    """Take a folder whole, or, where something else lies in it, our files one by one; what else
    lies there."""
    within = sorted(folder.iterdir())
    foreign = [path for path in within if path.is_dir() or not ours.fullmatch(path.name)]
    if not foreign:
        folder.rename(away)
    for path in within if foreign else ():
        if path not in foreign:
            path.unlink()
    return foreign


def _unused(target: Path) -> Path:
    """A name in the output folder that no other run has."""
    return target / f"{_SCRATCH}{uuid.uuid4().hex}"


@contextmanager
def _held(target: Path) -> Iterator[None]:
    """Hold a folder for this run; the system lets go of it when the run ends, killed or not.

    A copy of a killed run may hold it a moment longer (see `toolpath.side_by_side`).
    """
    if fcntl is None:
        yield
        return
    handle = os.open(target, os.O_RDONLY)
    try:
        if not _locked(handle):
            reason = "another run is writing here: wait for it, or name another folder with -o"
            raise _fault(target, reason)
        yield
    finally:
        os.close(handle)


def _locked(handle: int) -> bool:
    """Whether a folder was locked within `PATIENCE`; yes where the file system has no locks."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > until:
                return False
            time.sleep(PATIENCE / 20)
        except OSError:
            return True
        else:
            return True


def _sync(path: Path) -> None:
    """See a file, or the names in a folder, through to the disk."""
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network file systems cannot
            os.fsync(handle)
    finally:
        os.close(handle)


def _is_about(error: OSError, target: Path) -> bool:
    """Whether an error came from the output folder, not from something else that was read. What
    fails while bytes are written names no file."""
    if error.filename is None:
        return True
    named = Path(os.fsdecode(str(error.filename)))
    return named.is_relative_to(target) or target.is_relative_to(named)


def _unwritable(target: Path, error: OSError) -> FaultsError:
    """What to do about it; and what of an older set is still there."""
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    mend = "make room, or name another folder with -o" if full else "name another folder with -o"
    message = f"cannot be written ({error.strerror or error}): {mend}"
    left = [name for name in OURS if os.path.lexists(target / name)]
    if left:
        message += f"; {', '.join(left)} in it could not be taken away: do not use them"
    return _fault(target, message)


def _fault(target: Path, message: str) -> FaultsError:
    return FaultsError([Fault(file=str(target), where="", message=message)])
