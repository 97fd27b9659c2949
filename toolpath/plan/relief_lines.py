"""Lines in plan that finishing passes follow: rings, contours, waterlines of what is steep.

Frame: page frame of the face, millimetres. No line need lie exactly: the tip follows the ground
wherever a line leads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from contourpy import LineType, contour_generator
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from toolpath.job.cusps import level_step, plan_step
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import polygons_of
from toolpath.plan.stripes import STEEPEST
from toolpath.plan.target import Target
from toolpath.plan.zones import area_near

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_NODES = 40_000
_CLOSEST = 0.25
_SMOOTH = 0.004
"""Lines are simplified by this much, mm: their heights are asked for afterwards."""
_OFF_WALL = 0.002
"""How far passes along a wall stay from it, mm: any nearer and it lifts them."""
_SHORTEST = 1.0
"""Shorter lines on steep places are left out, mm."""
_LEVEL = math.tan(math.radians(20.0))
"""What rises less is filled by rings where passes follow contours."""
_STEEPER = (math.tan(math.radians(70.0)), math.tan(math.radians(80.0)))
"""Level lines lie further apart where walls are as steep as this."""
_USUAL = 0.9
"""Share of an area whose rise decides how near rings lie in it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lay:
    """The lowest tips over a grid, x (columns,) and y (rows,), `tips` and how they rise (rows,
    columns); NaN where there is no ground or nothing to cut. `over`: where something in the way
    binds."""

    x: FloatArray
    y: FloatArray
    tips: FloatArray = field(repr=False)
    slope: FloatArray = field(repr=False)
    over: BoolArray = field(repr=False)


def wall_lines(target: Target, within: BaseGeometry) -> list[FloatArray]:
    """Once round the foot of the walls."""
    if target.wall.is_empty:
        return []
    away = target.cutter.radius + _OFF_WALL
    free = target.area.difference(target.wall.buffer(away, quad_segs=64))
    foot = target.wall.buffer(away + ALLOWANCES.mouth / 2.0)
    edge = free.boundary.intersection(within.buffer(ALLOWANCES.mouth)).intersection(foot)
    return _lines_of(edge.simplify(_OFF_WALL / 4.0))


def waterlines(target: Target, within: BaseGeometry, cusp: float) -> list[FloatArray]:
    """Level lines round what is steeper than passes across it can take, one above the other."""
    lay = _lay(target, within)
    if lay is None:
        return []
    steep = lay.slope > STEEPEST
    if not steep.any():
        return []
    return _bands(target, lay, [STEEPEST, *_STEEPER, math.inf], (cusp, within))


def ring_lines(target: Target, within: BaseGeometry, cusp: float, least: float) -> list[FloatArray]:
    """Rings, each offset from the edge of the area, as near as what rises in it asks."""
    lay = _lay(target, within)
    if lay is None:
        return []
    return _rings(within, _usual(target, lay, cusp, least))


def contour_lines(
    target: Target, within: BaseGeometry, cusp: float, least: float
) -> list[FloatArray]:
    """Level lines on what rises, rings on what is level."""
    lay = _lay(target, within)
    if lay is None:
        return []
    rising = lay.slope > _LEVEL
    level = area_near(lay.x, lay.y, ~rising & np.isfinite(lay.tips), lay.x[1] - lay.x[0])
    flat = _rings(level.intersection(within), _usual(target, lay, cusp, least))
    edges = [_LEVEL, *(math.tan(math.radians(a)) for a in (30.0, 42.0)), STEEPEST]
    return [*_bands(target, lay, edges, (cusp, within)), *flat]


def _bands(
    target: Target, lay: _Lay, edges: list[float], asked: tuple[float, BaseGeometry]
) -> list[FloatArray]:
    """Level lines in bands of slope, as near in height as ridges of a height ask at the least
    slope of each; `asked`: that height, and where they are wanted."""
    cusp, within = asked
    steps = plan_step(target.cutter, cusp, np.array(edges[:-1]))
    found: list[FloatArray] = []
    for (low, high), step in zip(pairwise(edges), steps.tolist(), strict=True):
        part = (lay.slope > low) & (lay.slope <= high)
        if part.any():
            found += _level_lines(lay, part, step * low, within)
    return found


