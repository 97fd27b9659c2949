"""Centre and sweep of an arc as the reader takes it from its words (NISTIR 6556, 3.5.3).

Frame: the XY plane of the program, millimetres; sweeps in radians, counter-clockwise positive,
seen from +z. The writer has arithmetic of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

XY = tuple[float, float]
TURN = 2.0 * math.pi

SAME = 1e-7
"""Ends of an arc nearer than this along it (mm) are one point, so the arc is a full turn. Less
than any decimal that is written, more than sums of increments lose. Errs towards the longer path.
"""

NOISE = 1e-9
"""What floating point may add to a radius (mm): an arc exactly at the tolerance is allowed."""


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc by its centre and signed sweep."""

    centre: XY
    sweep: float


def centre_format(start: XY, end: XY, offset: XY, *, clockwise: bool, tolerance: float) -> Arc:
    """The arc given by the offset (I, J) of its centre from its start; equal ends: a full turn.

    Raises
    ------
    ValueError
        If the radius is nothing, or those at the two ends differ by more than `tolerance` mm
        (NISTIR 6556, 3.5.3.2).
    """
    centre = (start[0] + offset[0], start[1] + offset[1])
    first = math.hypot(*offset)
    last = math.hypot(end[0] - centre[0], end[1] - centre[1])
    if abs(first - last) > tolerance + NOISE:
        raise ValueError(
            f"the arc's radius is {first:.5f} mm at its start and {last:.5f} mm at its end; "
            f"they may differ by {tolerance:.5f} mm"
        )
    if min(first, last) <= SAME:
        raise ValueError("an arc with no radius")
    return Arc(centre, _sweep(start, end, centre, clockwise))


def radius_format(start: XY, end: XY, radius: float, *, clockwise: bool, tolerance: float) -> Arc:
    """The arc given by its radius (R): the short way round if positive, else the long way.

    Raises
    ------
    ValueError
        If the ends are one point, or further apart than twice the radius by more than
        `tolerance` mm (NISTIR 6556, 3.5.3.1).
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord <= SAME:
        raise ValueError("an arc with R that ends where it starts; a full circle needs I and J")
    size = abs(radius)
    if chord / 2.0 > size + tolerance:
        raise ValueError(f"the ends are {chord:.5f} mm apart, too far for the radius {size:.5f} mm")
    aside = math.sqrt(max(size * size - chord * chord / 4.0, 0.0)) / chord
    if clockwise == (radius > 0.0):
        aside = -aside
    centre = (start[0] + dx / 2.0 - dy * aside, start[1] + dy / 2.0 + dx * aside)
    return Arc(centre, _sweep(start, end, centre, clockwise))


def _sweep(start: XY, end: XY, centre: XY, clockwise: bool) -> float:
    """Signed angle from start to end, more than nothing and at most one turn."""
    ax, ay = start[0] - centre[0], start[1] - centre[1]
    bx, by = end[0] - centre[0], end[1] - centre[1]
    angle = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if abs(angle) * math.hypot(ax, ay) <= SAME:
        return -TURN if clockwise else TURN
    if clockwise:
        return angle if angle < 0.0 else angle - TURN
    return angle if angle > 0.0 else angle + TURN
