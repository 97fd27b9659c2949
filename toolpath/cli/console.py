"""What is said where: results on stdout, progress and notices on stderr, JSON alone on stdout."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress

from toolpath.app.payload import Json, of_faults, to_text
from toolpath.app.progress import Progress
from toolpath.errors import Fault
from toolpath.job.words import escaped


class OutputError(Exception):
    """The result could not be printed."""


@contextmanager
def _printing() -> Iterator[None]:
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
            with _printing():
                print(text)

    def notice(self, text: str) -> None:
        """A line beside the result; where it cannot be written the exit code still tells."""
        with suppress(OSError):
            print(text, file=sys.stderr)

    def json(self, payload: Json) -> None:
        """The result for a program, when JSON was asked for."""
        if self.as_json:
            with _printing():
                sys.stdout.write(to_text(payload))

    def flush(self) -> None:
        """See the result through."""
        with _printing():
            sys.stdout.flush()

    def faults(self, faults: Sequence[Fault]) -> None:
        """Everything that is wrong, one a line."""
        for fault in faults:
            self.notice(escaped(str(fault)))  # what stands in a file may steer a terminal
        with suppress(OutputError):
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
