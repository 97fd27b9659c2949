"""The process of the `keepclear` command: its streams, the key that stops it, and its end."""

from __future__ import annotations

import gc
import io
import logging
import os
import signal
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, NoReturn, TextIO

from toolpath.collecting import seldom_collected

if TYPE_CHECKING:
    from sys import UnraisableHookArgs
    from types import FrameType

_FAILED = 1
_STOPPED = "keepclear: stopped\n"


def entry() -> NoReturn:
    """The console script: as `main`, and quiet when the reader of a pipe has gone. A key that stops
    it is heard before the command is loaded."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # not where it is ignored
        signal.signal(signal.SIGINT, _stop)
    sys.unraisablehook = _unraisable
    sys.stdout, sys.stderr = _open(sys.stdout), _open(sys.stderr)
    code = _code()
    for stream in (sys.stdout, sys.stderr):
        _close(stream)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.freeze()  # all goes with the process: to look for garbage first can take half a second
    exec("")  # else Python may end by the signal: it remembers one that `exec` of a library met
    sys.exit(code)


def _code() -> int:
    logging.getLogger().addHandler(logging.NullHandler())  # libraries log tracebacks on stderr
    try:
        from toolpath.cli.main import main

        with seldom_collected():  # loading the libraries, too, takes a tenth less
            return main()
    except BrokenPipeError:
        return _FAILED
    except KeyboardInterrupt:
        with suppress(OSError):
            sys.stderr.write(_STOPPED)
        return _FAILED


def _stop(number: int, frame: FrameType | None) -> None:
    """The first time all is put away before the end; who presses again will not wait for that."""
    signal.signal(signal.SIGINT, _stop_at_once)
    raise KeyboardInterrupt


def _stop_at_once(number: int, frame: FrameType | None) -> None:
    """End as if killed, which leaves the whole new set of programs or none."""
    with suppress(OSError):
        os.write(2, _STOPPED.encode())
    os._exit(_FAILED)


def _unraisable(args: UnraisableHookArgs) -> None:
    """A key pressed while a library was called back from its compiled code would be lost."""
    if issubclass(args.exc_type, KeyboardInterrupt):
        _stop_at_once(signal.SIGINT, None)
    sys.__unraisablehook__(args)


def _open(stream: TextIO | None) -> TextIO:
    """A stream that takes every name; one that leads nowhere in place of one that is closed."""
    if stream is None:
        return open(os.devnull, "w", encoding="utf-8")
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="backslashreplace")
    return stream


def _close(stream: TextIO) -> None:
    """Write out what is left; what cannot be written is dropped, not complained of at the end."""
    try:
        stream.flush()
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
