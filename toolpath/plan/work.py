"""A cutter at work in a pocket: what every step of its planning asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from toolpath.job.model import Cleared, Cutter, Job, Side
from toolpath.plan.allowances import ALLOWANCES


def climb_turn(face: Side) -> float:
    """1 where climbing along an outer wall is counter-clockwise in the page frame, else -1.

    With a clockwise spindle the material must be on the right of travel as seen on the machine;
    the page of the back is a mirror image of that, however the blank is turned over.
    """
    return 1.0 if face is Side.FRONT else -1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Work:
    """One cutter of a cut."""

    job: Job
    cut: Cleared
    cutter: Cutter
    bite: float | None = None
    """How far from its axis it clears a level, for a cutter that is not flat; None: its radius."""

    @property
    def radius(self) -> float:
        """How far from its axis the cutter clears, mm."""
        return self.cutter.radius if self.bite is None else self.bite

    @property
    def step(self) -> float:
        """From one ring to the next, mm."""
        wide = self.cutter.stepover * self.cutter.diameter
        return wide if self.bite is None else min(wide, self.bite)

    @property
    def turn(self) -> float:
        """1 where climbing is counter-clockwise along an outer wall, else -1."""
        return climb_turn(self.cut.face)

    @property
    def slope(self) -> float:
        """Drop over length of a ramp."""
        return ALLOWANCES.slope * math.tan(self.cutter.ramp)
