"""What the check has to say: findings with stable codes, the closest approach, totals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

Point = tuple[float, float, float]
Bounds = tuple[Point, Point]
"""Least and greatest x, y and z."""


class Verdict(Enum):
    """The answer to a program."""

    CLEAR = "clear"
    REFUSED = "refused"


class Code(Enum):
    """What was found. The order is worst first; the words never change."""

    PIECE = "piece"
    """A part of the cutter, shank or nut nearer to a kept piece than the clearance."""
    CLAMP = "clamp"
    HARD_PIECE = "hard-piece"
    """Flutes in a hard piece that may be cut, by a cut that does not say `through_hard`."""
    BREAK_THROUGH = "break-through"
    FLOOR = "floor"
    """Less left under a cavity than `least_floor`."""
    WALL = "wall"
    """Less left between cavities, or to the rim, than `least_wall`."""
    COVER = "cover"
    """Less left over a kept piece than the `least_cover` of a skim."""
    TAB = "tab"
    """A tab asked for that does not stand as high or as wide as asked."""
    RAPID_IN_STOCK = "rapid-in-stock"
    SHANK_IN_STOCK = "shank-in-stock"
    NUT_IN_STOCK = "nut-in-stock"
    SHOE_IN_STOCK = "shoe-in-stock"
    TRAVEL = "travel"
    SPOILBOARD = "spoilboard"
    """From here on nothing refuses."""
    OVERCUT = "overcut"
    UNCUT = "uncut"
    STEPDOWN = "stepdown"
    LOW_RAPID = "low-rapid"
    NOTE = "note"
    """Modes taken, feeds and speeds past the machine, what was not judged."""


class Part(Enum):
    """The part of the turning cutter that came nearest."""

    FLUTES = "flutes"
    NECK = "neck"
    SHANK = "shank"
    NUT = "nut"
    SHOE = "shoe"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found. `at` is the tip in the blank frame, `at_program` in the program frame;
    `gap` and `needed` mm; `mend` says what would clear it; `line` of the program, 0 for none."""

    code: Code
    message: str
    line: int = 0
    piece: str | None = None
    part: Part | None = None
    at: Point | None = None
    at_program: Point | None = None
    gap: float | None = None
    needed: float | None = None
    mend: str = ""
    clear_depth: float | None = None
    """Deepest depth of the tip below this face that keeps the gap at this place."""
    refuses: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Closest:
    """The nearest approach of any part of the cutter to any piece grown by its drift."""

    piece: str
    gap: float
    at: Point
    """Tip position, blank frame."""
    at_program: Point
    line: int
    part: Part


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceCut:
    """How much of a piece that may be cut was cut: mm³ of its solid at its nominal place, the
    share of it (0 to 1), and the box of what was cut, blank frame."""

    piece: str
    volume: float
    share: float
    low: Point
    high: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """Level moves one after another that cut the full width: first and last line, length, mm."""

    first: int
    last: int
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Engaged:
    """How wide a cutter is engaged in level moves, mm: the widest and where (blank frame); the
    length of path that cuts, and the slots in it."""

    widest: float
    line: int
    at: Point
    length: float
    slots: tuple[Slot, ...] = ()

    @property
    def slot_length(self) -> float:
        """Of all slots together."""
        return sum(slot.length for slot in self.slots)


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The answer to one program; lengths mm, times s; `bounds` of the tip over all feed moves,
    program frame, None where there is no feed move."""

    verdict: Verdict
    findings: tuple[Finding, ...]
    closest: Closest | None
    closest_by_line: Mapping[int, Closest]
    """The nearest approach of the moves of each line that comes within 25 mm of a piece."""
    bounds: Bounds | None
    feed_length: float
    rapid_length: float
    arcs: int
    moves: int
    seconds: float
    pieces_checked: int
    """How many pieces are kept: those that may be cut block nothing."""
    engaged: Engaged | None = None
    """None for drills and where nothing is cut level."""
    pieces_cut: tuple[PieceCut, ...] = ()
    """Those that may be cut and are; in the order of the job."""
