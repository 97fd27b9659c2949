"""What is said where: results on stdout, progress and notices on stderr, JSON alone on stdout."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from toolpath.errors import Fault

if TYPE_CHECKING:
    from toolpath.app.payload import Json
    from toolpath.app.progress import Progress


class OutputError(Exception):
    """The result could not be printed."""


@contextmanager
def printing() -> Iterator[None]:
    """Writing of a result: a full disk or the like raises OutputError."""
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(error.strerror or str(error)) from error


class Console:
    """The terminal, or the pipe, on the other side."""

    def __init__(self, *, as_json: bool) -> None:
        self.as_json = as_json

    def say(self, text: str) -> None:
        """A line of the result for a person; nothing when JSON was asked for."""
        if not self.as_json:
            with printing():
                print(text)

    def notice(self, text: str) -> None:
        """A line beside the result; where it cannot be written the exit code still tells."""
        with suppress(OSError):
            print(text, file=sys.stderr)

    def json(self, payload: Json) -> None:
        """The result for a program, when JSON was asked for."""
        if self.as_json:
            from toolpath.app.payload import to_text

            with printing():
                sys.stdout.write(to_text(payload))

    def flush(self) -> None:
        """See the result through."""
        with printing():
            sys.stdout.flush()

    def faults(self, faults: Sequence[Fault]) -> None:
        """Everything that is wrong, one a line."""
        from toolpath.job.words import escaped

        for fault in faults:
            self.notice(escaped(str(fault)))  # what stands in a file may steer a terminal
        if not self.as_json:
            return
        from toolpath.app.payload import of_faults

        with suppress(OutputError, BrokenPipeError):
            self.json(of_faults(faults))

    def trouble(self, text: str) -> None:
        """Something that is nobody's input."""
        self.notice(f"keepclear: {text}")

    @contextmanager
    def progress(self) -> Iterator[Progress]:
        """Steps on one line of a terminal while a person watches; nothing when piped."""
        if not sys.stderr.isatty():
            yield lambda step: None
            return
        from tqdm import tqdm

        from toolpath.field.kernels.compiled import must_compile

        if must_compile():
            self.notice("compiling some loops, once on this machine: up to half a minute")
        with tqdm(bar_format="{desc} ({elapsed})", leave=False, file=sys.stderr) as bar:

            def show(step: str) -> None:
                bar.set_description_str(step)

            yield show
