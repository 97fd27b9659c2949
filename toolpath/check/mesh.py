"""The exact judge for embedded meshes: down the tree of boxes, then the triangles.

A node's box, grown by the drift, gives a lower bound of the
gap in closed form and one of its corners an upper bound, so that whole branches fall away. At the
leaves the gap to a triangle's middle, with the plane that touches it there, bounds the gap to
all of it, all angles that it may have turned to included, and what that does not settle is
split: the triangle into four, the move or the angle into two. Each body of the cutter falls away
by itself, and what takes most off the bound is split first. The loop itself is compiled,
`field/kernels/nearing.py`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from toolpath.check.gap import Tool
from toolpath.check.judge import CHEAPER, Best, Pairs
from toolpath.check.meshtree import MeshTree
from toolpath.errors import InternalError
from toolpath.field import kernels
from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_AT_ONCE = 1024
"""Pairs that are looked at before a key can stop the run: some tenths of a second."""
_DEEPEST = 1024
"""Parts that may wait: each of some 200 splittings, one below the other, leaves three at most."""
_MOST = 0.1
"""The most that a mesh is refused too early by, mm; less than half of what is promised."""


def search_mesh(table: MoveTable, tool: Tool, tree: MeshTree, pairs: Pairs, best: Best) -> None:
    """Bring `best` to the least gap of each group over its moves to one mesh (`pairs.solid` is
    not looked at), as `toolpath.check.judge.search_solids` does for simple solids."""
    drift = np.array([tree.side, tree.rise, min(tree.turn, math.pi), *tree.pivot])
    found = (best.limit, best.gap, best.tip, best.row, best.owner, best.body)
    marks = np.empty((_DEEPEST + 1, 3), dtype=np.int64)
    scratch = np.empty((_DEEPEST + 1, kernels.ITEM)), marks, np.zeros(kernels.SEEN + 6)
    for at in range(0, len(pairs.row), _AT_ONCE):
        row, group = pairs.row[at : at + _AT_ONCE], pairs.group[at : at + _AT_ONCE]
        looked = kernels.least_gaps(
            _paths(table, row),
            (np.ascontiguousarray(row), np.ascontiguousarray(group)),
            (tree.boxes, tree.first, tree.corners),
            (_bodies(tool), drift),
            np.array([*best.how(_MOST), tree.owner], dtype=np.float64),
            found,
            scratch,
        )
        if looked < 0:
            raise InternalError("a mesh needs more room to be searched than there is")
        best.looked = int(looked) // CHEAPER


def _bodies(tool: Tool) -> FloatArray:
    """(b, 6) the bodies of a cutter."""
    return np.array(
        [
            (each.r_low, each.r_full, each.z_low, each.z_full, each.z_high, each.corner)
            for each in tool.bodies
        ]
    )


def _paths(table: MoveTable, row: IntArray) -> FloatArray:
    """(k, 10) kind, start, end, and of arcs the centre and the sweep, of moves."""
    kind = table.kind[row]
    path = np.zeros((len(row), 10))
    path[:, 0], path[:, 1:4], path[:, 4:7] = kind, table.start[row], table.end[row]
    arc = np.flatnonzero(kind == Kind.ARC)
    path[arc, 7:9], path[arc, 9] = table.arcs.of(row[arc])
    return path
