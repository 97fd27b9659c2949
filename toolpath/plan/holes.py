"""Holes that an earlier cut drilled, in which a later one may start.

Frame: x, y of the blank frame, depths below the face, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Cut, Cutter, Drill, Job
from toolpath.plan.cover import swept
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_place


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A drilled hole: its middle, its radius, and down to which depth it is that wide."""

    at: tuple[float, float]
    radius: float
    depth: float

    note: str = ""
    """What the maker is told where a cut starts in it."""

    @property
    def middle(self) -> Point:
        """Its middle as a point."""
        return Point(self.at)

    @property
    def area(self) -> BaseGeometry:
        """What it opens, as a disc of chords inside it."""
        return swept([np.array([self.at])], self.radius)

    def serves(self, cut: Cut, cutter: Cutter) -> bool:
        """Whether a cutter can go down in it to the depth of a cut."""
        deep = self.depth >= cut.depth - TOLERANCES.equal
        return deep and self.radius >= cutter.radius - TOLERANCES.equal


def holes_before(job: Job, cut: Cut) -> tuple[Hole, ...]:
    """The holes of the drill cuts on the same face that come before a cut of a job, from where
    this cut's material begins downward."""
    place = next((i for i, each in enumerate(job.cuts) if each is cut), 0)
    return tuple(
        Hole(
            at=at,
            radius=max(each.diameter, each.cutter.diameter) / 2.0,
            depth=each.depth,
            note=f'starts in a hole of "{each.name}" at {show_place(*at, job.unit)}: '
            "clear it of chips first",
        )
        for each in job.cuts[:place]
        if isinstance(each, Drill)
        and each.face is cut.face
        and each.below <= cut.below + TOLERANCES.equal
        for at in each.at
    )
