"""Kept solids grown by their drift, as columns of parts in the program frame of a face.

A part is a footprint in plan, widened by `pad`, standing from `z0` to `z1`, the whole then
rounded by a ball of radius `rounding`. That is exact for boxes, cylinders and spheres, and within
0.05 mm, on the outer side, for prisms:

- a box turned either way by t covers the box at -t, the box at +t and four pie sectors, one
  between the two places of each corner: every circle about the centre meets a box in arcs that
  each hold a corner's direction, so what the two boxes leave open the sector fills;
- a cylinder is a point with a pad, a sphere a point with a rounding;
- a prism is its outline, flattened outward, in parts that need not be convex;
- drift to the side adds to the pad, drift up or down to both ends of z.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from enum import IntEnum
from typing import Any, cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.frames import Frame, frame_of
from toolpath.check.prisms import feet_of
from toolpath.check.report import Code
from toolpath.drawing.outline import Err, area_of
from toolpath.job.model import Box, Clamp, Cylinder, Job, Piece, Prism, Rule, Side, Sphere
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

BED = -1e6
"""z of the machine's bed as far as clamps go, mm: below anything that a cutter reaches."""


class Foot(IntEnum):
    """The form of a footprint."""

    RECT = 0
    SECTOR = 1
    AREA = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """What a part belongs to: `need` is the gap that every move must keep to it."""

    name: str
    code: Code
    need: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solids:
    """n parts as columns (n,), program frame, mm.

    `x`, `y` is the middle of a rectangle or the point of a sector, `ux`, `uy` its axis,
    `hx`, `hy` a rectangle's half sides, or a sector's radius and half angle. A footprint of the
    kind AREA is `areas[hx]`, the one kind that need not be convex; `hulls[hx]` (h, 2) are the
    corners of its convex hull, counter-clockwise.
    """

    foot: NDArray[np.int8]
    owner: IntArray
    x: FloatArray
    y: FloatArray
    ux: FloatArray
    uy: FloatArray
    hx: FloatArray
    hy: FloatArray
    pad: FloatArray
    z0: FloatArray
    z1: FloatArray
    rounding: FloatArray
    areas: tuple[BaseGeometry, ...] = field(default=(), repr=False)
    hulls: tuple[FloatArray, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        if len(self.hulls) != len(self.areas):
            object.__setattr__(self, "hulls", tuple(_hull(area) for area in self.areas))

    def __len__(self) -> int:
        return len(self.x)

    def take(self, which: IntArray) -> Solids:
        """The parts chosen by an index (k,), in that order."""
        chosen = {
            each.name: getattr(self, each.name)[which]
            for each in fields(self)
            if each.name not in ("areas", "hulls")
        }
        return Solids(areas=self.areas, hulls=self.hulls, **chosen)

    def boxes(self) -> tuple[FloatArray, FloatArray]:
        """(n, 3) least and greatest corner of each part, widened and rounded."""
        across = np.abs(self.ux) * self.hx + np.abs(self.uy) * self.hy
        along = np.abs(self.uy) * self.hx + np.abs(self.ux) * self.hy
        sector = self.foot == Foot.SECTOR
        across, along = np.where(sector, self.hx, across), np.where(sector, self.hx, along)
        low = np.stack([self.x - across, self.y - along, self.z0], axis=1)
        high = np.stack([self.x + across, self.y + along, self.z1], axis=1)
        for row in np.flatnonzero(self.foot == Foot.AREA):
            low[row, 0], low[row, 1], high[row, 0], high[row, 1] = self.areas[
                int(self.hx[row])
            ].bounds
        grow = np.stack([self.pad, self.pad, np.zeros(len(self))], axis=1) + self.rounding[:, None]
        return low - grow, high + grow


def _hull(area: Any) -> FloatArray:
    hull = shapely.orient_polygons(shapely.convex_hull(area))
    return np.asarray(shapely.get_coordinates(hull)[:-1], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    foot: Foot = Foot.RECT
    owner: int
    x: float = 0.0
    y: float = 0.0
    ux: float = 1.0
    uy: float = 0.0
    hx: float = 0.0
    hy: float = 0.0
    pad: float
    z0: float
    z1: float
    rounding: float = 0.0


def standing(job: Job, piece: Piece, side: Side, height: float) -> tuple[float, float, float]:
    """z least and greatest of a piece of that height as it lies, program frame, and how far it
    may stand higher or lower: its rise, and the blank's uncertain thickness where the piece is
    measured from the other face.
    """
    rise = piece.drift.rise
    if piece.measured_from is not side:
        rise += job.blank.thickness_within
    if piece.measured_from is side:
        return -piece.depth - height, -piece.depth, rise
    bottom = -job.blank.thickness + piece.depth
    return bottom, bottom + height, rise


def simple_solids(job: Job, side: Side) -> tuple[tuple[Owner, ...], Solids]:
    """Everything that a program of that face must keep clear of but what is made of triangles, and
    the owners of all of it: the pieces in the order of the job, then the clamps of that face.
    Pieces that may be cut have no part here."""
    frame = frame_of(job, side)
    clamps = [clamp for clamp in job.clamps if clamp.face is side]
    owners = tuple(
        [Owner(name=p.name, code=Code.PIECE, need=job.need(p)) for p in job.pieces]
        + [Owner(name=c.name, code=Code.CLAMP, need=clamp_need(job)) for c in clamps]
    )
    rows: list[_Row] = []
    areas: list[BaseGeometry] = []
    for index, piece in enumerate(job.pieces):
        if piece.rule is Rule.KEEP:
            rows += _piece_rows(job, piece, side, frame, index)
            rows += _prism_rows(job, piece, side, areas, index)
    for number, clamp in enumerate(clamps):
        rows.append(_clamp_row(clamp, len(job.pieces) + number, len(areas)))
        areas.append(_clamp_area(clamp, frame))
    return owners, columns(rows, tuple(areas))


def clamp_need(job: Job) -> float:
    """The gap that every move must keep to a clamp: the check's clearance and the path error."""
    return job.check.clearance + job.machine.path_error


def columns(rows: Sequence[_Row], areas: tuple[BaseGeometry, ...] = ()) -> Solids:
    """Rows as columns."""
    kinds: dict[str, type] = {"foot": np.int8, "owner": np.intp}
    made: dict[str, Any] = {
        each.name: np.array([getattr(row, each.name) for row in rows], kinds.get(each.name, float))
        for each in fields(_Row)
    }
    return Solids(areas=areas, **made)


def _clamp_row(clamp: Clamp, owner: int, area: int) -> _Row:
    return _Row(foot=Foot.AREA, owner=owner, hx=area, pad=0.0, z0=BED, z1=clamp.height)


def _clamp_area(clamp: Clamp, frame: Frame) -> BaseGeometry:
    area = area_of(clamp.outline, TOLERANCES.flatten, Err.OUTWARD)
    placed: Any = shapely.transform(area, lambda xy: xy * frame.sign[:2] + frame.shift[:2])
    shapely.prepare(placed)
    return cast(BaseGeometry, placed)


def _piece_rows(job: Job, piece: Piece, side: Side, frame: Frame, owner: int) -> list[_Row]:
    x, y = (float(v) for v in np.array(piece.at) * frame.sign[:2] + frame.shift[:2])
    solid = piece.solid
    if isinstance(solid, Sphere):
        low, high, rise = standing(job, piece, side, solid.diameter)
        middle = (low + high) / 2.0
        radius = solid.diameter / 2.0
        base = _Row(owner=owner, x=x, y=y, pad=piece.drift.side, z0=middle - rise, z1=middle + rise)
        return [_moved(base, rounding=radius)]
    if isinstance(solid, Cylinder):
        low, high, rise = standing(job, piece, side, solid.height)
        pad = solid.diameter / 2.0 + piece.drift.side
        return [_Row(owner=owner, x=x, y=y, pad=pad, z0=low - rise, z1=high + rise)]
    if isinstance(solid, Box):
        low, high, rise = standing(job, piece, side, solid.size[2])
        row = _Row(owner=owner, x=x, y=y, pad=piece.drift.side, z0=low - rise, z1=high + rise)
        return _box_rows(solid, piece, frame, row)
    return []


def _prism_rows(
    job: Job, piece: Piece, side: Side, areas: list[BaseGeometry], owner: int
) -> list[_Row]:
    """The parts of a prism; their areas are added to `areas`."""
    if not isinstance(piece.solid, Prism):
        return []
    low, high, rise = standing(job, piece, side, piece.solid.height)
    feet = feet_of(piece, piece.solid, frame_of(job, side))
    base = _Row(
        foot=Foot.AREA,
        owner=owner,
        pad=feet.pad + piece.drift.side,
        z0=low - rise,
        z1=high + rise,
    )
    first = len(areas)
    areas.extend(feet.areas)
    return [_moved(base, hx=float(first + number)) for number in range(len(feet.areas))]


def _box_rows(solid: Box, piece: Piece, frame: Frame, base: _Row) -> list[_Row]:
    half_x, half_y = solid.size[0] / 2.0, solid.size[1] / 2.0
    axis = np.array([math.cos(piece.turn), math.sin(piece.turn)]) * frame.sign[:2]
    angle = math.atan2(axis[1], axis[0])
    turn = piece.drift.turn
    reach = math.hypot(half_x, half_y)
    if turn >= math.pi / 2.0:
        return [_moved(base, pad=base.pad + reach)]
    found = [_turned(base, angle + way, half_x, half_y) for way in {-turn, turn}]
    if turn > 0.0:
        corner = math.atan2(half_y, half_x)
        for to_corner in (corner, -corner, math.pi + corner, math.pi - corner):
            sector = _turned(base, angle + to_corner, reach, turn)
            found.append(_moved(sector, foot=Foot.SECTOR))
    return found


def _turned(base: _Row, angle: float, hx: float, hy: float) -> _Row:
    return _moved(base, ux=math.cos(angle), uy=math.sin(angle), hx=hx, hy=hy)


def _moved(row: _Row, **changes: Any) -> _Row:
    return replace(row, **changes)
