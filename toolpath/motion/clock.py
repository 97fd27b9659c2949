"""The machine clock: how long moves take when speeds must be built up and taken down.

Each move has a trapezoid of speed. At the joint of two feed moves the tip slows down to what a
small arc, cut inside the corner, allows; a look-ahead over all moves lets a chain of short
straight pieces run through without stopping.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import FloatArray, Kind, MoveTable

CORNER_CUT = 0.02
"""How far a controller may cut a corner, mm. Common practice; the usual path error of a job."""

STOP_TURN = math.radians(60.0)
"""The tip stops where the path turns by more. Errs towards the longer time."""

_AT_ONCE = 65536
"""Joints that are looked at together: memory only."""


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
    lengths = table.lengths()
    moving = np.flatnonzero(lengths > 0.0)
    taken = np.zeros(len(table))
    if moving.size:
        rows = table if len(moving) == len(table) else table.take(moving)
        taken[moving] = _durations(rows, lengths[moving], rapid, acceleration)
    return taken


def _durations(
    table: MoveTable, length: FloatArray, rapid: float, acceleration: float
) -> FloatArray:
    """(n,) seconds of moves that all have a length."""
    speed = np.where(table.kind == Kind.RAPID, rapid, table.feed) / 60.0
    if not (speed > 0.0).all():
        raise ValueError("a feed move without a feed takes for ever")
    if math.isinf(acceleration):
        return np.asarray(length / speed, dtype=np.float64)
    speed = np.minimum(speed, np.sqrt(acceleration * _bend_radius(table)))
    joints = _look_ahead(_joint_limits(table, length, speed, acceleration), length, acceleration)
    return _trapezoids(length, speed, joints, acceleration)


def _bend_radius(table: MoveTable) -> FloatArray:
    """(n,) radius of curvature of each move: of a helix r + h²/r, with h the climb a radian."""
    bend = np.full(len(table), math.inf)
    arcs = table.kind == Kind.ARC
    radius = np.hypot(*(table.start[arcs, :2] - table.centre[arcs]).T)
    climb = (table.end[arcs, 2] - table.start[arcs, 2]) / table.sweep[arcs]
    bend[arcs] = radius + climb**2 / radius
    return bend


def _joint_limits(
    table: MoveTable, length: FloatArray, speed: FloatArray, acceleration: float
) -> FloatArray:
    """(n + 1,) squares of the greatest speeds at the joints, the two ends included.

    Within a joint the tip runs on an arc that touches both moves, leaves their corner by no more
    than `CORNER_CUT` and takes up no more than half of the shorter move.
    """
    some = [
        _inner_limits(
            table.take(slice(at, at + _AT_ONCE + 1)),
            length[at : at + _AT_ONCE + 1],
            speed[at : at + _AT_ONCE + 1],
            acceleration,
        )
        for at in range(0, len(table) - 1, _AT_ONCE)
    ]
    return np.concatenate([[0.0], *some, [0.0]])


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
    arcs = table.kind == Kind.ARC
    sweep, climb = table.sweep[arcs], straight[arcs, 2]
    for place, out in ((table.start, leaving), (table.end, arriving)):
        spoke = place[arcs, :2] - table.centre[arcs]
        out[arcs] = np.stack([-spoke[:, 1] * sweep, spoke[:, 0] * sweep, climb], axis=1)
    leaving /= np.linalg.norm(leaving, axis=1)[:, None]
    arriving /= np.linalg.norm(arriving, axis=1)[:, None]
    return leaving, arriving


def _look_ahead(limit: FloatArray, length: FloatArray, acceleration: float) -> FloatArray:
    """(n + 1,) squares of the speeds at the joints that can be reached and stopped from.

    The square of the speed changes by at most twice the acceleration times the length, so from
    each joint a cone bounds all others: the least over all cones from before and from behind.
    """
    gain = 2.0 * acceleration * np.concatenate([[0.0], np.cumsum(length)])
    before = np.minimum.accumulate(limit - gain) + gain
    behind = np.minimum.accumulate((limit + gain)[::-1])[::-1] - gain
    return np.clip(np.minimum(before, behind), 0.0, limit)


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
