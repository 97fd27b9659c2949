"""A starter job."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from toolpath.errors import Fault, FaultsError

NAME = "job.toml"


def new_job(folder: Path) -> Path:
    """Write the starter job into `folder` (made if need be) and return its path.

    Raises FaultsError where a job already lies there, or the folder cannot be written.
    """
    path = folder / NAME
    text = files("toolpath.app").joinpath("starter.toml").read_text(encoding="utf-8")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as error:
        reason = "is there already and is not overwritten: name another folder"
        raise FaultsError([Fault(file=str(path), where="", message=reason)]) from error
    except OSError as error:
        reason = f"cannot be written ({error.strerror or error}): name another folder"
        raise FaultsError([Fault(file=str(path), where="", message=reason)]) from error
    return path
