from collections.abc import Callable
from pathlib import Path

import pytest

HEAD = """
name = "clock"
units = "mm"
[blank]
outline = { rect = [0, 0, 120, 90] }
thickness = 25
material = "casting resin"
[machine]
travel = [300, 200, 60]
feed_max = 2000
spindle = [8000, 24000]
safe_height = 5
[check]
clearance = 1.0
cell = 0.5
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 2
flute_length = 20
reach = 30
rpm = 12000
feed = 1200
plunge = 250
stepdown = 4
stepover = 0.4
"""

PEBBLE = """
[[piece]]
name = "pebble"
solid = { kind = "sphere", diameter = 14 }
at = [85, 45]
from_back = 3
"""


def pocket(name: str, rect: list[float], depth: float = 4.0, face: str = "front") -> str:
    return f"""
[[cut]]
name = "{name}"
face = "{face}"
do = "pocket"
outline = {{ rect = {rect} }}
depth = {depth}
cutter = "flat 6"
"""


@pytest.fixture
def write_job(tmp_path: Path) -> Callable[..., Path]:
    """Writes a job of a small blank with a pebble and the cuts given as (name, rect, ...)."""

    def write(*cuts: tuple, head: str = HEAD, pieces: str = PEBBLE) -> Path:
        path = tmp_path / "clock.toml"
        path.write_text(head + pieces + "".join(pocket(*cut) for cut in cuts))
        return path

    return write


@pytest.fixture
def head() -> str:
    return HEAD
