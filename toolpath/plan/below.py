"""The pieces that lie under a cut: where a way in had better not be.

A slipped cutter or a wrong touch-off goes too deep first where the cutter goes down. Frame: page
frame of the face, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top, plan_radius
from toolpath.blank.shadow import shadow
from toolpath.job.model import HARD, Cut, Job, Piece, Rule
from toolpath.plan.allowances import ALLOWANCES
from toolpath.units import show_mm

MOST_CHOICES = 8
"""How many sets of pieces to stay away from are tried, at most."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Under:
    """A piece under a cut: what it covers in plan, drift included, and how deep below the face
    its highest place lies, drift included."""

    piece: Piece
    area: BaseGeometry = field(repr=False)
    depth: float
    allowed: bool = False
    """Whether the cut may go into it."""

    @property
    def matters(self) -> tuple[bool, bool, float]:
        """How bad it is to go down above it, the least first: pieces that may be cut before those
        that may not, soft ones before hard ones, which spoil the cutter too, deep before high."""
        return not self.allowed, self.piece.hardness in HARD, -self.depth


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """The pieces under a part of a cut, the one that matters least first."""

    job: Job | None = None
    pieces: tuple[Under, ...] = ()
    radius: float = 0.0
    """Of the cutter."""

    @classmethod
    def under(cls, job: Job, cut: Cut, area: BaseGeometry, radius: float) -> Ground:
        """What lies under a region of the centre of a cutter."""
        near = area.buffer(radius, quad_segs=4)
        found = [
            Under(
                piece=piece,
                area=shadow(piece, drifted=True, grow=0.0),
                depth=-page_top(job.blank, piece, cut.face),
                allowed=_allowed(piece, cut),
            )
            for piece in job.pieces
            if _is_near(piece, near)
        ]
        touched = [each for each in found if each.area.intersects(near)]
        order = sorted(touched, key=lambda each: each.matters)
        return cls(job=job, pieces=tuple(order), radius=radius)

    def choices(self) -> Iterator[BaseGeometry]:
        """Where the centre had better not be, over fewer and fewer pieces; nothing at the end."""
        count = len(self.pieces)
        tried = sorted({round(count * i / MOST_CHOICES) for i in range(MOST_CHOICES)} - {count})
        for first in tried if self.pieces else ():
            areas = [each.area for each in self.pieces[first:]]
            yield shapely.union_all(areas).buffer(self.radius, quad_segs=16)
        yield shapely.Polygon()

    def note(self, way: BaseGeometry) -> str:
        """What a way in of the cutter's centre goes down over, in words; empty for nothing but
        pieces that the cut may go into."""
        reach = self.radius - ALLOWANCES.spare
        kept = [each for each in self.pieces if not each.allowed]
        near = [each for each in kept if each.area.dwithin(way, reach)]
        if not near or self.job is None:
            return ""
        unit = self.job.unit
        each = max(near, key=lambda under: under.matters)
        more = f" and {len(near) - 1} more" if len(near) > 1 else ""
        return (
            f'goes down above "{each.piece.name}"{more}, which begins '
            f"{show_mm(each.depth, unit)} below this face, because there is no other room"
        )


def _allowed(piece: Piece, cut: Cut) -> bool:
    """Whether a cut may go into a piece."""
    if piece.rule is Rule.KEEP:
        return False
    return piece.hardness not in HARD or cut.through_hard


def _is_near(piece: Piece, area: BaseGeometry) -> bool:
    x0, y0, x1, y1 = area.bounds
    across = max(x0 - piece.at[0], 0.0, piece.at[0] - x1)
    along = max(y0 - piece.at[1], 0.0, piece.at[1] - y1)
    return math.hypot(across, along) <= plan_radius(piece)
