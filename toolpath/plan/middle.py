"""The middle of a ledge: where there is most room between the plate's edge and the cavity.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.seat import Seat
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

SPACING = 0.5
"""Along the edge of the plate a place is looked for every so many mm, at most."""

MOST_SPOTS = 4000
"""... and in no more places than this."""

HALVINGS = 16
"""A disc on the ledge is found to within its largest radius over two to the power of this."""

CORNER_TURN = np.radians(50.0)
"""A plate has a corner where its edge turns by more than this within `CORNER_LENGTH`."""

CORNER_LENGTH = 9.0
"""mm to either side; on top of it the radius that the ledge's cutter leaves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """The middle of a ledge: for each spot along the plate's edge the largest disc that touches
    it from inside and lies on the ledge. Rows n, in order along the edge."""

    centre: FloatArray = field(repr=False)
    """(n, 2) its middle."""
    room: FloatArray = field(repr=False)
    """(n,) its radius: how far the middle is from the plate's edge and from the cavity."""
    along: FloatArray = field(repr=False)
    """(n,) of the spot, mm along the edge."""
    length: float
    """Of the edge, mm."""
    corners: tuple[int, ...]
    """Rows at which the plate has an outward corner."""

    def apart(self, place: float) -> FloatArray:
        """(n,) distance of each spot from a place, mm along the edge, the shorter way round."""
        away = np.abs(self.along - place % self.length)
        return np.asarray(np.minimum(away, self.length - away))


def room_at(seat: Seat, spots: FloatArray) -> FloatArray:
    """(n,) how far spots (n, 2) on the ledge are from the plate's edge and the cavity; below 0
    for those that are not on it."""
    points = shapely.points(spots)
    plate, rim, cavity = _prepared(seat)
    room = np.minimum(shapely.distance(rim, points), shapely.distance(cavity, points))
    inside = shapely.contains(plate, points) & ~shapely.intersects(cavity, points)
    return np.where(inside, room, -1.0)


@lru_cache(maxsize=64)
def _prepared(seat: Seat) -> tuple[Polygon, LinearRing, BaseGeometry]:
    """The plate, its edge and the cavity, ready to be asked often."""
    plate = cast(Polygon, seat.plate.simplify(TOLERANCES.arc_fit))
    found = (plate, plate.exterior, seat.cavity.simplify(TOLERANCES.arc_fit))
    for each in found:
        shapely.prepare(each)
    return found


@lru_cache(maxsize=64)
def track_of(seat: Seat, radius: float) -> Track:
    """The middle of the ledge under a plate; `radius` is that of the corners its cutter leaves."""
    ring = shapely.orient_polygons(seat.plate).exterior
    count = int(min(MOST_SPOTS, max(64, np.ceil(ring.length / SPACING))))
    along = (np.arange(count) + 0.5) * ring.length / count
    centre, room = discs_at(seat, along)
    reach = max(1, round((CORNER_LENGTH + radius) * count / ring.length))
    return Track(
        centre=centre,
        room=room,
        along=along,
        length=float(ring.length),
        corners=_corner_rows(_on_ring(ring, along)[1], reach),
    )


def discs_at(seat: Seat, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middles (n, 2) and radii (n,) of the largest discs on the ledge that touch the plate's edge
    from inside at places (n,) along it."""
    ring = shapely.orient_polygons(seat.plate).exterior
    spots, ahead = _on_ring(ring, along % ring.length)
    inward = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    room = _discs(seat, spots, inward)
    return spots + inward * room[:, None], room


def top_of(seat: Seat) -> float:
    """Where along its edge, mm, the plate is highest."""
    ring = shapely.orient_polygons(seat.plate).exterior
    corners = shapely.get_coordinates(ring)
    return float(ring.project(shapely.Point(corners[np.argmax(corners[:, 1])])))


def roomiest(seat: Seat, along: FloatArray) -> float:
    """Which of some places along the plate's edge has the largest disc."""
    return float(along[np.argmax(discs_at(seat, along)[1])])


def _on_ring(ring: LinearRing, along: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places (n, 2) along a ring and the direction of its edge there (n, 2)."""
    corners = shapely.get_coordinates(ring)
    step = np.diff(corners, axis=0)
    length = np.hypot(*step.T)
    reach = np.concatenate([[0.0], np.cumsum(length)])
    edge = np.clip(np.searchsorted(reach, along, side="right") - 1, 0, len(step) - 1)
    ahead = step[edge] / length[edge, None]
    return corners[edge] + ahead * (along - reach[edge])[:, None], ahead


def _discs(seat: Seat, spots: FloatArray, inward: FloatArray) -> FloatArray:
    """(n,) radii of the largest discs that touch the plate's edge at the spots.

    A disc that touches there and grows stays on the ledge until it meets the edge elsewhere or
    the cavity, and from then on does not: so halving finds the largest.
    """
    x0, y0, x1, y1 = seat.plate.bounds
    low = np.zeros(len(spots))
    high = np.full(len(spots), min(x1 - x0, y1 - y0) / 2.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        fits = room_at(seat, spots + inward * middle[:, None]) >= middle - TOLERANCES.judge
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low


def _corner_rows(ahead: FloatArray, reach: int) -> tuple[int, ...]:
    """Rows at which the edge turns left by a corner's turn within `reach` rows either way, the
    middle of each run of them."""
    after, before = np.roll(ahead, -reach, axis=0), np.roll(ahead, reach, axis=0)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.arctan2(cross, np.einsum("ij,ij->i", before, after)) > CORNER_TURN
    if turns.all() or not turns.any():
        return ()
    first = int(np.flatnonzero(~turns)[0])
    rows = np.flatnonzero(np.roll(turns, -first))
    runs = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    return tuple(sorted(int(run[len(run) // 2] + first) % len(turns) for run in runs))
