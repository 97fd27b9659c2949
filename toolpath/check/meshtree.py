"""Embedded meshes and measured tops as trees of boxes over their triangles, in the program frame
of a face. Measured tops are closed by walls round their edge and a flat foot.

The triangles are laid along a curve that keeps neighbours together; node j of level l holds
triangles j * 2^l up to (j + 1) * 2^l.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from toolpath.check.frames import Frame, frame_of
from toolpath.check.solids import Foot, Solids, standing
from toolpath.job.model import Heights, Job, Mesh, Piece, Rule, Side, Solid

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_MORTON_BITS = 10
"""Bits an axis of the curve that orders triangles: it decides speed only."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeshTree:
    """One embedded mesh in the program frame, at its nominal place.

    `corners` (t, 3, 3) of the triangles; `boxes` (n, 9) the least and the greatest corner of each
    node, level by level from the triangles up, and a corner of a triangle in it; `first`
    (levels + 1,) where each level begins. `side`, `rise` and `turn` about `pivot` (2,) are its
    drift.
    """

    owner: int
    corners: FloatArray = field(repr=False)
    boxes: FloatArray = field(repr=False)
    first: IntArray = field(repr=False)
    pivot: FloatArray
    side: float
    rise: float
    turn: float

    @property
    def top(self) -> int:
        """The level of the one node that holds everything."""
        return len(self.first) - 2

    def level(self, level: int) -> FloatArray:
        """(m, 9) the boxes of the nodes of a level."""
        return self.boxes[self.first[level] : self.first[level + 1]]

    def grown_box(self) -> tuple[FloatArray, FloatArray]:
        """(3,) corners of a box that holds the mesh wherever it may have drifted."""
        node = self.nodes(self.top, np.zeros(1, dtype=np.intp))
        low, high = node.boxes()
        return low[0], high[0]

    def nodes(self, level: int, node: IntArray) -> Solids:
        """The boxes of nodes of a level, grown by the drift, as solids."""
        box = self.level(level)[node]
        low, high = box[:, :3], box[:, 3:6]
        far = np.maximum(np.abs(low - self.pivot3), np.abs(high - self.pivot3))
        chord = 2.0 * np.hypot(far[:, 0], far[:, 1]) * math.sin(min(self.turn, math.pi) / 2.0)
        return boxes_of(low, high, self.side + chord, self.rise, self.owner)

    def samples(self, level: int, node: IntArray) -> Solids:
        """A corner of each node, grown by the drift to the side and up or down."""
        point = self.level(level)[node, 6:]
        return boxes_of(point, point, np.full(len(node), self.side), self.rise, self.owner)

    @property
    def pivot3(self) -> FloatArray:
        """(3,) the pivot at z = 0."""
        return np.array([self.pivot[0], self.pivot[1], 0.0])


def boxes_of(low: FloatArray, high: FloatArray, pad: FloatArray, rise: float, owner: int) -> Solids:
    """Boxes square to the axes (k, 3), widened by pads and raised and lowered, as solids."""
    count = len(low)
    half, middle = (high - low) / 2.0, (high + low) / 2.0
    zero = np.zeros(count)
    return Solids(
        foot=np.full(count, Foot.RECT, dtype=np.int8),
        owner=np.full(count, owner, dtype=np.intp),
        x=middle[:, 0],
        y=middle[:, 1],
        ux=np.ones(count),
        uy=zero,
        hx=half[:, 0],
        hy=half[:, 1],
        pad=pad,
        z0=low[:, 2] - rise,
        z1=high[:, 2] + rise,
        rounding=zero,
    )


def mesh_trees(job: Job, side: Side) -> tuple[MeshTree, ...]:
    """The meshes and measured tops among the pieces that are kept, as seen on the machine while
    that face is up; `owner` is the piece's place in the job."""
    frame = frame_of(job, side)
    return tuple(
        _tree(job, piece, side, frame, owner)
        for owner, piece in enumerate(job.pieces)
        if isinstance(piece.solid, Mesh | Heights) and piece.rule is Rule.KEEP
    )


def _tree(job: Job, piece: Piece, side: Side, frame: Frame, owner: int) -> MeshTree:
    corners, rise = placed_triangles(job, piece, side, frame)
    corners = corners[_order(corners.mean(axis=1))]
    boxes, first = levels_over(corners)
    return MeshTree(
        owner=owner,
        corners=corners,
        boxes=boxes,
        first=first,
        pivot=np.array(piece.at) * frame.sign[:2] + frame.shift[:2],
        side=piece.drift.side,
        rise=rise,
        turn=piece.drift.turn,
    )


