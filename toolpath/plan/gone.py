"""What a cut has already taken away, by depth.

Frame: page frame of the face, millimetres. Errs towards stock that still stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Cutter
from toolpath.motion.moves import Move
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.holes import Hole


class Gone:
    """Everything above `top`, and the areas cut since, each down to a height. `holes` were drilled
    before: they are open to a cutter, and still count as stock of the cut, which is cleared as if
    they were not there."""

    def __init__(self, top: float, holes: tuple[Hole, ...] = ()) -> None:
        self.top = top
        self.holes = holes
        self._rows: list[tuple[float, BaseGeometry]] = []
        self._known: dict[float, BaseGeometry] = {}

    def add(self, z: float, area: BaseGeometry) -> None:
        """An area that was cut down to height `z`; the same one again only goes deeper."""
        if self._rows and self._rows[-1][1] is area:
            z = min(z, self._rows.pop()[0])
        self._rows.append((z, area))
        self._known.clear()

    def at(self, z: float) -> BaseGeometry:
        """What was cut to `z` or deeper; for heights above the material ask `air`."""
        if z not in self._known:
            deep = [area for low, area in self._rows if low <= z + ALLOWANCES.same]
            found = shapely.union_all(deep) if deep else Polygon()
            shapely.prepare(found)
            self._known[z] = found
        return self._known[z]

    def rapid_to(self, spot: tuple[float, float], radius: float, z: float) -> float:
        """How low a disc may come down by rapid on its way to height `z`: to it where what lies
        under it is gone too, to `ALLOWANCES.above_cleared` over it where it stands in air there,
        else to above everything."""
        if z >= self.top - ALLOWANCES.same or not self.air(spot, radius, z):
            return max(z, self.top) + ALLOWANCES.rapid_above
        deeper = z - ALLOWANCES.above_cleared
        return z if self.air(spot, radius, deeper) else z + ALLOWANCES.above_cleared

    def touched(self, spot: tuple[float, float], cutter: Cutter) -> float:
        """How low a cutter's tip comes over a place before it touches what stands, where more is
        known of that than what was cut level; else -inf."""
        return -math.inf

    def took(self, moves: Sequence[Move], cutter: Cutter) -> None:
        """These moves were made, for whoever knows more of what stands."""

    def heights(self) -> tuple[float, ...]:
        """The heights to which something was cut, highest first."""
        return tuple(sorted({z for z, _ in self._rows}, reverse=True))

    def air(self, spot: tuple[float, float], radius: float, z: float) -> bool:
        """Whether a disc stands in air from height `z` upward."""
        if z >= self.top - ALLOWANCES.same:
            return True
        if self._cut_away(Point(spot).buffer(radius), z):
            return True
        open_here = (hole for hole in self.holes if -hole.depth <= z + ALLOWANCES.same)
        return any(math.dist(hole.at, spot) + radius <= hole.radius for hole in open_here)

    def _cut_away(self, disc: BaseGeometry, z: float) -> bool:
        """Whether all of a disc was cut to `z` or deeper: mostly one area tells, and the areas are
        only joined where several meet the disc."""
        deep = [area for low, area in self._rows if low <= z + ALLOWANCES.same]
        shapely.prepare(deep)
        met = [area for area in deep if area.intersects(disc)]
        if any(area.covers(disc) for area in met):
            return True
        if len(met) < 2 or not any(area.intersects(disc.centroid) for area in met):
            return False
        return bool(shapely.union_all(met).covers(disc))
