"""What tabs and the beginnings of loops stay away from: pieces and clamps, in plan.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import plan_radius
from toolpath.blank.shadow import shadow
from toolpath.drawing.outline import Err
from toolpath.job.model import Cutter, Job, Piece, Shoe, Side
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.rings import flat_area
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Away:
    """The pieces and the clamps near a cut, each kind as one area, and what the middle of a
    cutter keeps from them: its radius and the clearance, and its widest part and more."""

    pieces: BaseGeometry
    clamps: BaseGeometry
    radius: float
    from_pieces: float
    from_clamps: float

    @classmethod
    def of(cls, job: Job, face: Side, cutter: Cutter, near: Box) -> Away:
        """Pieces, kept or not, with all their drift, and the clamps of a face; of what reaches
        into the box `near` with that cutter."""
        nut = job.machine.nut
        reach = max(cutter.radius, nut.diameter / 2.0, cutter.shank / 2.0)
        if nut.shoe is not None and _shoe_comes_down(job, face, cutter, nut.shoe):
            reach = max(reach, nut.shoe.diameter / 2.0)
        beyond = job.check.clearance + job.machine.path_error + ALLOWANCES.rapid_above
        close = [piece for piece in job.pieces if _is_near(piece, near, reach + 10.0)]
        clamps = [
            flat_area(clamp.outline, TOLERANCES.flatten, Err.OUTWARD)
            for clamp in job.clamps
            if clamp.face is face
        ]
        return cls(
            pieces=shapely.union_all([shadow(p, drifted=True, grow=0.0) for p in close]),
            clamps=shapely.union_all(clamps),
            radius=cutter.radius,
            from_pieces=cutter.radius + max((p.clearance for p in close), default=0.0),
            from_clamps=reach + beyond,
        )

    @property
    def taken(self) -> BaseGeometry:
        """Where the middle of the cutter makes no tab: it would reach a piece, or near a clamp."""
        pieces = self.pieces.buffer(self.radius, quad_segs=16)
        clamps = self.clamps.buffer(self.from_clamps, quad_segs=16)
        return shapely.union(pieces, clamps)

    def spare(self, points: FloatArray) -> FloatArray:
        """(n,) how much further than they need points (n, 2) are from everything, at most 0:
        0 where there is room enough."""
        spots = shapely.points(points)
        found = np.zeros(len(points))
        for area, need in ((self.pieces, self.from_pieces), (self.clamps, self.from_clamps)):
            if not area.is_empty:
                found = np.minimum(found, shapely.distance(area, spots) - need)
        return found


def _shoe_comes_down(job: Job, face: Side, cutter: Cutter, shoe: Shoe) -> bool:
    """Whether the edge of the dust shoe may come near a clamp's top in the deepest cut there is."""
    deepest = job.blank.thickness + job.blank.thickness_within + job.machine.spoilboard
    edge = cutter.reach - shoe.drop - deepest - cutter.point_length
    need = job.check.clearance + job.machine.path_error
    return any(clamp.face is face and edge < clamp.height + need for clamp in job.clamps)


def _is_near(piece: Piece, near: Box, reach: float) -> bool:
    """Whether a piece may reach to within a distance of a box."""
    x0, y0, x1, y1 = near
    across = max(x0 - piece.at[0], 0.0, piece.at[0] - x1)
    along = max(y0 - piece.at[1], 0.0, piece.at[1] - y1)
    return math.hypot(across, along) <= reach + plan_radius(piece)


def holds_material(points: FloatArray, radius: float) -> bool:
    """Whether a cutter that goes round the closed loop (n, 2) leaves anything inside."""
    return not Polygon(points).buffer(0).buffer(-radius).is_empty
