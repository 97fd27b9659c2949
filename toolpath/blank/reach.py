"""A cutter grown by the gap that it must keep, and the piece that it must keep it from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.field.profile import Profile
from toolpath.job.model import Piece, Side

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A turning cutter in its nut, grown by `gap` mm; heights above its tip, mm."""

    profile: Profile
    gap: float

    def height(self, r: FloatArray) -> FloatArray:
        """Lowest z above the tip at radius r, +inf outside; it never falls outward."""
        return self.profile.height(r, self.gap)

    def radius(self, below: float) -> float:
        """The largest radius at which it reaches down to `below` above the tip, -1 for nowhere.

        Errs outward, by less than 1e-12 of it.
        """
        if float(self.height(np.zeros(1))[0]) > below:
            return -1.0
        return self.profile.reach_radius(self.gap, below)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """A piece as a cutter finds it from a face: its greatest height `top`, grown by its drift
    (page frame), and the lowest tip that will be asked about."""

    piece: Piece
    side: Side
    top: float
    reach: Reach
    deepest: float

    @property
    def wide(self) -> float:
        """How far from the piece in plan it can bind a tip, mm; -1 where it binds none."""
        return self.reach.radius(self.top - self.deepest)
