"""The lowest clear tip over kept pieces, tighter than the height fields of a whole face allow.

Frame: the page frame of a face (x, y of the blank frame, z above that face), millimetres. As in
the fields everything under a piece's top counts as the piece.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.clear import deepest_tip
from toolpath.blank.placed import own_radius, page_top, plan_radius
from toolpath.blank.reach import Reach, Standing
from toolpath.blank.relief import Relief
from toolpath.blank.shadow import grown, shadow
from toolpath.blank.tooling import profile_of
from toolpath.job.model import Cutter, Heights, Job, Mesh, Piece, Rule, Side, Sphere

FloatArray = NDArray[np.float64]

_STEP = 0.004
"""Step of the table over a sphere's radius, mm; its error in plan is two of them."""


class Top(Protocol):
    """The top of one grown piece as a cutter's tip finds it."""

    def lowest(self, xy: FloatArray, slack: float) -> FloatArray:
        """(n,) lowest clear tip within `slack` of each place (n, 2)."""

    def blocked(self, z: float, within: BaseGeometry) -> BaseGeometry:
        """Where a tip at height z is not clear."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """A level top over a footprint, its drift included: the nearest point decides."""

    top: float
    footprint: BaseGeometry = field(repr=False)
    reach: Reach

    def lowest(self, xy: FloatArray, slack: float) -> FloatArray:
        """(n,) lowest clear tip within `slack` of each place (n, 2)."""
        away = shapely.distance(self.footprint, shapely.points(xy))
        return self.top - self.reach.height(np.maximum(away - slack, 0.0))

    def blocked(self, z: float, within: BaseGeometry) -> BaseGeometry:
        """Where a tip at height z is not clear."""
        radius = self.reach.radius(self.top - z)
        if radius < 0.0:
            return shapely.Polygon()
        return grown(self.footprint, radius).intersection(within)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ball:
    """A sphere whose axis may stand anywhere within its side drift: a table over the distance.

    `table[k]` holds anywhere from k to k + 1 steps from `at`; it never rises.
    """

    at: FloatArray
    table: FloatArray = field(repr=False)

    @classmethod
    def of(cls, standing: Standing) -> Ball:
        """The largest over all rings of the sphere's top less the cutter's height there, both
        taken at the nearer edge of a step."""
        piece, top = standing.piece, standing.top
        radius, side = own_radius(piece), piece.drift.side
        rings = np.arange(math.ceil((radius + side) / _STEP) + 1) * _STEP
        beyond = np.minimum(np.maximum(rings - side, 0.0), radius)
        tops = top - radius + np.sqrt(radius**2 - beyond**2)
        tops = tops[rings <= radius + side]
        count = math.ceil((radius + side + max(standing.wide, 0.0)) / _STEP) + 2
        apart = np.maximum(np.abs(np.arange(-len(tops), count)) - 1, 0) * _STEP
        heights = standing.reach.height(apart * (1.0 - 1e-12))
        table = np.full(count, -np.inf)
        for ring, ring_top in enumerate(tops):
            first = len(tops) - ring
            np.maximum(table, ring_top - heights[first : first + count], out=table)
        return cls(at=np.array(piece.at), table=np.maximum.accumulate(table[::-1])[::-1])

    def lowest(self, xy: FloatArray, slack: float) -> FloatArray:
        """(n,) lowest clear tip within `slack` of each place (n, 2)."""
        away = np.maximum(np.hypot(*(xy - self.at).T) - slack, 0.0)
        step = np.minimum((away / _STEP * (1.0 - 1e-12)).astype(np.int64), len(self.table))
        return np.asarray(np.append(self.table, -np.inf)[step])

    def blocked(self, z: float, within: BaseGeometry) -> BaseGeometry:
        """Where a tip at height z is not clear."""
        over = np.flatnonzero(self.table > z)
        if not over.size:
            return shapely.Polygon()
        disc = grown(shapely.Point(self.at), (float(over[-1]) + 1.0) * _STEP)
        return disc.intersection(within)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tips:
    """The lowest clear tips of one cutter over the kept pieces near a part of a face.

    Clamps are not among them. `names` and `tops` belong together.
    """

    names: tuple[str, ...]
    tops: tuple[Top, ...]
    within: BaseGeometry = field(repr=False)

    @classmethod
    def of(
        cls, job: Job, side: Side, cutter: Cutter, *, margin: float, within: BaseGeometry
    ) -> Tips:
        """For tips inside `within` (page x, y) and not under `deepest_tip` of the job.

        Every kept piece is grown by its drift and keeps its need and `margin` from flutes, shank
        and nut.
        """
        profile, deepest = profile_of(cutter, job.machine.nut), deepest_tip(job, cutter)
        names: list[str] = []
        tops: list[Top] = []
        for piece in job.pieces:
            if piece.rule is not Rule.KEEP or within.is_empty:
                continue
            reach = Reach(profile=profile, gap=job.need(piece) + margin)
            if _beyond(piece, reach, within):
                continue
            standing = Standing(
                piece=piece,
                side=side,
                top=page_top(job.blank, piece, side),
                reach=reach,
                deepest=deepest,
            )
            if _can_bind(standing, within):
                names.append(piece.name)
                tops.append(_top_of(standing, within))
        return cls(names=tuple(names), tops=tuple(tops), within=within)

    def lowest(self, xy: FloatArray, slack: float) -> FloatArray:
        """(n,) the lowest tip anywhere within `slack` mm in plan of each place (n, 2) that keeps
        clear of everything; -inf where nothing binds.

        Errs high: exact over level tops (turned ones and outlines within
        `shadow.SHADOW_ERROR` in plan), within 0.008 mm in plan over a sphere, within
        `Relief.error` in plan over a mesh or measured tops (0.1 mm at the usual sizes).
        """
        places = np.asarray(xy, dtype=np.float64).reshape(-1, 2)
        found = np.full(len(places), -np.inf)
        for top in self.tops:
            np.maximum(found, top.lowest(places, slack), out=found)
        return found

    def blocked(self, z: float) -> BaseGeometry:
        """Tip places inside `within` at which a tip at height z is not
        clear of everything.

        Errs outward, never inward: by at most 0.12 mm in plan over meshes and measured tops up
        to about 40 mm long (0.03 mm more if they may turn), by `shadow.SHADOW_ERROR` elsewhere.
        """
        found = [top.blocked(z, self.within) for top in self.tops]
        return shapely.union_all(found) if found else shapely.Polygon()

    def binding(self, z: float) -> tuple[str, ...]:
        """The names of the pieces that block a tip at height z somewhere inside `within`."""
        return tuple(
            name
            for name, top in zip(self.names, self.tops, strict=True)
            if top.blocked(z, self.within).area > 0.0
        )


def _can_bind(standing: Standing, within: BaseGeometry) -> bool:
    wide = standing.wide
    return wide >= 0.0 and not _further(standing.piece, wide, within)


def _beyond(piece: Piece, reach: Reach, within: BaseGeometry) -> bool:
    """Whether a piece is out of reach of the widest part of the cutter: mostly it is, and its top
    need not be looked for."""
    return _further(piece, reach.profile.outer_radius + reach.gap, within)


def _further(piece: Piece, wide: float, within: BaseGeometry) -> bool:
    away = float(shapely.distance(within, shapely.Point(piece.at)))
    return away > plan_radius(piece) + wide


def _top_of(standing: Standing, within: BaseGeometry) -> Top:
    solid = standing.piece.solid
    if isinstance(solid, Sphere):
        return Ball.of(standing)
    foot = isinstance(solid, Heights) and standing.side is Side.BACK
    if isinstance(solid, Mesh | Heights) and not foot:
        return Relief.of(standing, within)
    footprint = shadow(standing.piece, drifted=True, grow=0.0)
    shapely.prepare(footprint)
    return Flat(top=standing.top, footprint=footprint, reach=standing.reach)
