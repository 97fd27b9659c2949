"""Two lists of work done at once, where the system can copy a running process."""

from __future__ import annotations

import gc
import os
import signal
import threading
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import Any, NoReturn, TypeVar

T = TypeVar("T")
F = TypeVar("F")


def side_by_side(here: Sequence[Callable[[], T]], there: Sequence[Callable[[], T]]) -> list[T]:
    """Do all tasks, those of `there` in a copy of this process, and give what they answer, those
    of `here` first. Where no copy can be made, or it comes to grief, they are done here too: so
    tasks may be done twice, and what they raise is raised here.

    Answers come back pickled. A process with more than one thread is not copied: a lock held by
    another would never open. The copy says nothing of its own and never outlives this process nor
    this call, however either ends.
    """
    with _left_alone():
        copy = _begin(there)
        if copy is None:
            return [task() for task in (*here, *there)]
        with copy.ended():
            mine = [task() for task in here]
            theirs = copy.answers()
        return mine + (theirs if theirs is not None else [task() for task in there])


@contextmanager
def _left_alone() -> Iterator[None]:
    """What is there now is not gone through for garbage: to look at it is to write to it, and what
    either process writes to is then held twice."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def shared(tasks: Sequence[Callable[[], T]], tell: Callable[[int], None]) -> list[T]:
    """Do all tasks, this process and a copy of it each taking the next when it has time, and give
    what they answer in order. `tell` is called here with the place of each that is done here.
    """
    return beside(_do_nothing, tasks, tell)[1]


def beside(
    first: Callable[[], F], tasks: Sequence[Callable[[], T]], tell: Callable[[int], None]
) -> tuple[F, list[T]]:
    """Do `first` in this process while a copy of it begins with the tasks; what is left of them is
    shared, as in `shared`. Gives what `first` answers, and what they do, in order.
    """
    found: dict[int, T] = {}
    mine: list[F] = []
    with _claims(len(tasks)) as claims:

        def work(tell: Callable[[int], None]) -> list[tuple[int, T]]:
            done = []
            while claim := os.read(claims, _CLAIM):
                place = int.from_bytes(claim, "big")
                tell(place)
                done.append((place, tasks[place]()))
            return done

        def work_here() -> list[tuple[int, T]]:
            mine.append(first())
            return work(tell)

        there = [partial(work, _say_nothing)] if tasks else []
        for answers in side_by_side([work_here], there):
            found.update(answers)
    for place, task in enumerate(tasks):  # those of a copy that came to grief
        if place not in found:
            tell(place)
            found[place] = task()
    return mine[0], [found[place] for place in range(len(tasks))]


_CLAIM = 2
"""Bytes of a claim: the place of a task. Read at once, no two processes get the same."""
_MOST_CLAIMS = 4096
"""As many as a pipe holds on any system."""


@contextmanager
def _claims(count: int) -> Iterator[int]:
    """A pipe to read claims from, empty for ever once all are taken."""
    reading, writing = os.pipe()
    for place in range(min(count, _MOST_CLAIMS)):
        os.write(writing, place.to_bytes(_CLAIM, "big"))
    os.close(writing)
    try:
        yield reading
    finally:
        os.close(reading)


def _do_nothing() -> None:
    """Nothing comes first."""


def _say_nothing(place: int) -> None:
    """The copy is silent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Copy:
    """A running copy of this process, and the ends of its pipes that are ours."""

    number: int
    pipe: Connection
    life: Connection
    """Held open by us alone: it closes when this process ends, killed or not."""

    def answers(self) -> list[Any] | None:
        """What its tasks answered; None where it came to grief."""
        try:
            found: list[Any] = self.pipe.recv()
        except (EOFError, OSError):
            return None
        return found

    @contextmanager
    def ended(self) -> Iterator[None]:
        """Leaves no copy behind: it must not write where this process has ended its work."""
        try:
            yield
        finally:
            os.kill(self.number, signal.SIGKILL)
            os.waitpid(self.number, 0)
            self.pipe.close()
            self.life.close()


def _begin(tasks: Sequence[Callable[[], object]]) -> _Copy | None:
    able = hasattr(os, "fork") and (os.cpu_count() or 1) > 1
    if not tasks or not able or threading.active_count() > 1:
        return None
    ours, its = Pipe(duplex=False)
    theirs, life = Pipe(duplex=False)
    with _without_interrupt(), _without_warning():
        number = os.fork()
        if number == 0:
            life.close()
            _all_of(tasks, its, theirs)
    its.close()  # so that its end closes with the copy
    theirs.close()
    return _Copy(number=number, pipe=ours, life=life)


@contextmanager
def _without_interrupt() -> Iterator[None]:
    """A key pressed is for this process: its copy ends with it."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _without_warning() -> Iterator[None]:
    """From Python 3.12 on it warns of threads of compiled libraries too, which `threading` does not
    count. Those that we use make theirs anew in a copy (`toolpath.field.kernels.compiled`)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        yield


def _all_of(
    tasks: Sequence[Callable[[], object]], pipe: Connection, parent: Connection
) -> NoReturn:
    """What the copy does. Of what it raises it says nothing: the tasks are done again at home."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
        pipe.send([task() for task in tasks])
    finally:
        os._exit(0)


def _end_with(parent: Connection) -> None:
    """End this process at once when the other end of a pipe is closed."""
    parent.poll(None)
    os._exit(1)