def _lay(target: Target, within: BaseGeometry) -> _Lay | None:
    if within.is_empty:
        return None
    x0, y0, x1, y1 = within.bounds
    step = max(_CLOSEST, math.sqrt((x1 - x0) * (y1 - y0) / _NODES))
    x = np.linspace(x0, x1, max(3, math.ceil((x1 - x0) / step) + 1))
    y = np.linspace(y0, y1, max(3, math.ceil((y1 - y0) / step) + 1))
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    found = target.found(places)
    tips = np.maximum(found.ground, found.piece)
    known = np.isfinite(tips) & (found.wall <= tips)
    known &= shapely.contains_xy(target.area, places[:, 0], places[:, 1])
    tips = np.where(known, tips, np.nan).reshape(len(y), len(x))
    across, along = np.gradient(tips, y, x)
    slope = np.nan_to_num(np.hypot(along, across), nan=0.0)
    over = (found.piece > found.ground).reshape(tips.shape)
    return _Lay(x=x, y=y, tips=tips, slope=slope, over=over)


def _usual(target: Target, lay: _Lay, cusp: float, least: float) -> float:
    """The distance of rings that most of an area asks for."""
    known = np.isfinite(lay.tips)
    if not known.any():
        return level_step(target.cutter, cusp)
    slope = np.minimum(lay.slope[known], STEEPEST)
    usual = float(np.quantile(slope, _USUAL))
    step = float(plan_step(target.cutter, cusp, np.array([usual]))[0])
    return min(step, least) if lay.over.any() else step


def _rings(area: BaseGeometry, step: float) -> list[FloatArray]:
    found: list[FloatArray] = []
    inner = area.buffer(-step / 2.0, quad_segs=8)
    count = 0
    while not inner.is_empty:
        for part in polygons_of(inner):
            for loop in (part.exterior, *part.interiors):
                found.append(shapely.get_coordinates(loop.simplify(_SMOOTH)))
        count += 1
        inner = area.buffer(-step * (count + 0.5), quad_segs=8)
    return found


def _level_lines(
    lay: _Lay, where: BoolArray, apart: float, within: BaseGeometry
) -> list[FloatArray]:
    """Lines of equal height over chosen nodes and their neighbours, `apart` in height."""
    near = np.pad(where, 1)
    grown = near[1:-1, 1:-1].copy()
    for i in range(3):
        for j in range(3):
            grown |= near[i : i + grown.shape[0], j : j + grown.shape[1]]
    heights = np.ma.masked_invalid(np.where(grown, lay.tips, np.nan))
    if heights.mask.all():
        return []
    low, high = float(heights.min()), float(heights.max())
    made = contour_generator(lay.x, lay.y, heights, line_type=LineType.Separate)
    count = max(1, math.ceil((high - low) / apart))
    found: list[FloatArray] = []
    for k in range(count):
        for line in made.lines(low + (high - low) * (k + 0.5) / count):
            points = np.asarray(line, dtype=np.float64)
            smooth = LineString(points).simplify(_SMOOTH) if len(points) > 1 else None
            if smooth is not None and smooth.length >= _SHORTEST:
                found += _lines_of(smooth.intersection(within))
    return found


def _lines_of(geometry: BaseGeometry) -> list[FloatArray]:
    """The lines of a geometry; those of one loop that were parted at its start are joined."""
    if isinstance(geometry, MultiLineString):
        geometry = shapely.line_merge(geometry)
    parts = [part for part in shapely.get_parts(geometry) if isinstance(part, LineString)]
    return [shapely.get_coordinates(part) for part in parts if part.length > ALLOWANCES.same]
