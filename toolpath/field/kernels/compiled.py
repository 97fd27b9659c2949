"""How the loops are compiled: once per machine, kept on the disk for later runs.

No fast-math, no float reduction across threads; outputs and scratch are allocated by the fronts.
A kernel and the helpers it calls stand in one file, since a kept one is thrown away when its own
file changes, and only then.
"""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

from numba import config, njit
from numba.core.caching import FunctionCache

config.THREADING_LAYER = "workqueue"  # the one that a copy of the process (fork) can go on using


def compiled(parallel: bool = False, counted: bool = True) -> Any:
    """A kernel, kept on the disk for later runs where there is a place that can be written.

    Counting who holds the arrays that a loop is handed can cost more than its work; one that makes
    none can do without (`counted`)."""
    return lambda function: _kept(function, parallel=parallel, _nrt=counted)


def inner(inlined: bool = False) -> Any:
    """A loop or helper inside kernels of its file, not counted.

    It is part of what is kept of them, so it is not kept by itself. Ways in from outside would
    take a fifth of all compiling, so it has none: a call from Python ends the process.
    """
    place = "always" if inlined else "never"
    return njit(_nrt=False, inline=place, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def _kept(function: Any, **options: Any) -> Any:
    kernel = njit(**options)(function)
    if not config.DISABLE_JIT:
        with suppress(RuntimeError):  # no such place
            kernel._cache = _OnDisk(function)  # as `cache=True` does
    return kernel


class _OnDisk(FunctionCache):  # type: ignore[misc]
    """What is kept of a kernel. What cannot be read (a disk that was full, a machine switched off)
    is compiled anew; what cannot be kept is compiled again by the next run."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # a damaged file may raise anything
            with suppress(OSError):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        with suppress(Exception):  # a full disk, or what is damaged and cannot be emptied either
            super().save_overload(sig, data)


BANDS = 16
"""Rows are dealt out interleaved to this many bands, which the threads share, so that no two
threads write to one cell."""


def must_compile() -> bool:
    """Whether some kernel is not on the disk as its file stands, so that a run waits for it."""
    package = import_module("toolpath.field.kernels")
    found = [getattr(package, name) for name in package.__all__]
    return any(hasattr(each, "stats") and not _is_kept(each) for each in found)


def _is_kept(kernel: Any) -> bool:
    source, place = Path(kernel.py_func.__code__.co_filename), kernel.stats.cache_path
    if place is None:
        return False
    written = [
        index.stat().st_mtime
        for index in Path(place).glob(f"{source.stem}.{kernel.py_func.__name__}-*.nbi")
    ]
    return bool(written) and max(written) >= source.stat().st_mtime
