"""A job read by a copy of this process while this one loads what works on it.

Loading libraries takes seconds, and a job needs some that nothing after it does: those that read
drawings and meshes. What both need is loaded before the process is copied.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from toolpath.errors import Fault, FaultsError
from toolpath.side_by_side import side_by_side

if TYPE_CHECKING:
    from toolpath.job.model import Job


def job_beside(path: Path, modules: Sequence[str]) -> Job:
    """A job that has cuts, with all that can be said about it before planning, and all modules
    loaded.

    Where they are loaded already it is read here. Raises FaultsError with all faults.
    """
    import_module("toolpath.app.load")
    missing = [name for name in modules if name not in sys.modules]
    if not missing:
        return _found(_read(path))
    return _found(side_by_side([partial(_load, missing)], [partial(_read, path)])[1])


def _load(names: Sequence[str]) -> tuple[Fault, ...]:
    from toolpath.field.kernels.starting import start

    for name in names:
        import_module(name)
    start()
    return ()


def _read(path: Path) -> Job | tuple[Fault, ...]:
    """The job, or its faults: what is raised in a copy is not handed over."""
    from toolpath.app.load import load_job
    from toolpath.job.read import require_cuts

    try:
        job = load_job(path)
        require_cuts(job)
    except FaultsError as error:
        return error.faults
    return job


def _found(answer: Job | tuple[Fault, ...]) -> Job:
    if isinstance(answer, tuple):
        raise FaultsError(answer)
    return answer
