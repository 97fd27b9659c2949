"""What planning gives: the moves of each cut and what they leave."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.job.model import Cut, Cutter, Side
from toolpath.motion.moves import Move


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCut:
    """A cut as moves in the page frame of its face: x, y of the blank frame, z = height above
    that face before any cut (negative into the blank). `floor` is the deepest depth of the tip
    below the face, positive. The first move starts and the last one ends at the safe height.
    """

    cut: Cut
    cutter: Cutter
    """Which of the cutters of the cut made these moves."""
    moves: tuple[Move, ...]
    floor: float
    reachable_area: float
    """What the cutter can reach inside the outline, mm² (0 for drills and profiles)."""
    uncut_area: float
    """What of it is left uncut at the floor, mm²."""
    lifts: int
    notes: tuple[str, ...] = ()
    tabs: tuple[tuple[float, float], ...] = ()
    """The middle of each tab that a profile leaves, x and y of the blank frame."""
    pauses: tuple[int, ...] = ()
    """After how many of the moves the program stops for chips to be cleared, at the safe height."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramPlan:
    """One unbroken run of one cutter on one face."""

    face: Side
    cutter: Cutter
    cuts: tuple[PlannedCut, ...]
