"""The cross-check: height fields built by other code against the check's own solids.

Both stem from the same job by code that was written apart. Where a solid of the check stands
above the field, one of the two is wrong (a box turned the wrong way, a mirrored back), and
nothing that either says can be trusted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.blank.field import NeedField, piece_fields
from toolpath.check.frames import Frame, frame_of
from toolpath.check.gap import to_footprint
from toolpath.check.meshtree import MeshTree
from toolpath.check.obstacles import Obstacles
from toolpath.check.solids import Foot, Solids
from toolpath.errors import InternalError
from toolpath.job.model import Job, Side
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

_LATTICE = 9
"""Sample points a side of each part's box."""
_VERTICES = 500
"""Triangles of a mesh that are compared."""
_OUTWARD = 0.05
"""Areas of the check are flattened and turned outward by less than this, mm; fields need not be."""
_ROUNDING = 1e-3
"""Heights may differ by this, mm: fields are single precision."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tops:
    """Points (k, 3) of the upper surface of something, program frame, and its name and need."""

    points: FloatArray
    name: str
    need: float


@lru_cache(maxsize=2)
def checked_obstacles(job: Job, side: Side) -> Obstacles:
    """The obstacles of a face, compared once with the height fields of the same job.

    The job is known by its identity: a plan judges many programs of two faces.
    """
    obstacles = Obstacles.of(job, side)
    cross_check(job, side, obstacles)
    return obstacles


def cross_check(job: Job, side: Side, obstacles: Obstacles) -> None:
    """Compare the tops of all grown solids of a face with its height fields.

    Raises InternalError where a top stands above the field; a field that stands higher than the
    solid is only cautious and is not looked for.
    """
    fields = {field.need: field for field in piece_fields(job, side)}
    frame = frame_of(job, side)
    for tops in _all_tops(obstacles):
        field = fields.get(tops.need)
        if field is None:
            raise InternalError(f'the height fields know nothing of "{tops.name}"')
        _compare(field, frame, tops)


def _all_tops(obstacles: Obstacles) -> list[_Tops]:
    found = []
    for index in range(len(obstacles.solids)):
        part = obstacles.solids.take(np.array([index]))
        owner = obstacles.owners[int(part.owner[0])]
        found.append(_Tops(points=_part_tops(part), name=owner.name, need=owner.need))
    for tree in obstacles.trees:
        owner = obstacles.owners[tree.owner]
        found.append(_Tops(points=_mesh_tops(tree), name=owner.name, need=owner.need))
    return found


def _part_tops(part: Solids) -> FloatArray:
    """The top of a part at the points of a lattice over its box that it covers."""
    low, high = (corner[0] for corner in part.boxes())
    low, high = low + TOLERANCES.equal, high - TOLERANCES.equal  # the rim itself may round outside
    x, y = np.meshgrid(
        np.linspace(low[0], high[0], _LATTICE), np.linspace(low[1], high[1], _LATTICE)
    )
    xy = np.column_stack([x.ravel(), y.ravel()])
    if part.foot[0] == Foot.AREA:
        area = part.areas[int(part.hx[0])].buffer(float(part.pad[0]) - _OUTWARD)
        xy = xy[shapely.contains_xy(area, xy)]
    many = part.take(np.zeros(len(xy), dtype=np.intp))
    beyond = np.maximum(to_footprint(many, xy)[1] - many.pad, 0.0)
    inside = beyond <= many.rounding
    rise = np.sqrt(np.maximum(many.rounding**2 - beyond**2, 0.0))
    return np.asarray(np.column_stack([xy, many.z1 + rise])[inside], dtype=np.float64)


def _mesh_tops(tree: MeshTree) -> FloatArray:
    """Corners of a mesh raised by its rise."""
    step = max(1, len(tree.corners) // _VERTICES)
    raised = tree.corners[::step].reshape(-1, 3) + np.array([0.0, 0.0, tree.rise])
    return np.asarray(raised, dtype=np.float64)


def _compare(field: NeedField, frame: Frame, tops: _Tops) -> None:
    grid = field.field.grid
    xy = frame.to_blank(tops.points)[:, :2]
    column = np.floor((xy[:, 0] - grid.x0) / grid.cell).astype(int)
    row = np.floor((xy[:, 1] - grid.y0) / grid.cell).astype(int)
    there = (column >= 0) & (column < grid.columns) & (row >= 0) & (row < grid.rows)
    height = field.field.z[row[there], column[there]]
    above = tops.points[there, 2] - height
    if above.size and above.max() > _ROUNDING:
        x, y = xy[there][int(above.argmax())]
        raise InternalError(
            f'the check and the height field disagree about "{tops.name}" at x {x:.3f}, '
            f"y {y:.3f}, by {float(above.max()):.3f} mm"
        )
