"""The output folder: what lies in it is the whole new set or none.

Everything is written into a scratch folder inside the output folder and renamed into place at
the end, programs last, so that where there are programs there is all that belongs to them. Only
what Keepclear itself writes is ever taken away; one run at a time works in a folder.
"""

from __future__ import annotations

import os
import re
import shutil
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
    "programs": re.compile(r"\d\d-(front|back|plate)-[a-z0-9-]+\.nc"),
    "rehearsal": re.compile(r"[a-z0-9-]+\.nc"),
    "plan.json": None,
    "sheet.html": None,
    "pictures": re.compile(r"(plan|section|margin|uncut|thickness)-[a-z0-9-]+\.png"),
}
"""What belongs to Keepclear in an output folder, and the names of files within; in the order in
which it is taken away: an older program beside a newer verdict is what must never be."""

PROGRAMS = ("programs", "rehearsal")
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
        for name in (name for name in reversed(OURS) if name not in held_back):
            made = self.folder / name
            if made.exists():
                made.rename(self.target / name)
        _sync_folder(self.target)


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
            folder = target / f"{_SCRATCH}{os.getpid()}"
            folder.mkdir()
            try:
                yield Scratch(folder=folder, target=target)
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
    """Each folder of ours is emptied of what is ours, then taken away; left-overs of killed runs
    too. What is not ours is left and said."""
    for left in target.glob(f"{_SCRATCH}*"):
        shutil.rmtree(left)
    foreign: list[Path] = []
    for name, within in OURS.items():
        old = target / name
        if within is None or old.is_symlink() or old.is_file():
            old.unlink(missing_ok=True)
        elif old.is_dir():
            foreign += _emptied(old, within)
    _sync_folder(target)
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


def _emptied(folder: Path, ours: re.Pattern[str]) -> list[Path]:
    """Take our files and, where nothing else is left, the folder; what else lies there."""
    foreign = []
    for path in sorted(folder.iterdir()):
        if ours.fullmatch(path.name) and not path.is_dir():
            path.unlink()
        else:
            foreign.append(path)
    if not foreign:
        folder.rmdir()
    return foreign


@contextmanager
def _held(target: Path) -> Iterator[None]:
    """Hold a folder for this run; the system lets go of it when the run ends, killed or not."""
    if fcntl is None:
        yield
        return
    handle = os.open(target, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            reason = "another run is writing here: wait for it, or name another folder with -o"
            raise _fault(target, reason) from error
        except OSError:  # a file system without locks
            pass
        yield
    finally:
        os.close(handle)


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # some network file systems cannot
            os.fsync(handle)
    finally:
        os.close(handle)


def _is_about(error: OSError, target: Path) -> bool:
    """Whether an error came from the output folder, not from something else that was read."""
    return str(error.filename or "").startswith(str(target))


def _unwritable(target: Path, error: OSError) -> FaultsError:
    return _fault(
        target, f"cannot be written ({error.strerror or error}): name another folder with -o"
    )


def _fault(target: Path, message: str) -> FaultsError:
    return FaultsError([Fault(file=str(target), where="", message=message)])
