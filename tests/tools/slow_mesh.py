"""The exact judge for embedded meshes: down the tree of boxes, then the triangles.

A node's box, grown by the drift, gives a lower bound of the
gap in closed form and one of its corners an upper bound, so that whole branches fall away. At the
leaves the gap to a triangle's middle, with the plane that touches it there, bounds the gap to
all of it, all angles that it may have turned to included, and what that does not settle is
split: the triangle into four, the move or the angle into two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.gap import Gaps, Tool, gaps
from toolpath.check.judge import Best, Pairs, joined, nearest, taken
from toolpath.check.meshtree import MeshTree, boxes_of
from toolpath.check.paths import Places, Spans, forward, places, split
from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_BLOCK = 32768
_LEVELS_DOWN = 2
"""Levels of the tree gone down at a time: it decides speed only."""
_MOST = 0.1
"""The most that a mesh is refused too early by, mm; less than half of what is promised."""
_AT_ONCE = 1 << 18
"""Triangles in hand at once: about 60 MB."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _NodeItems:
    spans: Spans
    group: IntArray
    level: int
    node: IntArray

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> _NodeItems:
        return replace(
            self, spans=self.spans.take(which), group=self.group[which], node=self.node[which]
        )

    def blocks(self) -> list[_NodeItems]:
        every = np.arange(len(self.group))
        return [self.take(every[at : at + _BLOCK]) for at in range(0, len(every), _BLOCK)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _TriangleItems:
    """Triangles (k, 3, 3) at their nominal place, turned by angles from `first` to `last` (k,)."""

    spans: Spans
    group: IntArray
    corners: FloatArray
    first: FloatArray
    last: FloatArray

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> _TriangleItems:
        return _TriangleItems(
            spans=self.spans.take(which),
            group=self.group[which],
            corners=self.corners[which],
            first=self.first[which],
            last=self.last[which],
        )

    def blocks(self) -> list[_TriangleItems]:
        every = np.arange(len(self.group))
        return [self.take(every[at : at + _BLOCK]) for at in range(0, len(every), _BLOCK)]


def search_mesh(table: MoveTable, tool: Tool, tree: MeshTree, pairs: Pairs, best: Best) -> None:
    """Bring `best` to the least gap of each group over its moves to one mesh (`pairs.solid` is
    not looked at), as `toolpath.check.judge.search_solids` does for simple solids."""
    if not len(pairs.row):
        return
    whole = _NodeItems(
        spans=Spans.whole(pairs.row),
        group=pairs.group,
        level=tree.top,
        node=np.zeros(len(pairs.row), dtype=np.intp),
    )
    waiting: list[_NodeItems] = whole.blocks()
    triangles: list[_TriangleItems] = []
    while waiting:
        found: list[_NodeItems] = []
        for block in waiting:
            halves, below = _look_node(table, tool, tree, block, best)
            found.append(halves)
            if isinstance(below, _NodeItems):
                found.append(below)
            else:
                triangles.append(below)
        waiting = _by_level(found)
    _search_triangles(table, tool, tree, triangles, best)


def _search_triangles(
    table: MoveTable, tool: Tool, tree: MeshTree, waiting: list[_TriangleItems], best: Best
) -> None:
    """Triangles in full blocks; where there are too many, the last ones first."""
    while waiting:
        items = _together(waiting)
        kept = max(len(items.group) - _AT_ONCE, 0)
        every = np.arange(len(items.group))
        waiting = [items.take(every[:kept])] if kept else []
        for block in items.take(every[kept:]).blocks():
            waiting += _look_triangle(table, tool, tree, block, best)
        waiting = [each for each in waiting if len(each.group)]


def _by_level(found: list[_NodeItems]) -> list[_NodeItems]:
    """The same items, those of one level together, in full blocks."""
    blocks = []
    for level in {items.level for items in found}:
        same = [items for items in found if items.level == level]
        blocks += _NodeItems(
            spans=_spans_of([items.spans for items in same]),
            group=np.concatenate([items.group for items in same]),
            level=level,
            node=np.concatenate([items.node for items in same]),
        ).blocks()
    return blocks


def _together(found: list[_TriangleItems]) -> _TriangleItems:
    return _TriangleItems(
        spans=_spans_of([items.spans for items in found]),
        group=np.concatenate([items.group for items in found]),
        corners=np.concatenate([items.corners for items in found]),
        first=np.concatenate([items.first for items in found]),
        last=np.concatenate([items.last for items in found]),
    )


def _spans_of(found: list[Spans]) -> Spans:
    return Spans(
        row=np.concatenate([spans.row for spans in found]),
        low=np.concatenate([spans.low for spans in found]),
        high=np.concatenate([spans.high for spans in found]),
    )


def _look_node(
    table: MoveTable, tool: Tool, tree: MeshTree, items: _NodeItems, best: Best
) -> tuple[_NodeItems, _NodeItems | _TriangleItems]:
    """One round of a block of nodes: those whose span is to be halved, and what is below the
    others."""
    at = places(table, items.spans)
    box = tree.nodes(items.level, items.node)
    point = gaps(tool, tree.samples(items.level, items.node), at.middle)
    seen = nearest(point.gap, at.middle, items.spans.row)
    best.offer(items.group, seen, box.owner)
    bound = _bound(gaps(tool, box, at.middle), at, np.zeros(1))
    open_ = bound < best.enough(items.group)
    size = np.hypot(box.hx, box.hy) + (box.z1 - box.z0) / 2.0
    longer = at.radius > np.maximum(size, TOLERANCES.judge)
    one, two = split(table, items.spans.take(open_ & longer))
    halves = _NodeItems(
        spans=joined(one, two),
        group=np.tile(items.group[open_ & longer], 2),
        level=items.level,
        node=np.tile(items.node[open_ & longer], 2),
    )
    return halves, _children(tree, items.take(open_ & ~longer))


def _children(tree: MeshTree, items: _NodeItems) -> _NodeItems | _TriangleItems:
    if items.level == 0:
        turn = np.full(len(items.group), min(tree.turn, math.pi))
        corners = tree.corners[items.node]
        return _TriangleItems(
            spans=items.spans, group=items.group, corners=corners, first=-turn, last=turn
        )
    step = min(items.level, _LEVELS_DOWN)
    many = 2**step
    node = np.concatenate([many * items.node + child for child in range(many)])
    there = np.flatnonzero(node < len(tree.level(items.level - step)))
    parent = there % len(items.node)
    return _NodeItems(
        spans=items.spans.take(parent),
        group=items.group[parent],
        level=items.level - step,
        node=node[there],
    )


def _bound(found: Gaps, at: Places, beyond: FloatArray) -> FloatArray:
    """(k,) lower bounds over spans, `beyond` (k,) or (1,) being how much further than its middle
    a solid may come along any direction, or, with one a body (k, bodies), along each."""
    allowed = beyond if beyond.ndim == 2 else beyond[:, None]
    touching = found.gap - at.sway(found.direction) - allowed
    return np.asarray(touching.min(axis=1), dtype=np.float64)


def _look_triangle(
    table: MoveTable, tool: Tool, tree: MeshTree, items: _TriangleItems, best: Best
) -> list[_TriangleItems]:
    at = places(table, items.spans)
    turned, arm = _turned(tree, items)
    middle = turned.mean(axis=1)
    pad = np.full(len(middle), tree.side)
    solid = boxes_of(middle, middle, pad, tree.rise, tree.owner)
    found = gaps(tool, solid, at.middle)
    seen = nearest(found.gap, at.middle, items.spans.row)
    best.offer(items.group, seen, solid.owner)
    half_turn = (items.last - items.first) / 2.0
    spread = np.sqrt(((turned - middle[:, None, :]) ** 2).sum(axis=2)).max(axis=1)
    arc = arm.max(axis=1) * half_turn
    beyond = _reach(found, turned - middle[:, None, :], turned - tree.pivot3, half_turn)
    plain = found.gap - (at.radius + spread + arc)[:, None]
    bound = np.maximum(_bound(found, at, beyond), plain.min(axis=1))
    look = _Look(at=at, turned=turned, found=found, bound=bound)
    _offer_corners(table, tool, tree, items, best, look)
    open_ = bound < best.enough(items.group)
    best.looked += len(items.group)
    small = 2.0 * np.maximum(np.maximum(at.radius, spread), arc) <= best.least(_MOST)
    index = np.flatnonzero(open_ & small & (best.owner[items.group] < 0))
    best.offer(items.group[index], taken(seen, index), solid.owner[index], force=True)
    left = open_ & ~small
    widest = np.stack([spread, at.radius, arc], axis=1).argmax(axis=1)
    return [
        _quartered(items.take(left & (widest == 0))),
        _span_halved(table, items.take(left & (widest == 1))),
        _turn_halved(items.take(left & (widest == 2))),
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """What was seen of triangles: places, corners as turned, gaps to their middles, bounds."""

    at: Places
    turned: FloatArray
    found: Gaps
    bound: FloatArray


def _offer_corners(
    table: MoveTable, tool: Tool, tree: MeshTree, items: _TriangleItems, best: Best, look: _Look
) -> None:
    """Try the corner of each open triangle, and the ends of its span and of its angles, that
    promise the least gap: without it the least gap would be closed in on only by halves."""
    open_ = np.flatnonzero(look.bound < best.enough(items.group))
    if not open_.size:
        return
    body = look.found.gap[open_].argmin(axis=1)
    toward = look.found.direction[open_, body]
    ends = forward(table, items.spans.take(open_), look.at.take(open_), toward)
    turned = look.turned[open_]
    corner = np.einsum("kx,kcx->kc", toward, turned).argmin(axis=1)
    every = np.arange(len(open_))
    arm = turned[every, corner] - tree.pivot3
    swing = toward[:, 1] * arm[:, 0] - toward[:, 0] * arm[:, 1]
    angle = np.where(swing > 0.0, items.first[open_], items.last[open_])
    nominal = items.corners[open_][every, corner]
    point = _at_angle(tree, nominal[:, None], angle)[:, 0]
    solid = boxes_of(point, point, np.full(len(open_), tree.side), tree.rise, tree.owner)
    seen = nearest(gaps(tool, solid, ends).gap, ends, items.spans.row[open_])
    best.offer(items.group[open_], seen, solid.owner)


def _turned(tree: MeshTree, items: _TriangleItems) -> tuple[FloatArray, FloatArray]:
    """Corners (k, 3, 3) at the middle of their angles, and their distances from the pivot."""
    off = items.corners[..., :2] - tree.pivot
    turned = _at_angle(tree, items.corners, (items.first + items.last) / 2.0)
    return turned, np.hypot(off[..., 0], off[..., 1])


def _at_angle(tree: MeshTree, corners: FloatArray, angle: FloatArray) -> FloatArray:
    """Corners (k, c, 3) turned about the pivot by angles (k,)."""
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    off = corners[..., :2] - tree.pivot
    turned = corners.copy()
    turned[..., 0] = tree.pivot[0] + off[..., 0] * cos - off[..., 1] * sin
    turned[..., 1] = tree.pivot[1] + off[..., 0] * sin + off[..., 1] * cos
    return turned


def _reach(found: Gaps, off: FloatArray, arm: FloatArray, half_turn: FloatArray) -> FloatArray:
    """(k, bodies) how far corners `off` (k, 3, 3) from the middle reach against the direction,
    each swung about the pivot by up to the half turn: its tangent and the rest of its arc."""
    against = -np.einsum("kbx,kcx->kbc", found.direction, off)
    aside = np.stack([-arm[..., 1], arm[..., 0]], axis=2)
    swing = np.abs(np.einsum("kbx,kcx->kbc", found.direction[..., :2], aside))
    swing = swing * half_turn[:, None, None]
    rest = np.hypot(arm[..., 0], arm[..., 1]) * half_turn[:, None] ** 2 / 2.0
    level = np.hypot(found.direction[..., 0], found.direction[..., 1])[..., None]
    reach = against + swing + rest[:, None, :] * level
    return np.asarray(reach.max(axis=2), dtype=np.float64)


def _quartered(items: _TriangleItems) -> _TriangleItems:
    """Each triangle as four, by the middles of its sides."""
    a, b, c = items.corners[:, 0], items.corners[:, 1], items.corners[:, 2]
    ab, bc, ca = (a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0
    four = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    corners = np.concatenate([np.stack(each, axis=1) for each in four])
    every = items.take(np.tile(np.arange(len(items.group)), 4))
    return replace(every, corners=corners)


def _span_halved(table: MoveTable, items: _TriangleItems) -> _TriangleItems:
    one, two = split(table, items.spans)
    every = items.take(np.tile(np.arange(len(items.group)), 2))
    return replace(every, spans=joined(one, two))


def _turn_halved(items: _TriangleItems) -> _TriangleItems:
    middle = (items.first + items.last) / 2.0
    every = items.take(np.tile(np.arange(len(items.group)), 2))
    return replace(
        every,
        first=np.concatenate([items.first, middle]),
        last=np.concatenate([middle, items.last]),
    )
