"""Two lists of work done at once, where the system can copy a running process."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Sequence

Task = Callable[[], object]


def side_by_side(here: Sequence[Task], there: Sequence[Task]) -> None:
    """Do all tasks, those of `there` in a copy of this process, so that only what they write to
    files comes back. Where no copy can be made, or it comes to grief, they are done here too.

    A process with more than one thread is not copied: a lock held by another would never open.
    """
    child = _begin(there)
    for task in here:
        task()
    if child is not None:
        child.join()
        if child.exitcode == 0:
            return
    for task in there:
        task()


def _begin(tasks: Sequence[Task]) -> multiprocessing.Process | None:
    able = "fork" in multiprocessing.get_all_start_methods() and (os.cpu_count() or 1) > 1
    if not tasks or not able or threading.active_count() > 1:
        return None
    child = multiprocessing.get_context("fork").Process(target=_all_of, args=(tasks,), daemon=True)
    child.start()
    return child  # type: ignore[return-value]


def _all_of(tasks: Sequence[Task]) -> None:
    for task in tasks:
        task()
