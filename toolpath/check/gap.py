"""The gap between a turning cutter and a solid, exactly, for many places at once.

Every body of the cutter is convex and turned about the vertical axis, so the distance of a
point from it never falls as the point goes away from the axis. A solid that stands on a
footprint is therefore nearest along one vertical line: the one at the least distance of its
footprint from the axis. The gap is the distance of that line from the part's half section.

As both bodies are convex the gap is a convex function of the tip's place, and the direction
from the nearest point of the cutter to that of the solid gives its steepest change: moving the
tip by m changes the gap by at least -(direction . m). `Gaps.direction` carries it. A footprint that
is not convex lies in the half plane at its nearest point moved back by `Gaps.slack`, and the gap to
that is a convex function again.

The hollow of a cutter that rounds an edge is not convex. It is parted along chords of its curve
into convex bodies that overlap and together hold all of it, and no more than `HOLLOW` beyond.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.check.report import Part
from toolpath.check.solids import Foot, Solids
from toolpath.job.model import Cutter, Nut, Shape

FloatArray = NDArray[np.float64]

SPINDLE_TOP = 1e6
"""Height above the tip to which the nut is taken to go on, mm: the spindle stands above it.
Without it a cutter wholly inside a hollow mesh would seem to be clear of its skin."""


HOLLOW = 0.01
"""Largest distance of a chord from the hollow curve that it spans, mm, on the side of the solid:
errs to refusing by no more. It costs a body each: ten for a rounding of 3 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One part of a turning cutter: flat bottom of radius `r_low` at `z_low`, flank up to
    radius `r_full` at `z_full`, then upright to `z_high`; `corner` > 0 makes the flank a quarter
    round of that radius instead (the whole of it for a ball). Heights above the tip, mm. Never
    thinner upward: raises ValueError.
    """

    part: Part
    r_low: float
    r_full: float
    z_low: float
    z_full: float
    z_high: float
    corner: float = 0.0

    def __post_init__(self) -> None:
        grows = 0.0 <= self.r_low <= self.r_full and 0.0 <= self.corner <= self.r_full
        if not (grows and self.z_low <= self.z_full <= self.z_high):
            raise ValueError(f"{self} gets thinner upward")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A cutter as it sticks out of its nut. Several bodies may belong to one part."""

    bodies: tuple[Body, ...]

    @property
    def radius(self) -> float:
        """The largest radius of any part, mm."""
        return max(body.r_full for body in self.bodies)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gaps:
    """Gaps (k, bodies), >= 0, and the directions (k, bodies, 3) from cutter to solid; the
    direction is zero where the gap is. `slack` (k,): how far a footprint that is not convex
    reaches back over the line at its nearest point, 0 for the others."""

    gap: FloatArray
    direction: FloatArray
    slack: FloatArray

    @property
    def level_slack(self) -> FloatArray:
        """(k, bodies) how much less than by its direction a gap may change: what of the slack
        lies along it."""
        level = np.hypot(self.direction[..., 0], self.direction[..., 1])
        return np.asarray(self.slack[:, None] * level, dtype=np.float64)


def tool_of(cutter: Cutter, nut: Nut) -> Tool:
    """The parts of a cutter: flutes, neck if any, shank where any sticks out, nut, shoe if any."""
    bodies = list(_hollow(cutter) if cutter.shape is Shape.ROUND_OVER else (_flutes(cutter),))
    neck, shoe, low = cutter.neck, nut.shoe, cutter.shank_from
    if neck is not None:
        bodies.append(_post(Part.NECK, neck.diameter / 2.0, cutter.flute_length, low))
    if cutter.reach > low:
        bodies.append(_post(Part.SHANK, cutter.shank / 2.0, low, cutter.reach))
    bodies.append(_post(Part.NUT, nut.diameter / 2.0, cutter.reach, SPINDLE_TOP))
    if shoe is not None:
        edge = cutter.reach - shoe.drop
        bodies.append(_post(Part.SHOE, shoe.diameter / 2.0, edge, SPINDLE_TOP))
    return Tool(bodies=tuple(bodies))


def _post(part: Part, radius: float, low: float, high: float) -> Body:
    return Body(part=part, r_low=radius, r_full=radius, z_low=low, z_full=low, z_high=high)


