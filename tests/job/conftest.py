from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from toolpath.errors import FaultsError
from toolpath.job.model import Job, Warned
from toolpath.job.read import read_job

# An invented wall clock cast over pebbles and a brass cog.
CLOCK = """\
name = "wall clock"
units = "mm"

[blank]
outline = { rect = [0, 0, 200, 150] }
thickness = 42
material = "casting plaster"

[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [800, 24000]
safe_height = 6

[check]
clearance = 1.0

[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 35
reach = 50
rpm = 16000
feed = 1200
plunge = 300
stepdown = 3
stepover = 0.4

[[cutter]]
name = "drill 5"
shape = "drill"
angle = 90
diameter = 5
flutes = 2
flute_length = 50
reach = 55
rpm = 1500
feed = 200
plunge = 120

[[cutter]]
name = "vee 60"
shape = "vee"
angle = 60
tip_diameter = 0.2
diameter = 8
flutes = 2
flute_length = 10
reach = 30
rpm = 18000
feed = 900
plunge = 200
stepdown = 1
stepover = 0.2

[[piece]]
name = "cog"
solid = { kind = "cylinder", diameter = 24, height = 6 }
at = [120, 90]
from_front = 8
hardness = "metal"

[[piece]]
name = "pebble"
solid = { kind = "sphere", diameter = 16 }
at = [40, 40]
from_back = 5

[[clamp]]
face = "front"
outline = { rect = [-20, 60, 8, 90] }
height = 18

[[cut]]
name = "works"
face = "back"
do = "pocket"
outline = { rect = [60, 40, 140, 110], corner = 5 }
depth = 20
cutter = "flat 6"

[[cut]]
name = "spindle hole"
face = "front"
do = "drill"
at = [[100, 75]]
through = true
cutter = "drill 5"

[[cut]]
name = "minute ring"
face = "front"
do = "profile"
outline = { circle = [100, 75, 60] }
side = "centre"
depth = 1.5
cutter = "vee 60"
"""


@pytest.fixture
def clock() -> str:
    return CLOCK


@pytest.fixture
def edited() -> Callable[..., str]:
    """The clock's job with texts exchanged: every one must stand in it exactly once."""

    def edit(*changes: tuple[str, str], text: str = CLOCK) -> str:
        for old, new in changes:
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the job"
            text = text.replace(old, new)
        return text

    return edit


@pytest.fixture
def read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Job]:
    """Reads a job text as the file job.toml of the working folder."""
    monkeypatch.chdir(tmp_path)

    def read_text(text: str) -> Job:
        Path("job.toml").write_text(text, encoding="utf-8")
        return read_job(Path("job.toml"))

    return read_text


@pytest.fixture
def alarms() -> Callable[[Job], list[Warned]]:
    """The warnings of a job but its notes: the clock's plaster is not in the table of materials."""
    return lambda job: [warned for warned in job.warnings if not warned.note]


@pytest.fixture
def faults(read: Callable[[str], Job]) -> Callable[[str], list[str]]:
    """The fault lines of a job text, which must have some."""

    def lines(text: str) -> list[str]:
        with pytest.raises(FaultsError) as caught:
            read(text)
        return [str(fault) for fault in caught.value.faults]

    return lines
