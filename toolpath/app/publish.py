"""The output folder: what lies in it is the whole new set or none.

Everything is written into a scratch folder inside the output folder and renamed into place at
the end, programs last, so that where there are programs there is all that belongs to them.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from toolpath.errors import Fault, FaultsError

OURS = ("programs", "rehearsal", "plan.json", "sheet.html", "pictures")
"""What belongs to Keepclear in an output folder, in the order in which it is taken away:
programs first, since an older program beside a newer verdict is what must never be."""

_SCRATCH = ".keepclear-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scratch:
    """A folder beside the final one, where a set is put together."""

    folder: Path
    target: Path

    @property
    def programs(self) -> Path:
        """Where programs are written before they are judged."""
        return self.folder / "programs"

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
        names = [
            name for name in reversed(OURS) if programs or name not in ("programs", "rehearsal")
        ]
        for name in names:
            made = self.folder / name
            if made.exists():
                made.rename(self.target / name)
        _sync_folder(self.target)


@contextmanager
def scratch(target: Path) -> Iterator[Scratch]:
    """A scratch folder in `target`, gone at the end whatever happens.

    Raises FaultsError where the folder cannot be made or written.
    """
    try:
        target.mkdir(parents=True, exist_ok=True)
        folder = target / f"{_SCRATCH}{os.getpid()}"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
    except OSError as error:
        raise _unwritable(target, error) from error
    try:
        yield Scratch(folder=folder, target=target)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def clear(target: Path) -> None:
    """Take away an older set and the scratch folders of runs that were killed.

    Each thing is first renamed, so that programs are gone at once, then deleted. Raises
    FaultsError where something cannot be taken away: then nothing new may be reported.
    """
    if not target.exists():
        return
    if not target.is_dir():
        reason = "is a file: give the name of a folder with -o"
        raise FaultsError([Fault(file=str(target), where="", message=reason)])
    try:
        for name in OURS:
            old = target / name
            if old.is_symlink() or old.exists():
                gone = target / f"{_SCRATCH}old-{os.getpid()}-{name}"
                _delete(gone)
                old.rename(gone)
                _delete(gone)
        for left in target.glob(f"{_SCRATCH}*"):
            if not _in_use(left):
                _delete(left)
        _sync_folder(target)
    except OSError as error:
        raise _unwritable(target, error) from error


def _delete(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _in_use(left: Path) -> bool:
    """Whether a scratch folder belongs to another run that still lives."""
    owner = left.name.removeprefix(_SCRATCH)
    if not owner.isdigit() or int(owner) == os.getpid():
        return False
    try:
        os.kill(int(owner), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _unwritable(target: Path, error: OSError) -> FaultsError:
    reason = f"cannot be written ({error.strerror or error}): name another folder with -o"
    return FaultsError([Fault(file=str(target), where="", message=reason)])
