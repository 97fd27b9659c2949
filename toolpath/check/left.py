"""What is left in cavities after the last of their cutters: each spot with its place, size, reason.

Blank frame, millimetres. Judged on the emitted text: the height field that is never above what is
left finds the spots, and the discs of the cutters over their moves say what stands there. Hairs
along walls, and what is smaller than a cell or two of the field, are not told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from typing import TypeGuard

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top
from toolpath.blank.shadow import shadow
from toolpath.check.against import box_of, cells_of
from toolpath.check.areas import outward
from toolpath.check.stock import Stock
from toolpath.check.walls import cut_at
from toolpath.drawing.outline import Err, area_of
from toolpath.job.model import Cut, Cutter, Job, Pocket, Rule, Shape, Skim
from toolpath.tolerances import TOLERANCES

BoolArray = NDArray[np.bool_]

SLACK = 0.05
"""What stands higher than this over the floor asked for is left, mm."""
HAIR = 0.02
"""What is thinner, mm, is not told: strips along walls."""
SPECK = 0.01
"""What is smaller, mm², is not told."""
PILLAR = 0.4
"""A pillar may stand so much further out round a piece than its clearance, mm."""
SHARE = 0.9
"""A cutter takes a spot if it takes this share of it: none goes into a sharp corner whole."""
_OPPOSITE = math.radians(165.0)
"""Walls on both sides of a spot are a channel if they face each other by more than this."""
_SPOTS = 200
"""As many spots of one floor are told, the largest first."""


class Why(Enum):
    """Why something is left. The words never change."""

    CORNER = "corner"
    """Smaller than the cutter."""
    CHANNEL = "channel"
    """Narrower than the cutter."""
    PIECE = "piece"
    """Over or round a piece."""
    CLAMP = "clamp"
    """Beside a clamp."""
    STANDING = "standing"
    """The cutter would reach it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """What is left at one place of a cut: `at` its widest place (blank frame), `area` mm², `width`
    its greatest inscribed diameter, `height` over the floor asked for."""

    cut: str
    at: tuple[float, float]
    area: float
    width: float
    height: float
    why: Why
    of: str = ""
    """The piece or the clamp."""
    diameter: float | None = None
    """The widest cutter that takes nine tenths of it; None where a thinner one would not help."""
    cutter: str = ""
    """The widest of the job's cutters that does; empty if there is none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Floor:
    """One floor of a cut: what is asked for in plan, and how deep."""

    job: Job
    cut: Cut
    area: BaseGeometry
    depth: float

    @property
    def radius(self) -> float:
        """Of the thinnest cutter of the cut."""
        return min(cutter.radius for cutter in self.cut.cutters)


def left_in(job: Job, cut: Cut, stock: Stock) -> tuple[Spot, ...]:
    """What a cut leaves at its floors, in a stock that all programs of its face have worked on.

    job : that of the face. Pockets and skims only; largest first, floor by floor.
    """
    return tuple(spot for floor in _floors(job, cut) for spot in _spots(floor, stock))


def may_leave(cut: Cut) -> TypeGuard[Pocket | Skim]:
    """Whether `left_in` looks at a cut of this kind."""
    return isinstance(cut, Pocket | Skim)


def _floors(job: Job, cut: Cut) -> Iterator[_Floor]:
    """A pocket less its islands, its ledge by itself; a skim."""
    if not may_leave(cut):
        return
    whole = _inward(cut)
    if not isinstance(cut, Pocket):
        yield _Floor(job=job, cut=cut, area=whole, depth=cut.depth)
        return
    islands = outward(cut.islands) if cut.islands else Polygon()
    yield _Floor(job=job, cut=cut, area=whole.difference(islands), depth=cut.depth)
    if cut.ledge is not None:
        rim = area_of(cut.ledge.outline, TOLERANCES.flatten, Err.INWARD)
        area = shapely.difference(rim, shapely.union(outward(cut.outline), islands))
        yield _Floor(job=job, cut=cut, area=area, depth=cut.ledge.depth)


def _inward(cut: Pocket | Skim) -> BaseGeometry:
    area = area_of(cut.outline, TOLERANCES.flatten, Err.INWARD)
    assert isinstance(area, BaseGeometry)
    return area


def _spots(floor: _Floor, stock: Stock) -> list[Spot]:
    side, grid = floor.cut.face, stock.grid
    depth = min(floor.depth, floor.job.blank.thickness)
    box = box_of(floor.area, grid)
    asked = cells_of(floor.area, grid, box)
    lowest = stock.faces[side].lowest[box]
    high = asked & (lowest > _level(floor, depth)) & np.isfinite(lowest)
    if not high.any() or not (asked & (lowest < 0.0)).any():
        return []
    found = []
    for part in _parts(floor, stock, depth, (box, high)):
        cells = high & cells_of(part, grid, box)
        if cells.any():
            found.append(_spot(floor, part, float(lowest[cells].max()) + depth))
    return sorted(found, key=lambda spot: -spot.area)[:_SPOTS]


def _level(floor: _Floor, depth: float) -> float:
    """The height above which stock counts as left: a cutter that is not flat leaves ridges."""
    cutter = floor.cut.cutters[-1]
    rise = 0.0
    if cutter.shape is not Shape.FLAT:
        half = min(cutter.stepover * cutter.diameter / 2.0, cutter.radius)
        round_off = cutter.radius if cutter.shape is Shape.BALL else cutter.corner_radius or 0.0
        over = max(0.0, half - (cutter.radius - round_off))
        rise = round_off - math.sqrt(max(round_off**2 - over**2, 0.0))
    return -depth + SLACK + rise


def _parts(
    floor: _Floor, stock: Stock, depth: float, found: tuple[tuple[slice, slice], BoolArray]
) -> Iterator[Polygon]:
    """The parts that stand round the high cells of a box."""
    from scipy import ndimage

    (rows, columns), high = found
    grid = stock.grid
    groups, _ = ndimage.label(ndimage.binary_dilation(high, np.ones((3, 3), dtype=np.bool_), 2))
    standing = []
    for window in ndimage.find_objects(groups):
        top, left = rows.start + window[0].start, columns.start + window[1].start
        place = shapely.box(
            grid.x0 + (left - 1) * grid.cell,
            grid.y0 + (top - 1) * grid.cell,
            grid.x0 + (columns.start + window[1].stop + 1) * grid.cell,
            grid.y0 + (rows.start + window[0].stop + 1) * grid.cell,
        )
        standing.append(_standing(floor, stock, place, depth))
    whole = shapely.union_all(standing)
    for part in shapely.get_parts(whole.buffer(-HAIR / 2.0).buffer(HAIR / 2.0, quad_segs=4)):
        if part.area >= SPECK:
            yield part


def _standing(floor: _Floor, stock: Stock, place: BaseGeometry, depth: float) -> BaseGeometry:
    """What of the asked area within a window was not cut to the floor."""
    level = -_level(floor, depth)
    side = floor.cut.face
    gone = [cut_at(floor.job, side, each, level, place) for each in stock.faces[side].cut]
    return floor.area.intersection(place).difference(shapely.union_all(gone))


def _spot(floor: _Floor, part: Polygon, height: float) -> Spot:
    line = shapely.maximum_inscribed_circle(part, tolerance=0.005)
    x, y = shapely.get_coordinates(line)[0].tolist()
    why, of = _reason(floor, part, Point(x, y))
    diameter = None
    if why in (Why.CORNER, Why.CHANNEL):
        diameter = _diameter(floor, part)
    return Spot(
        cut=floor.cut.name,
        at=(x, y),
        area=float(part.area),
        width=2.0 * float(line.length),
        height=height,
        why=why,
        of=of,
        diameter=diameter,
        cutter=_cutter_for(floor, diameter),
    )


def _reason(floor: _Floor, part: Polygon, heart: Point) -> tuple[Why, str]:
    job, side = floor.job, floor.cut.face
    for piece in job.pieces:
        need = job.need(piece)
        blocks = page_top(job.blank, piece, side) + need > -floor.depth
        if piece.rule is not Rule.KEEP or not blocks:
            continue
        if shadow(piece, drifted=True, grow=need + PILLAR).intersects(part):
            return Why.PIECE, piece.name
    near = part.buffer(4.0 * floor.radius, join_style="mitre").envelope
    beyond = part.difference(_opened(floor, near, floor.radius - TOLERANCES.cover))
    if beyond.area > part.area / 2.0:
        return (Why.CHANNEL if _faces(floor.area, heart) else Why.CORNER), ""
    wide = max(floor.radius, job.machine.nut.diameter / 2.0) + floor.radius
    for clamp in job.clamps:
        if clamp.face is side and outward(clamp.outline).distance(part) <= (
            wide + job.check.clearance + job.machine.path_error
        ):
            return Why.CLAMP, clamp.name
    return Why.STANDING, ""


def _opened(floor: _Floor, near: BaseGeometry, radius: float) -> BaseGeometry:
    """What a disc reaches of the asked area round a place (morphological opening)."""
    window = floor.area.intersection(near)
    return window.buffer(-radius, quad_segs=32).buffer(radius, quad_segs=32)


def _faces(area: BaseGeometry, heart: Point) -> bool:
    """Whether the walls nearest to a place face each other across it."""
    walls = area.boundary
    reach = heart.distance(walls) * 1.1 + HAIR
    touched = shapely.segmentize(walls.intersection(heart.buffer(reach)), HAIR)
    away = shapely.get_coordinates(touched) - shapely.get_coordinates(heart)
    length = np.hypot(*away.T)
    away = away[length > 0] / length[length > 0, None]
    return bool(len(away) and (away @ away.T).min() < math.cos(_OPPOSITE))


def _diameter(floor: _Floor, part: Polygon) -> float:
    """The widest disc that takes its share of a part, to 0.01 mm."""
    near = part.buffer(4.0 * floor.radius, join_style="mitre").envelope
    low, high = 0.0, floor.radius
    while high - low > 0.005:
        middle = (low + high) / 2.0
        taken = part.intersection(_opened(floor, near, middle)).area
        low, high = (middle, high) if taken >= SHARE * part.area else (low, middle)
    return 2.0 * low


def _cutter_for(floor: _Floor, diameter: float | None) -> str:
    """The widest of the job's flat cutters that is no wider and reaches the floor."""
    if diameter is None:
        return ""
    fits = [each for each in floor.job.cutters.values() if _may_take(each, floor, diameter)]
    return max(fits, key=lambda each: each.diameter).name if fits else ""


def _may_take(cutter: Cutter, floor: _Floor, diameter: float) -> bool:
    flat = cutter.shape is Shape.FLAT
    return flat and cutter.diameter <= diameter and cutter.reach >= floor.depth
