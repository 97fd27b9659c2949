"""The writer's numbers: whole steps of the last decimal, and arcs that stay true on them.

Used by the writer only; the reader has arithmetic of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from toolpath.errors import InternalError
from toolpath.motion.moves import Move, Point
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

ARC_LIMIT = 0.005
"""Furthest that a written arc may lie from the wanted one, mm: the house limit, of which
`TOLERANCES.arc_fit` is a fifth. Either side."""

RADIUS_SHARE = 0.5
"""Share of the standard's radius tolerance that is used; the rest is left to the controller."""

HALVE_OVER = math.radians(300.0)
"""Arcs that turn further are written as two: near a full turn the end, once rounded, may fall
on the start or past it."""

LEAST_SWEEP = 1e-3
"""Arcs that turn less (radians) are written as lines: some controllers take very small angles
for full circles."""

LEAST_STEPS = 10
"""Arcs whose ends are nearer than this many steps are written as lines, for the same reason."""

STEPS_LIMIT = 10**11
"""More steps than this from zero is no position on a machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Lengths as whole steps of the last decimal written."""

    unit: Unit
    decimals: int

    def __post_init__(self) -> None:
        if not 1 <= self.decimals <= 6:
            raise InternalError(f"{self.decimals} decimals cannot be written; 1 to 6 can")

    @property
    def size(self) -> float:
        """One step in mm."""
        return self.unit.mm / float(10**self.decimals)

    def of(self, value: float) -> int:
        """The steps nearest to a length in mm."""
        count = value / self.unit.mm * float(10**self.decimals)
        if not abs(count) < STEPS_LIMIT:
            raise InternalError(f"{value} mm is no position")
        return round(count)

    def point(self, place: Point) -> tuple[int, int, int]:
        """The steps nearest to a place in mm."""
        return self.of(place[0]), self.of(place[1]), self.of(place[2])

    def show(self, steps: int) -> str:
        """Steps as a fixed-point number of the unit, never -0."""
        digits = f"{abs(steps):0{self.decimals + 1}d}"
        sign = "-" if steps < 0 else ""
        return f"{sign}{digits[: -self.decimals]}.{digits[-self.decimals :]}"


def arc_pieces(arc: Move) -> Iterator[Move]:
    """The arc itself, or its two halves if it turns by more than 300 degrees."""
    if not all(math.isfinite(c) for c in (*arc.start, *arc.end, *arc.centre, arc.sweep)):
        raise InternalError(f"an arc that is not finite: {arc}")
    if abs(arc.sweep) <= HALVE_OVER:
        yield arc
        return
    middle = point_on(arc, 0.5)
    for start, end in ((arc.start, middle), (middle, arc.end)):
        yield Move(
            kind=arc.kind,
            start=start,
            end=end,
            centre=arc.centre,
            sweep=arc.sweep / 2.0,
            feed=arc.feed,
        )


def point_on(arc: Move, t: float) -> Point:
    """The place at the fraction `t` of an arc; its radius goes evenly from start to end."""
    x, y = arc.start[0] - arc.centre[0], arc.start[1] - arc.centre[1]
    last = math.hypot(arc.end[0] - arc.centre[0], arc.end[1] - arc.centre[1])
    first = math.hypot(x, y)
    radius = first + (last - first) * t
    angle = math.atan2(y, x) + arc.sweep * t
    return (
        arc.centre[0] + radius * math.cos(angle),
        arc.centre[1] + radius * math.sin(angle),
        arc.start[2] + (arc.end[2] - arc.start[2]) * t,
    )


def chord_count(arc: Move) -> int:
    """How many equal chords keep within `TOLERANCES.arc_fit` of an arc."""
    radius = math.hypot(arc.start[0] - arc.centre[0], arc.start[1] - arc.centre[1])
    ratio = min(TOLERANCES.arc_fit / radius, 1.0) if radius > 0 else 1.0
    return max(1, math.ceil(abs(arc.sweep) / (2.0 * math.acos(1.0 - ratio))))


def plain_arc(
    arc: Move, start: tuple[int, int], end: tuple[int, int], steps: Steps
) -> tuple[int, int] | None:
    """Centre offset (I, J), in steps, of an arc between rounded ends; None if lines are better.

    All is judged on the rounded numbers: radii, sense and size of the turn, and the distance
    from the wanted arc at its quarters.
    """
    centre = (steps.of(arc.centre[0]), steps.of(arc.centre[1]))
    ax, ay = start[0] - centre[0], start[1] - centre[1]
    bx, by = end[0] - centre[0], end[1] - centre[1]
    first, last = math.hypot(ax, ay), math.hypot(bx, by)
    if math.hypot(bx - ax, by - ay) < LEAST_STEPS or abs(arc.sweep) < LEAST_SWEEP:
        return None
    if abs(first - last) * steps.size > RADIUS_SHARE * _radius_tolerance(steps.unit):
        return None
    sweep = _turn(ax * bx + ay * by, ax * by - ay * bx, arc.sweep)
    if abs(sweep - arc.sweep) > abs(arc.sweep) / 2.0:
        return None
    rounded = Move(
        kind=arc.kind,
        start=(start[0] * steps.size, start[1] * steps.size, 0.0),
        end=(end[0] * steps.size, end[1] * steps.size, 0.0),
        centre=(centre[0] * steps.size, centre[1] * steps.size),
        sweep=sweep,
    )
    if any(_apart(rounded, arc, t) > ARC_LIMIT for t in (0.25, 0.5, 0.75)):
        return None
    return -ax, -ay


def _radius_tolerance(unit: Unit) -> float:
    """What the standard lets the two radii differ by, in mm."""
    if unit is Unit.MM:
        return TOLERANCES.arc_radius_mm
    return TOLERANCES.arc_radius_inch * unit.mm


def _turn(along: float, across: float, wanted: float) -> float:
    """The angle with that cosine and sine part that turns the same way as `wanted`."""
    angle = math.atan2(across, along)
    if wanted > 0:
        return angle if angle > 0 else angle + 2.0 * math.pi
    return angle if angle < 0 else angle - 2.0 * math.pi


def _apart(one: Move, other: Move, t: float) -> float:
    a, b = point_on(one, t), point_on(other, t)
    return math.hypot(a[0] - b[0], a[1] - b[1])
