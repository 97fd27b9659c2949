"""What values a job may hold, and how large a job and its files may be."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path

from toolpath.tolerances import TOLERANCES

MAX_JOB_BYTES = 5_000_000
MAX_DRAWING_BYTES = 100_000_000
MAX_MESH_BYTES = 500_000_000
MAX_ENTRIES = 10_000
"""Entries of one array: pieces, cuts, corners of a polygon, holes of a drill cut."""
MAX_KEYS = 100
MAX_KEY_PARTS = 20
MAX_TEXT = 200
MAX_FAULTS = 1_000
"""Reading stops here: more than a person mends in one go."""

MAX_CELLS = 500_000_000
BYTES_PER_CELL = 4
FIELDS = 10
"""Height fields of four bytes a cell that planning and checking hold at one time, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A range of values; a bound belongs to it unless it is `open`. NaN breaks none."""

    low: float = -math.inf
    high: float = math.inf
    low_open: bool = False
    high_open: bool = False

    def breach(self, value: float) -> tuple[str, float] | None:
        """The words and the limit that the value breaks; None where it breaks none.

        A closed upper bound takes `TOLERANCES.equal` more, for values turned from inches.
        """
        if value < self.low or (self.low_open and value <= self.low):
            return "must be more than" if self.low_open else "must be at least", self.low
        if self.high_open and value >= self.high:
            return "must be less than", self.high
        if value > self.high + TOLERANCES.equal:
            return "must be at most", self.high
        return None

    def settle(self, value: float) -> float:
        """A value that breaks nothing, brought down to a closed upper bound it just passes."""
        return min(value, self.high) if math.isfinite(value) else value


_FAR = 100_000.0

PLACE = Limits(low=-_FAR, high=_FAR)
"""A coordinate, mm: within 100 m of the origin."""
SIZE = Limits(low=0.0, low_open=True, high=_FAR)
"""A size, mm: above 0."""
GAP = Limits(low=0.0, high=_FAR)
"""A distance that may be 0, mm."""
ROOM = Limits(low=0.0, high=1_000.0)
"""A clearance or a drift, mm: grids are that much larger than the blank."""
CELL = Limits(low=0.02, high=2.0)
FEED = Limits(low=1.0, high=1_000_000.0)
"""mm/min; less could be rounded to nothing in a program."""
CHIP = Limits(low=0.0, low_open=True, high=5.0)
"""mm a tooth."""
SPEED = Limits(low=0.0, low_open=True, high=1_000_000.0)
"""rev/min."""
SPEED_OR_STILL = Limits(low=0.0, high=1_000_000.0)
ACCELERATION = Limits(low=0.0, low_open=True, high=1_000_000.0)
"""mm/s²."""
SECONDS = Limits(low=0.0, high=3_600.0)
MINUTES = Limits(low=0.0, high=600.0)
RAMP = Limits(low=0.1, high=45.0)
"""Degrees; a flatter way down is endless turns."""
ENGAGE = Limits(low=15.0, high=120.0)
"""Degrees: less would take for ever, more is hardly a bound."""
STEPOVER = Limits(low=0.0, low_open=True, high=1.0)
CUSP = Limits(low=0.001, high=2.0)
"""Height of the ridges between passes, mm; less is rounded away in a program."""
VEE_ANGLE = Limits(low=1.0, high=180.0, high_open=True)
DRILL_ANGLE = Limits(low=1.0, high=180.0)
TURN = Limits(low=-3_600.0, high=3_600.0)
DRIFT_TURN = Limits(low=0.0, high=180.0)
SCALE = Limits(low=0.0, low_open=True, high=1_000_000.0)
FLUTES = (1, 20)
TABS_COUNT = (1, 100)
SPRING_PASSES = (0, 5)
SCREWS_COUNT = (1, 100)
DECIMALS_MM = (3, 6)
"""Two decimals spoil most arcs by the standard's rule (NISTIR 6556, 3.5.3.2)."""
DECIMALS_INCH = (4, 6)


def available_memory() -> int:
    """Bytes of memory that a new process can take without swapping; 4 GiB where unknown."""
    try:
        for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    except (OSError, ValueError, IndexError):
        pass
    try:
        return os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, AttributeError):
        return 4 * 1024**3
