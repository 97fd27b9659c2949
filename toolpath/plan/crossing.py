"""Where and how high a rapid crosses a face: over clamps, round them, or just at the safe height.

Frame: page frame of the face, millimetres. The axes of a rapid may arrive at different times, so
it may be anywhere in the box between its ends, and that whole box must be free.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.frames import bounds_of
from toolpath.drawing.outline import Err
from toolpath.job.model import Clamp, Cutter, Job, Side
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import flat_area
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
Place = tuple[float, float]

CORNER_COST = 20.0
"""A corner on the way round counts as so many mm of rapid: the machine stops there."""
_ASIDE = 0.01
"""How far corners stand off the areas that they go round, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A rapid across at `height`: through the corner points, if any, to its end."""

    height: float
    points: tuple[Place, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossing:
    """What rapids of one cutter keep to on one face.

    Within each of `areas` the tip keeps to its `heights` or above; everywhere it keeps to `low`.
    Corners of ways round lie within `room`, so that they never use up the machine's travel.
    """

    low: float
    areas: tuple[BaseGeometry, ...] = field(repr=False)
    heights: tuple[float, ...]
    room: tuple[Place, Place]

    @classmethod
    def of(cls, job: Job, face: Side, cutter: Cutter) -> Crossing:
        """The clamps of a face against a cutter, its shank and its nut: each keeps the clearance,
        the path error and 1 mm beyond, over or beside."""
        beyond = job.check.clearance + job.machine.path_error + ALLOWANCES.rapid_above
        low, parts = job.machine.safe_height, _parts(job, cutter)
        found = [
            (_grown(clamp, radius + beyond), clamp.height + beyond - above)
            for clamp in job.clamps
            for radius, above in parts
            if clamp.face is face and clamp.height + beyond - above > low
        ]
        return cls(
            low=low,
            areas=tuple(area for area, _ in found),
            heights=tuple(height for _, height in found),
            room=_room(job),
        )

    def height(self, start: Place, end: Place) -> float:
        """The least height of a rapid between two places."""
        box = _boxes(np.array([[start, end]], dtype=np.float64))[0]
        near = (h for a, h in zip(self.areas, self.heights, strict=True) if a.intersects(box))
        return max([self.low, *near])

    def way(self, start: Place, end: Place) -> Way:
        """Straight across, over what is in the way; round it at the low height where that is much
        shorter, by one corner or two."""
        over = Way(height=self.height(start, end), points=(end,))
        if over.height <= self.low:
            return over
        points, length = self._round(start, end)
        straight = float(np.hypot(end[0] - start[0], end[1] - start[1]))
        if length < straight + 2.0 * (over.height - self.low):
            return Way(height=self.low, points=(*points, end))
        return over

    def _round(self, start: Place, end: Place) -> tuple[tuple[Place, ...], float]:
        """The shortest way round at the low height, and its length with the cost of its corners;
        infinite where there is none."""
        nodes = np.array([start, end, *self._corners(start, end)], dtype=np.float64)
        legs = self._legs(nodes)
        one = legs[0, 2:] + legs[2:, 1] + CORNER_COST
        two = legs[0, 2:, None] + legs[2:, 2:] + legs[None, 2:, 1] + 2.0 * CORNER_COST
        if one.min() <= two.min():
            chosen: tuple[int, ...] = (int(one.argmin()),)
            length = float(one.min())
        else:
            first, second = np.unravel_index(int(two.argmin()), two.shape)
            chosen, length = (int(first), int(second)), float(two.min())
        return tuple((float(nodes[i + 2, 0]), float(nodes[i + 2, 1])) for i in chosen), length

    def _corners(self, start: Place, end: Place) -> list[Place]:
        """Where a way may turn: corners of the boxes round the areas and of its own box."""
        found = [(start[0], end[1]), (end[0], start[1])]
        (x0, y0), (x1, y1) = self.room
        for area in self.areas:
            left, low, right, top = area.buffer(_ASIDE).bounds
            found += [(left, low), (right, low), (right, top), (left, top)]
        inside = [(x, y) for x, y in found[2:] if x0 <= x <= x1 and y0 <= y <= y1]
        return found[:2] + inside

    def _legs(self, nodes: FloatArray) -> FloatArray:
        """(n, n) lengths of the rapids between nodes, infinite where one is not free."""
        count = len(nodes)
        first, last = np.divmod(np.arange(count * count), count)
        boxes = _boxes(np.stack([nodes[first], nodes[last]], axis=1))
        blocked = np.zeros(len(boxes), dtype=np.bool_)
        for area in self.areas:
            blocked |= shapely.intersects(area, boxes)
        length = np.hypot(*(nodes[last] - nodes[first]).T)
        return np.where(blocked, np.inf, length).reshape(count, count)


def _parts(job: Job, cutter: Cutter) -> list[tuple[float, float]]:
    """Radius of each part of a cutter, and how far above the tip it begins."""
    nut, shoe, neck = job.machine.nut, job.machine.nut.shoe, cutter.neck
    parts = [(cutter.radius, 0.0), (cutter.shank / 2.0, cutter.shank_from)]
    parts.append((nut.diameter / 2.0, cutter.reach))
    if neck is not None:
        parts.append((neck.diameter / 2.0, cutter.flute_length))
    if shoe is not None:
        parts.append((shoe.diameter / 2.0, cutter.reach - shoe.drop))
    return parts


def _grown(clamp: Clamp, distance: float) -> BaseGeometry:
    area = flat_area(clamp.outline, TOLERANCES.flatten, Err.OUTWARD)
    grown = area.buffer(distance, quad_segs=16)
    shapely.prepare(grown)
    return grown


def _room(job: Job) -> tuple[Place, Place]:
    """Where corners may lie: the blank, and on each side half of what travel there is beyond."""
    low, high = bounds_of(job.blank.outline)
    spare = [
        max(0.0, (job.machine.travel[axis] - (high[axis] - low[axis])) / 2.0) for axis in (0, 1)
    ]
    return (low[0] - spare[0], low[1] - spare[1]), (high[0] + spare[0], high[1] + spare[1])


def _boxes(ends: FloatArray) -> NDArray[np.object_]:
    """The boxes (k,) that rapids between pairs of ends (k, 2, 2) may wander in."""
    return np.asarray(shapely.envelope(shapely.linestrings(ends)), dtype=np.object_)
