"""What reading a program gives."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramNote:
    """Something worth knowing that changes nothing; `line` counts from 1, 0 for the whole."""

    line: int
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedWord:
    """A spindle speed (S) and the line that gives it."""

    line: int
    rpm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Program:
    """A program as its moves: program frame, millimetres, feeds mm/min, from the first word on.

    An axis is NaN until its first word. `lines` counts the lines of the file; `unit` is that in
    force at the first move; `dwell_seconds` the sum of all dwells; `stops` counts M0 and M1.
    `arcs_in_chords` arcs outside the XY plane stand as `chords` straight moves, which keep within
    `chord_error` mm of them (0 where there are none).
    """

    moves: MoveTable
    notes: tuple[ProgramNote, ...]
    lines: int
    unit: Unit
    speeds: tuple[SpeedWord, ...]
    dwell_seconds: float
    stops: int
    arcs_in_chords: int = 0
    chords: int = 0

    @property
    def chord_error(self) -> float:
        """How far a real path may be from the moves, mm."""
        return TOLERANCES.arc_chord if self.arcs_in_chords else 0.0
