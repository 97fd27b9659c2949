"""Parallel passes over a relief, nearer to one another where it rises across them.

Frame: page frame of the face, millimetres. Its own: u along the passes, v across them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.cusps import level_step, plan_step
from toolpath.job.model import Cutter, Shape
from toolpath.plan.target import Target

FloatArray = NDArray[np.float64]

STEEPEST = math.tan(math.radians(60.0))
"""Rise across passes beyond which they come no nearer: there walls are gone round instead."""
_ALONG = 0.5
"""Places along a pass at which it is asked how the relief rises, mm."""
_CHOICES = 12
"""Distances to the next pass that are weighed against one another."""
_MOST_HALVINGS = 3
_MOST_HOLLOW = 2.0
"""In sharper hollows the cutter itself fills them."""
_SHORTEST = 0.4
"""Passes between passes are at least so long, mm, and so much longer than needed at both ends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Needs:
    """How near passes must lie, mm in plan: `step` (rows, columns) at u, v of a grid."""

    u: FloatArray
    v: FloatArray
    step: FloatArray = field(repr=False)

    def between(self, low: float, high: float) -> FloatArray:
        """(columns,) the least at each u from one v to another."""
        first, last = np.searchsorted(self.v, [low, high])
        rows = self.step[max(0, first - 1) : min(len(self.v), last + 1)]
        return np.asarray(rows.min(axis=0), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """How passes are to lie: at an `angle` (radians) to +x, leaving ridges of `cusp`, at most
    `least` apart where the floor rises over something. `foot`: what was gone round along walls;
    one of them lies on either end of it, so that the next keep a whole step from it."""

    angle: float
    cusp: float
    least: float = math.inf
    foot: BaseGeometry = field(default_factory=Polygon, repr=False)


def parallel_lines(target: Target, within: BaseGeometry, laid: Laid) -> list[FloatArray]:
    """Lines (2, 2) of the passes inside an area, in order across.

    Neighbours alternate in direction. Beside a wall that is gone round there is none within half a
    step, but a ball's go up to it, as what they leave is not looked at again.
    """
    angle = laid.angle
    whole = target.wall.is_empty or target.cutter.shape is Shape.BALL
    open_ = within if whole else within.intersection(target.free)
    turned = shapely.transform(open_, lambda xy: _turn(xy, -angle))
    if turned.is_empty:
        return []
    needs = needs_of(target, turned, angle, laid.cusp, laid.least)
    foot = shapely.transform(laid.foot, lambda xy: _turn(xy, -angle))
    found: list[FloatArray] = []
    for v, parts in _rows(needs, turned.bounds, foot):
        line = shapely.union_all([LineString([(a, v), (b, v)]) for a, b in parts])
        pieces = [p for p in shapely.get_parts(line.intersection(turned)) if p.length > 0.0]
        row = [_turn(shapely.get_coordinates(piece)[[0, -1]], angle) for piece in pieces]
        found += row
    return found


def needs_of(
    target: Target,
    within: BaseGeometry,
    angle: float,
    cusp: float,
    least: float = math.inf,
) -> Needs:
    """What the lowest tips over an area (u, v) ask for: they rise as the surface does where the
    cutter touches it."""
    widest = level_step(target.cutter, cusp)
    across = min(widest, 1.0) / 2.0
    u0, v0, u1, v1 = within.bounds
    u = np.linspace(u0, u1, max(2, math.ceil((u1 - u0) / _ALONG) + 1))
    v = np.linspace(v0, v1, max(2, math.ceil((v1 - v0) / across) + 1))
    grid = np.stack(np.meshgrid(u, v), axis=-1)
    found = target.found(_turn(grid.reshape(-1, 2), angle))
    tips = np.maximum(found.ground, found.piece).reshape(len(v), len(u))
    low = float(tips[np.isfinite(tips)].min(initial=0.0))
    tips = np.where(np.isfinite(tips), tips, low)
    rise = np.abs(np.diff(tips, axis=0)) / max(v[1] - v[0], 1e-9)
    slope = np.maximum(np.vstack([rise[:1], rise]), np.vstack([rise, rise[-1:]]))
    step = plan_step(target.cutter, cusp, np.minimum(slope, STEEPEST))
    step /= np.sqrt(_hollow(tips, slope, v, target.cutter))
    over = (found.piece > found.ground).reshape(tips.shape)
    near = shapely.transform(target.area, lambda xy: _turn(xy, -angle))
    near = near.intersection(within).buffer(across)  # beside the blank nothing rises
    shapely.prepare(near)
    inside = shapely.contains_xy(near, grid[..., 0], grid[..., 1])
    wanted = np.where(over, np.minimum(step, least), step)
    return Needs(u=u, v=v, step=np.where(inside, wanted, widest))


def _hollow(tips: FloatArray, slope: FloatArray, v: FloatArray, cutter: Cutter) -> FloatArray:
    """How much higher ridges come out in hollows of the ground: a round end of radius R whose tip
    runs through a hollow of radius r leaves 1 + R / r times as much (elementary geometry)."""
    round_ = 0.0 if cutter.shape is Shape.VEE else cutter.point_length
    bent = np.zeros_like(tips)
    if len(v) > 2:
        bent[1:-1] = np.diff(tips, n=2, axis=0) / max(v[1] - v[0], 1e-9) ** 2
    found = np.clip(1.0 + round_ * bent / np.hypot(1.0, slope) ** 3, 1.0, _MOST_HOLLOW)
    return np.asarray(found, dtype=np.float64)


def _rows(
    needs: Needs, bounds: tuple[float, float, float, float], foot: BaseGeometry
) -> list[tuple[float, list[tuple[float, float]]]]:
    """v of each pass and the stretches of u in it: whole ones, and between them what is needed."""
    low, high = float(bounds[1]), float(bounds[3])
    whole = (float(bounds[0]) - 1.0, float(bounds[2]) + 1.0)
    outer: list[float] = []
    first = low + min(float(np.median(needs.between(low, low))), high - low) / 2.0
    last = high - min(high - low, 1e-3)
    if not foot.is_empty:
        first, last = max(low, float(foot.bounds[1])), min(high, float(foot.bounds[3]))
        outer = [*_beyond(needs, first, low), *_beyond(needs, last, high)]
    found = [(v, [whole]) for v in (first, *outer)]
    v = first
    while v < last:
        apart = min(_distance(needs, v), last - v)
        found += _between(needs, v, v + apart)
        v = last if last - v - apart <= 1e-9 else v + apart
        found.append((v, [whole]))
    return sorted(found, key=lambda row: row[0])


def _beyond(needs: Needs, foot: float, end: float) -> list[float]:
    """v of passes between a foot and the end of an area, where the floor is near the face."""
    apart = float(needs.between(min(foot, end), max(foot, end)).min())
    count = max(0, math.ceil(abs(end - foot) / apart - 0.5))
    return [foot + (end - foot) * (k + 1) / (count + 0.5) for k in range(count)]


def _distance(needs: Needs, v: float) -> float:
    """The distance to the next whole pass for which passes come out shortest in all."""
    wanted = needs.between(v, v + float(needs.step.max()))
    choices = np.unique(np.quantile(wanted, np.linspace(0.0, 1.0, _CHOICES)))
    cost = [float(_parts(wanted, each).mean()) / each for each in choices]
    return float(choices[int(np.argmin(cost))])


def _parts(wanted: FloatArray, apart: float) -> FloatArray:
    """Into how many equal parts, a power of two, a distance must be parted at each place."""
    halvings = np.ceil(np.log2(np.maximum(apart / wanted, 1.0)) - 0.02)
    return np.asarray(2.0 ** np.minimum(halvings, _MOST_HALVINGS), dtype=np.float64)


def _between(
    needs: Needs, low: float, high: float
) -> list[tuple[float, list[tuple[float, float]]]]:
    """Passes between two whole ones, only where they are needed."""
    parts = _parts(needs.between(low, high), high - low)
    found = []
    for halving in range(1, _MOST_HALVINGS + 1):
        stretches = _stretches(needs.u, parts >= 2**halving)
        if not stretches:
            break
        for odd in range(1, 2**halving, 2):
            found.append((low + (high - low) * odd / 2**halving, stretches))
    return found


def _stretches(u: FloatArray, where: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Stretches of u where something is wanted, a little longer; near ones are one."""
    found: list[tuple[float, float]] = []
    step = np.diff(np.concatenate([[0], where.astype(np.int8), [0]]))
    for first, end in zip(np.flatnonzero(step == 1), np.flatnonzero(step == -1), strict=True):
        low, high = float(u[first]) - _SHORTEST, float(u[end - 1]) + _SHORTEST
        if found and low - found[-1][1] < 2.0 * _SHORTEST:
            found[-1] = (found[-1][0], high)
        else:
            found.append((low, high))
    return found


def _turn(xy: FloatArray, angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    x, y = np.asarray(xy, dtype=np.float64).T
    return np.column_stack([c * x - s * y, s * x + c * y])
