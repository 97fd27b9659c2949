import math
from pathlib import Path

import pytest

from toolpath.job import limits
from toolpath.job.limits import CELL, SIZE, Limits, available_memory


def test_bounds_open_and_closed() -> None:
    half_open = Limits(low=0.0, low_open=True, high=1.0)
    assert half_open.breach(0.0) == ("must be more than", 0.0)
    assert half_open.breach(1.0) is None
    assert half_open.breach(1.1) == ("must be at most", 1.0)
    assert Limits(low=0.0).breach(-1e-300) == ("must be at least", 0.0)
    assert Limits(high=180.0, high_open=True).breach(180.0) == ("must be less than", 180.0)


def test_nan_breaks_no_limit() -> None:
    assert SIZE.breach(math.nan) is None
    assert math.isnan(SIZE.settle(math.nan))


def test_a_bound_reached_through_inches_belongs_to_the_range() -> None:
    almost = math.nextafter(2.0, 3.0)
    assert CELL.breach(almost) is None
    assert CELL.settle(almost) == 2.0


def test_memory_is_what_the_system_says(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = "MemTotal: 10 kB\nMemAvailable:    2048 kB\n"
    monkeypatch.setattr(Path, "read_text", lambda *_, **__: lines)
    assert available_memory() == 2048 * 1024


def test_memory_is_guessed_where_nobody_says(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> str:
        raise OSError

    monkeypatch.setattr(Path, "read_text", refuse)
    monkeypatch.setattr(limits.os, "sysconf", lambda name: {"SC_PAGE_SIZE": 4096}.get(name, 10))
    assert available_memory() == 40960
    monkeypatch.setattr(limits.os, "sysconf", refuse)
    assert available_memory() == 4 * 1024**3
