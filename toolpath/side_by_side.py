"""Two lists of work done at once, where the system can copy a running process."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any, TypeVar

T = TypeVar("T")


def side_by_side(here: Sequence[Callable[[], T]], there: Sequence[Callable[[], T]]) -> list[T]:
    """Do all tasks, those of `there` in a copy of this process, and give what they answer, those
    of `here` first. Where no copy can be made, or it comes to grief, they are done here too: so
    tasks may be done twice, and what they raise is raised here.

    Answers come back pickled. A process with more than one thread is not copied: a lock held by
    another would never open.
    """
    copy = _begin(there)
    mine = [task() for task in here]
    theirs = copy.answers() if copy is not None else None
    return mine + (theirs if theirs is not None else [task() for task in there])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Copy:
    """A running copy of this process, and the end of its pipe that is ours."""

    process: multiprocessing.Process
    pipe: Connection

    def answers(self) -> list[Any] | None:
        """What its tasks answered; None where it came to grief."""
        try:
            found: list[Any] = self.pipe.recv()
        except (EOFError, OSError):
            return None
        finally:
            self.process.join()
            self.pipe.close()
        return found if self.process.exitcode == 0 else None


def _begin(tasks: Sequence[Callable[[], object]]) -> _Copy | None:
    able = "fork" in multiprocessing.get_all_start_methods() and (os.cpu_count() or 1) > 1
    if not tasks or not able or threading.active_count() > 1:
        return None
    context = multiprocessing.get_context("fork")
    ours, its = context.Pipe(duplex=False)
    process = context.Process(target=_all_of, args=(tasks, its), daemon=True)
    process.start()
    its.close()  # so that its end closes with the copy
    return _Copy(process=process, pipe=ours)  # type: ignore[arg-type]


def _all_of(tasks: Sequence[Callable[[], object]], pipe: Connection) -> None:
    pipe.send([task() for task in tasks])