def _hollow(cutter: Cutter) -> list[Body]:
    """The flutes of a cutter that rounds an edge: a cone for each chord of its curve, whose middle
    stands under the full width, level with the tip; each goes on upright to the flutes' end."""
    round_, full = min(cutter.edge_radius, cutter.diameter / 2.0), cutter.diameter / 2.0
    step = 2.0 * math.acos(1.0 - min(HOLLOW / max(round_, HOLLOW), 1.0))
    turn = np.linspace(0.0, math.pi / 2.0, math.ceil(math.pi / 2.0 / step) + 1)
    radii, heights = full - round_ * np.cos(turn), round_ * np.sin(turn)
    radii[-1] = full
    return [
        Body(
            part=Part.FLUTES,
            r_low=max(float(r_low), 0.0),
            r_full=float(r_full),
            z_low=float(low),
            z_full=float(high),
            z_high=max(cutter.flute_length, round_),
        )
        for r_low, r_full, low, high in zip(
            radii[:-1], radii[1:], heights[:-1], heights[1:], strict=True
        )
    ]


def _flutes(cutter: Cutter) -> Body:
    radius, corner, point, tip = cutter.diameter / 2.0, 0.0, 0.0, cutter.diameter / 2.0
    if cutter.shape is Shape.BALL:
        corner = point = radius
    elif cutter.shape is Shape.BULL:
        corner = point = min(cutter.corner_radius, radius)
    elif cutter.shape in (Shape.VEE, Shape.DRILL):
        tip = min(cutter.tip_diameter / 2.0, radius)
        point = (radius - tip) / float(np.tan(cutter.angle / 2.0))
    return Body(
        part=Part.FLUTES,
        r_low=tip,
        r_full=radius,
        z_low=0.0,
        z_full=point,
        z_high=max(cutter.flute_length, point),
        corner=corner,
    )


