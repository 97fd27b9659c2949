"""The machine clock: how long moves take when speeds must be built up and taken down.

Each move has a trapezoid of speed. At the joint of two feed moves the tip slows down to what a
small arc, cut inside the corner, allows; a look-ahead over all moves lets a chain of short
straight pieces run through without stopping.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import FloatArray, Kind, MoveTable

CORNER_CUT = 0.02
"""How far a controller may cut a corner, mm. Common practice; the usual path error of a job."""

STOP_TURN = math.radians(60.0)
"""The tip stops where the path turns by more. Errs towards the longer time."""

_AT_ONCE = 65536
"""Moves that are looked at together: memory only."""


def seconds(table: MoveTable, *, rapid: float, acceleration: float) -> FloatArray:
    """(n,) seconds of each move.

    Parameters
    ----------
    table
        Moves in order; those whose ends are not known take no time here (errs short).
    rapid
        Speed of rapids along their path, mm/min.
    acceleration
        Largest change of speed, along the path and round curves, mm/s²; `math.inf` for none.

    The tip stands still at the start and the end, between rapids and feed moves, and where the
    path turns by more than 60 degrees. On an arc of curvature k it is no faster than the square
    root of acceleration / k. Waits are not moves and are not counted.

    Raises
    ------
    ValueError
        If `rapid`, `acceleration` or the feed of a feed move is not positive.
    """
    if not (rapid > 0.0 and acceleration > 0.0):
        raise ValueError(f"rapid {rapid} and acceleration {acceleration} must be positive")
    moves = _Moves.of(table, rapid)
    found = _durations(moves, acceleration) if len(moves.row) else np.empty(0)
    taken = np.zeros(len(table))
    taken[moves.row] = found
    return taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Moves:
    """Moves `row` (n,) of a table that all have a `length` (n,), looked at some at once."""

    table: MoveTable
    row: NDArray[np.intp]
    length: FloatArray
    rapid: float

    @classmethod
    def of(cls, table: MoveTable, rapid: float) -> _Moves:
        lengths = table.lengths()
        moving = np.flatnonzero(lengths > 0.0)
        return cls(table=table, row=moving, length=lengths[moving], rapid=rapid)

    def parts(self, beyond: int = 0) -> Iterator[tuple[slice, MoveTable]]:
        """Where they stand, and they; each part goes on into the next by so many moves."""
        for at in range(0, len(self.row) - beyond, _AT_ONCE):
            some = slice(at, min(at + _AT_ONCE + beyond, len(self.row)))
            yield some, self.table.take(self.row[some])

    def speed(self, part: MoveTable, acceleration: float) -> FloatArray:
        """(k,) mm/s, as fast as feeds, rapids and curves allow."""
        speed = np.where(part.kind == Kind.RAPID, self.rapid, part.feed) / 60.0
        if not (speed > 0.0).all():
            raise ValueError("a feed move without a feed takes for ever")
        return np.minimum(speed, np.sqrt(acceleration * _bend_radius(part)))


def _durations(moves: _Moves, acceleration: float) -> FloatArray:
    """(n,) seconds of moves."""
    if math.isinf(acceleration):
        taken = np.empty(len(moves.row))
        for some, part in moves.parts():
            taken[some] = moves.length[some] / moves.speed(part, acceleration)
        return taken
    joints = _look_ahead(_joint_limits(moves, acceleration), moves.length, acceleration)
    taken = np.empty(len(moves.row))
    for some, part in moves.parts():
        speed = moves.speed(part, acceleration)
        ends = joints[some.start : some.stop + 1]
        taken[some] = _trapezoids(moves.length[some], speed, ends, acceleration)
    return taken


def _bend_radius(table: MoveTable) -> FloatArray:
    """(n,) radius of curvature of each move: of a helix r + h²/r, with h the climb a radian."""
    bend = np.full(len(table), math.inf)
    arcs = table.arcs.row
    radius = np.hypot(*(table.start[arcs, :2] - table.arcs.centre).T)
    climb = (table.end[arcs, 2] - table.start[arcs, 2]) / table.arcs.sweep
    bend[arcs] = radius + climb**2 / radius
    return bend


def _joint_limits(moves: _Moves, acceleration: float) -> FloatArray:
    """(n + 1,) squares of the greatest speeds at the joints, the two ends included.

    Within a joint the tip runs on an arc that touches both moves, leaves their corner by no more
    than `CORNER_CUT` and takes up no more than half of the shorter move.
    """
    limit = np.zeros(len(moves.row) + 1)
    for some, part in moves.parts(beyond=1):
        speed = moves.speed(part, acceleration)
        inner = _inner_limits(part, moves.length[some], speed, acceleration)
        limit[some.start + 1 : some.stop] = inner
    return limit


def _inner_limits(
    table: MoveTable, length: FloatArray, speed: FloatArray, acceleration: float
) -> FloatArray:
    """(n - 1,) those between the moves of a table."""
    leaving, arriving = _tangents(table)
    across = np.linalg.norm(np.cross(arriving[:-1], leaving[1:]), axis=1)
    turn = np.arctan2(across, np.einsum("ij,ij->i", arriving[:-1], leaving[1:]))
    with np.errstate(divide="ignore"):
        by_cut = CORNER_CUT / (1.0 / np.cos(turn / 2.0) - 1.0)
        by_length = np.minimum(length[:-1], length[1:]) / 2.0 / np.tan(turn / 2.0)
    allowed = acceleration * np.minimum(by_cut, by_length)
    limit = np.minimum(allowed, np.minimum(speed[:-1], speed[1:]) ** 2)
    limit[(turn > STOP_TURN) | _changes(table)] = 0.0
    return np.asarray(limit, dtype=np.float64)


def _changes(table: MoveTable) -> NDArray[np.bool_]:
    """(n - 1,) joints where the tip must stop: between rapid and feed, and where moves that are
    not here (unknown or without length) leave a gap."""
    is_rapid = table.kind == Kind.RAPID
    apart = np.any(np.abs(table.end[:-1] - table.start[1:]) > CORNER_CUT, axis=1)
    return np.asarray((is_rapid[:-1] != is_rapid[1:]) | apart, dtype=np.bool_)


def _tangents(table: MoveTable) -> tuple[FloatArray, FloatArray]:
    """(n, 3) unit directions at the start and at the end of each move."""
    straight = table.end - table.start
    leaving, arriving = straight.copy(), straight.copy()
    arcs = table.arcs.row
    sweep, climb = table.arcs.sweep, straight[arcs, 2]
    for place, out in ((table.start, leaving), (table.end, arriving)):
        spoke = place[arcs, :2] - table.arcs.centre
        out[arcs] = np.stack([-spoke[:, 1] * sweep, spoke[:, 0] * sweep, climb], axis=1)
    leaving /= np.linalg.norm(leaving, axis=1)[:, None]
    arriving /= np.linalg.norm(arriving, axis=1)[:, None]
    return leaving, arriving


def _look_ahead(limit: FloatArray, length: FloatArray, acceleration: float) -> FloatArray:
    """(n + 1,) squares of the speeds at the joints that can be reached and stopped from. `limit`
    is changed.

    The square of the speed changes by at most twice the acceleration times the length, so from
    each joint a cone bounds all others: the least over all cones from before and from behind.
    """
    gain = np.concatenate([[0.0], length])
    gain = np.cumsum(gain, out=gain)
    gain *= 2.0 * acceleration
    before = limit - gain
    before = np.minimum.accumulate(before, out=before)
    before += gain
    np.minimum(before, limit, out=before)
    limit += gain
    np.minimum.accumulate(limit[::-1], out=limit[::-1])
    limit -= gain
    least = np.minimum(before, limit, out=before)
    return np.maximum(least, 0.0, out=least)


def _trapezoids(
    length: FloatArray, speed: FloatArray, joints: FloatArray, acceleration: float
) -> FloatArray:
    """(n,) seconds of moves with given squares of the speeds at their ends."""
    first, last = joints[:-1], joints[1:]
    peak = np.minimum(speed**2, (first + last + 2.0 * acceleration * length) / 2.0)
    top = np.sqrt(peak)
    ramps = (2.0 * top - np.sqrt(first) - np.sqrt(last)) / acceleration
    level = np.maximum(length - (2.0 * peak - first - last) / (2.0 * acceleration), 0.0)
    return np.asarray(ramps + level / top, dtype=np.float64)