def levels_over(corners: FloatArray) -> tuple[FloatArray, IntArray]:
    """`MeshTree.boxes` and `first` over triangles (t, 3, 3), t > 0, in their order."""
    levels = [np.concatenate([corners.min(axis=1), corners.max(axis=1), corners[:, 0]], axis=1)]
    while len(levels[-1]) > 1:
        levels.append(_level_above(levels[-1]))
    return np.concatenate(levels), np.cumsum([0, *map(len, levels)], dtype=np.intp)


def _level_above(boxes: FloatArray) -> FloatArray:
    """The nodes that hold two and two of a level's, the last perhaps one."""
    pairs = np.arange(0, len(boxes), 2)
    low = np.minimum.reduceat(boxes[:, :3], pairs, axis=0)
    high = np.maximum.reduceat(boxes[:, 3:6], pairs, axis=0)
    return np.concatenate([low, high, boxes[pairs, 6:]], axis=1)


def placed_triangles(job: Job, piece: Piece, side: Side, frame: Frame) -> tuple[FloatArray, float]:
    """(t, 3, 3) corners of a mesh or of closed measured tops where they nominally lie, program
    frame, and how far they may stand higher or lower."""
    corners = _own_triangles(piece.solid) @ _rotation(2, piece.turn).T
    flat = corners.reshape(-1, 3)
    least, most = flat.min(axis=0), flat.max(axis=0)
    bottom, _, rise = standing(job, piece, side, float(most[2] - least[2]))
    middle = (least[:2] + most[:2]) / 2.0
    plan = (corners[..., :2] - middle + np.array(piece.at)) * frame.sign[:2] + frame.shift[:2]
    up = corners[..., 2] - least[2] if frame.sign[2] > 0 else most[2] - corners[..., 2]
    return np.concatenate([plan, (bottom + up)[..., None]], axis=2), rise


def _own_triangles(solid: Solid) -> FloatArray:
    """(t, 3, 3) corners as the file has them, tilted. Raises TypeError for other solids."""
    if isinstance(solid, Mesh):
        tilted = _rotation(1, solid.tilt[1]) @ _rotation(0, solid.tilt[0])
        return np.asarray(solid.vertices[_skin(solid)] @ tilted.T, dtype=np.float64)
    if isinstance(solid, Heights):
        return _closed(solid)
    raise TypeError(f"a {type(solid).__name__} is not made of triangles")


def _closed(heights: Heights) -> FloatArray:
    """Measured tops with their foot and walls, every triangle seen counter-clockwise from outside.

    A side that only one triangle has stands on the edge, and a wall goes down from it.
    """
    top = heights.points[heights.triangles]
    edge = top[:, 1:, :2] - top[:, :1, :2]
    turned = edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0] < 0.0
    triangles = heights.triangles.copy()
    triangles[turned] = triangles[turned][:, ::-1]
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    _, index, count = np.unique(
        np.sort(sides, axis=1), axis=0, return_index=True, return_counts=True
    )
    rim = sides[index[count == 1]]
    top, foot = heights.points, heights.points * np.array([1.0, 1.0, 0.0])
    a, b = rim[:, 0], rim[:, 1]
    return np.concatenate(
        [
            top[triangles],
            foot[triangles[:, ::-1]],
            np.stack([foot[a], foot[b], top[b]], axis=1),
            np.stack([foot[a], top[b], top[a]], axis=1),
        ]
    )


def _skin(mesh: Mesh) -> NDArray[np.int64]:
    """The triangles that must be kept clear of: those of the convex hull where the mesh has holes,
    since what is missing may be just the part that lies in the way. A flat one is its own hull."""
    if mesh.watertight:
        return mesh.triangles
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(ConvexHull(mesh.vertices).simplices, dtype=np.int64)
    except QhullError:
        return mesh.triangles


def _rotation(axis: int, angle: float) -> FloatArray:
    """Right-handed turn about the x (0), y (1) or z (2) axis."""
    one, two = (axis + 1) % 3, (axis + 2) % 3
    made = np.eye(3)
    made[one, one] = made[two, two] = math.cos(angle)
    made[one, two], made[two, one] = -math.sin(angle), math.sin(angle)
    return made


def _order(middles: FloatArray) -> IntArray:
    """An order along a curve that visits the octants of space one after the other."""
    low = middles.min(axis=0)
    size = max(float((middles.max(axis=0) - low).max()), np.finfo(float).tiny)
    steps = ((middles - low) / size * (2**_MORTON_BITS - 1)).astype(np.int64)
    key = np.zeros(len(middles), dtype=np.int64)
    for bit in range(_MORTON_BITS):
        for axis in range(3):
            key |= ((steps[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.argsort(key, kind="stable")
