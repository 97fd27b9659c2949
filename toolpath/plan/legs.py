"""The way of a cutter through a room as legs, and the stock as it stands when it comes there.

Frame: x, y of the blank frame or its mirror image, millimetres, radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import length_of
from toolpath.plan.near import Near
from toolpath.plan.returns import Heading, Within, way_back

FloatArray = NDArray[np.float64]


class Kind(Enum):
    """What a leg is for."""

    CUT = "cut"
    WALL = "wall"
    RETURN = "return"
    LIFT = "lift"


ASIDE = (1.0, 1.5, 2.5)
"""So far beside a place a rapid comes down, in what it needs there."""
TURNS = tuple(math.radians(turn) for turn in (90, -90, 135, 45, -135, -45, 180, 0))
"""On which side of the heading that is tried."""
CLEARING = (Kind.CUT, Kind.WALL)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """(n, 2) a stretch of the way; of a lift (2, 2) where it comes down and where it leads to."""

    kind: Kind
    points: FloatArray = field(repr=False)


@dataclass(slots=True, kw_only=True, eq=False)
class Walk:
    """A way so far."""

    near: Near
    room: Within
    """Where the centre may be."""
    foot: FloatArray = field(repr=False)
    """(n, 2) what the way in cleared."""
    at: Heading
    longest: float = math.inf
    """Longer ways through cleared room than this, mm, are not worth their feed."""
    legs: list[Leg] = field(default_factory=list)

    @property
    def lines(self) -> list[FloatArray]:
        """All that clears something."""
        return [self.foot, *(leg.points for leg in self.legs if leg.kind in CLEARING)]

    def go_to(self, begin: Heading) -> None:
        """Through cleared room to a heading, or up and down there where there is no way."""
        self.go_along(way_back(self.near, self.room, self.at, begin), begin)

    def cut_straight(self, kind: Kind, points: FloatArray) -> None:
        """The same straight from where it stands, however it is heading, if that is clear."""
        begin = Heading.at_start(points)
        back = np.vstack([self.at.place, begin.place])
        if _is_here(*back) or (
            self.room.holds(back) and self.near.clear(_dense(back, self.near.radius / 20.0))
        ):
            self.go_along(back, begin)
            self.near.sweep(points)
            self.take(kind, points)
        else:
            self.cut(kind, points)

    def go_along(self, back: FloatArray | None, begin: Heading) -> None:
        """The same along a way that is known already; None for a lift."""
        if _is_here(self.at.place, begin.place):
            return
        if back is None or length_of(back) > self.longest:
            down = np.vstack([self._aside(begin), begin.place])
            self.legs.append(Leg(kind=Kind.LIFT, points=down))
        else:
            self.legs.append(Leg(kind=Kind.RETURN, points=back))

    def _aside(self, begin: Heading) -> FloatArray:
        """Where a rapid may come down beside a place, or the place itself."""
        wide = ALLOWANCES.beside + 2.0 * ALLOWANCES.sure + self.near.cells.size
        for far in ASIDE:
            for turn in TURNS:
                angle = begin.angle + turn
                way = far * wide * np.array([math.cos(angle), math.sin(angle)])
                spot = np.asarray(begin.place + way)
                line = np.linspace(begin.place, spot, 5)
                if (
                    self.room.holds(line)
                    and self.near.clear(line)
                    and self.near.clear(spot[None], wide)
                ):
                    return spot
        return begin.place

    def take(self, kind: Kind, points: FloatArray) -> None:
        """Along (n, 2) that the stock knows of already."""
        self.legs.append(Leg(kind=kind, points=points))
        self.at = Heading.at_end(points)

    def cut(self, kind: Kind, points: FloatArray) -> None:
        """To the first of (n, 2) places and along them."""
        self.go_to(Heading.at_start(points))
        self.near.sweep(points)
        self.take(kind, points)

    def apart(self, points: FloatArray) -> float:
        """How far the nearest of (n, 2) places is from where it stands."""
        return float(np.hypot(*(points - self.at.place).T).min())


def _is_here(place: FloatArray, other: FloatArray) -> bool:
    """Whether two places are one."""
    return math.dist(place, other) < 1e-6


def _dense(points: FloatArray, pitch: float) -> FloatArray:
    return shapely.get_coordinates(shapely.segmentize(shapely.linestrings(points), pitch))
