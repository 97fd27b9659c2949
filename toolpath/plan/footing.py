"""What the tabs of a profile have to stand in: the material that is there once both faces are cut.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.lying import new_face, underside
from toolpath.job.model import Cut, Job, Profile, Skim
from toolpath.plan.circuit import Circuit
from toolpath.plan.footprint import footprint

FloatArray = NDArray[np.float64]

_STEP = 0.5
"""Places along a loop at which a measured face is looked at, mm."""
_ROUND = 16
"""And so many round each, at the rim of the cutter."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Crossing:
    """Another cut near the loops: what it takes in plan, and the height that it reaches: from
    below for the cuts of the other face."""

    area: BaseGeometry = field(repr=False)
    z: float
    through: bool
    below: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Footing:
    """The material along the loops of a cut: from `bottom`, the highest place of the other face
    once its skims ran, up to `top`, the lowest place of this one; and what else is cut there."""

    bottom: float
    top: float
    radius: float
    crossings: tuple[_Crossing, ...] = ()

    @classmethod
    def along(cls, job: Job, cut: Profile, walls: tuple[Circuit, ...]) -> Footing:
        """That of all loops together."""
        loops = [wall.points(_STEP) for wall in walls]
        spots = _with_rim(np.concatenate(loops), cut.cutter.radius)
        band = shapely.MultiLineString([np.vstack([loop, loop[:1]]) for loop in loops])
        near = band.buffer(cut.cutter.radius)
        others = [each for each in job.cuts if each.name != cut.name]
        return cls(
            bottom=float(underside(job, cut.face, spots).max()),
            top=min(float(new_face(job, cut.face, spots).min()), -cut.below),
            radius=cut.cutter.radius,
            crossings=tuple(_crossings(job, cut, others, near)),
        )

    def choices(self, height: float, floor: float) -> Iterator[tuple[float, BaseGeometry]]:
        """Where the material begins below tabs of that height in a cut down to `floor`, and where
        the middle of the cutter makes none. First beside all that would cut into them, then over
        the deepest cut from the other face that crosses the way."""
        top = max(self.bottom, floor) + height
        deep = [each for each in self.crossings if each.below and each.z > self.bottom]
        into = [each for each in self.crossings if not each.below and each.z < top]
        yield self.bottom, self._grown([*deep, *into])
        if deep or into:
            under = [each.z for each in deep if not each.through]
            yield max([self.bottom, *under]), self._grown([each for each in deep if each.through])

    def _grown(self, crossings: Iterable[_Crossing]) -> BaseGeometry:
        return shapely.union_all([c.area for c in crossings]).buffer(self.radius, quad_segs=16)


def _crossings(
    job: Job, cut: Profile, others: list[Cut], near: BaseGeometry
) -> Iterator[_Crossing]:
    thinnest = job.blank.thinnest
    for each in others:
        area = shapely.Polygon() if isinstance(each, Skim) else footprint(each)
        if not area.intersects(near):
            continue
        depth, below = each.depth + max(c.point_length for c in each.cutters), each.face != cut.face
        z = depth - thinnest if below else -depth
        yield _Crossing(area=area, z=z, through=each.through, below=below)


def _with_rim(points: FloatArray, radius: float) -> FloatArray:
    """Points (n, 2) and those round each at a radius."""
    turn = np.linspace(0.0, 2.0 * np.pi, _ROUND, endpoint=False)
    rim = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.concatenate([points, (points[:, None, :] + rim).reshape(-1, 2)])