def gaps(tool: Tool, solids: Solids, tips: FloatArray) -> Gaps:
    """The gap between each part of a cutter whose tip is at tips[i] (k, 3) and solids[i].

    Exact for every kind of solid.
    """
    toward, distance = to_footprint(solids, tips[:, :2])
    r = np.maximum(distance - solids.pad, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = np.where(distance[:, None] > 0.0, toward / distance[:, None], 0.0)
    low, high = solids.z0 - tips[:, 2], solids.z1 - tips[:, 2]
    gap = np.empty((len(tips), len(tool.bodies)))
    direction = np.empty((len(tips), len(tool.bodies), 3))
    for column, body in enumerate(tool.bodies):
        away, out, up = _from_body(body, r, np.maximum(np.minimum(body.z_full, high), low))
        gap[:, column] = away - solids.rounding
        direction[:, column, :2] = unit * out[:, None]
        direction[:, column, 2] = up
    inside = gap <= 0.0
    direction[inside] = 0.0
    gap[inside] = 0.0
    return Gaps(gap=gap, direction=direction, slack=_slack(solids, tips[:, :2] + toward, unit))


def _slack(solids: Solids, at: FloatArray, unit: FloatArray) -> FloatArray:
    """(k,) how far AREA footprints reach beyond their nearest points `at` (k, 2), against the
    directions `unit` (k, 2) to them; never less than the truth but for rounding."""
    slack = np.zeros(len(at))
    for row, mine in _by_area(solids):
        hull = solids.hulls[row]
        out = np.roll(hull, -1, axis=0) - hull
        normal = np.arctan2(-out[:, 0], out[:, 1])
        first = int(normal.argmin())
        wanted = np.arctan2(-unit[mine, 1], -unit[mine, 0])
        corner = np.searchsorted(np.roll(normal, -first), wanted) + first
        reach = [
            np.einsum("ij,ij->i", at[mine] - hull[(corner + step) % len(hull)], unit[mine])
            for step in (-1, 0, 1)
        ]
        slack[mine] = np.maximum(np.max(reach, axis=0), 0.0)
    return slack


def _by_area(solids: Solids) -> list[tuple[int, NDArray[np.intp]]]:
    """The areas among the footprints, and which rows have each."""
    is_area = solids.foot == Foot.AREA
    if not is_area.any():
        return []
    number = np.where(is_area, solids.hx, -1.0)
    return [(int(row), np.flatnonzero(number == row)) for row in np.unique(number[is_area])]


def to_footprint(solids: Solids, xy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(k, 2) from each place to the nearest point of its footprint, and the distances (k,)."""
    off_x, off_y = xy[:, 0] - solids.x, xy[:, 1] - solids.y
    along = off_x * solids.ux + off_y * solids.uy
    aside = off_y * solids.ux - off_x * solids.uy
    to_along = np.clip(along, -solids.hx, solids.hx) - along
    to_aside = np.clip(aside, -solids.hy, solids.hy) - aside
    sector = np.flatnonzero(solids.foot == Foot.SECTOR)
    if sector.size:
        to_along[sector], to_aside[sector] = _to_sector(
            along[sector], aside[sector], solids.hx[sector], solids.hy[sector]
        )
    toward = np.stack(
        [
            to_along * solids.ux - to_aside * solids.uy,
            to_along * solids.uy + to_aside * solids.ux,
        ],
        axis=1,
    )
    distance = np.hypot(to_along, to_aside)
    for row, mine in _by_area(solids):
        lines = shapely.shortest_line(solids.areas[row], shapely.points(xy[mine]))
        ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
        toward[mine] = ends[:, 0] - ends[:, 1]
        distance[mine] = np.hypot(toward[mine, 0], toward[mine, 1])
    return toward, distance


def _to_sector(
    along: FloatArray, aside: FloatArray, radius: FloatArray, half_angle: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """From points to the nearest point of a pie sector about the axis `along`."""
    far = np.hypot(along, aside)
    within = np.arctan2(np.abs(aside), along) <= half_angle
    edge_x, edge_y = np.cos(half_angle), np.copysign(np.sin(half_angle), aside)
    on_edge = np.clip(along * edge_x + aside * edge_y, 0.0, radius)
    shrink = np.minimum(far, radius) / np.where(far > 0.0, far, 1.0)
    near_x = np.where(within, along * shrink, on_edge * edge_x)
    near_y = np.where(within, aside * shrink, on_edge * edge_y)
    return near_x - along, near_y - aside


def _from_body(
    body: Body, r: FloatArray, z: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance of points (r, z) from a half section, and its direction (out, up)."""
    if body.corner > 0.0:
        return _from_round(body, r, z)
    if body.r_low < body.r_full:
        return _from_cone(body, r, z)
    out = np.maximum(r - body.r_full, 0.0)
    up = z - np.clip(z, body.z_low, body.z_high)
    return _polar(out, up)


def _from_round(
    body: Body, r: FloatArray, z: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A rounded end: below its full width it is a disc of radius `corner` about a flat core."""
    low = z < body.z_full
    out = np.maximum(r - np.where(low, body.r_full - body.corner, body.r_full), 0.0)
    up = np.where(low, z - body.z_full, np.maximum(z - body.z_high, 0.0))
    away, out, up = _polar(out, up)
    return np.where(low, np.maximum(away - body.corner, 0.0), away), out, up


def _from_cone(
    body: Body, r: FloatArray, z: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A pointed end: a flat tip, a flank to the full width, then upright."""
    across, rise = body.r_full - body.r_low, body.z_full - body.z_low
    share = ((r - body.r_low) * across + (z - body.z_low) * rise) / (across**2 + rise**2)
    share = np.clip(share, 0.0, 1.0)
    out, up = r - (body.r_low + share * across), z - (body.z_low + share * rise)
    inside = (z >= body.z_low) & ((r - body.r_low) * rise <= (z - body.z_low) * across)
    above = z >= body.z_full
    under = (r <= body.r_low) & (z < body.z_low)
    out = np.where(under | (inside & ~above), 0.0, out)
    up = np.where(inside & ~above, 0.0, np.where(under, z - body.z_low, up))
    out = np.where(above, np.maximum(r - body.r_full, 0.0), out)
    up = np.where(above, np.maximum(z - body.z_high, 0.0), up)
    return _polar(out, up)


def _polar(out: FloatArray, up: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    away = np.hypot(out, up)
    scale = 1.0 / np.where(away > 0.0, away, 1.0)
    return away, out * scale, up * scale
