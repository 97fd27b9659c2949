"""What is in force between the lines of a program."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from toolpath.rs274.codes import Group
from toolpath.rs274.planes import XY, Plane
from toolpath.units import Unit

FIRST_ZERO = 540
"""Ten times G54."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sticky:
    """Words of a drilling cycle that hold on the next lines of the same cycle, as written, in mm
    and seconds; `low` says that a line of this series went back to R only (G99)."""

    motion: int
    clear: float
    bottom: float
    peck: float
    wait: float
    low: bool


@dataclass(slots=True, kw_only=True)
class Modes:
    """Modes by their words; feeds mm/min. Codes are ten times the G code."""

    unit: Unit
    plane: Plane = XY
    zero: int = FIRST_ZERO
    absolute: bool = True
    to_start: bool = True
    """G98: a cycle goes back to the height before it."""
    motion: int | None = None
    feed: float | None = None
    rpm: float | None = None
    spindle: int = 5
    tool: int | None = None
    in_spindle: int | None = None
    """The cutter that an M6 put in."""
    sticky: Sticky | None = None
    stated: set[Group] = field(default_factory=set)
    """Groups of which a word was read."""

    def copy(self) -> Modes:
        """The modes as they are now, to be compared later."""
        return replace(self, stated=set(self.stated))
