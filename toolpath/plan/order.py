"""In which order the parts of a job are cut: as few changes of the cutter as what depends on order
lets, outlines last, and from one cut to the nearest next.

Frame: x, y of the blank frame, millimetres. See docs/decisions/0009-order-of-the-cuts.md.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import networkx as nx
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err
from toolpath.job.model import (
    MARK,
    PINS,
    Cut,
    Drill,
    Job,
    Order,
    Profile,
)
from toolpath.plan.footprint import footprint
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import flat_area
from toolpath.tolerances import TOLERANCES

TOUCH = 1.0
"""Cuts this near to each other, mm, shanks included, keep the order in which they are written."""
MOST_STATES = 4000
"""How many beginnings of an order are looked at; from there on the first that is found counts."""

Place = tuple[float, float]


def in_order(job: Job, parts: Sequence[PlannedCut]) -> tuple[PlannedCut, ...]:
    """Parts of the cuts of a job, in cutting order. Faces stay as they come; on each face the
    parts as written, or in the best order where the job does not say otherwise."""
    if job.order is Order.AS_WRITTEN:
        return tuple(parts)
    faces = list(dict.fromkeys(part.cut.face for part in parts))
    return tuple(
        part
        for face in faces
        for part in _of_face([part for part in parts if part.cut.face is face])
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Reach:
    """A cut, what it takes in plan, and what it holds within."""

    cut: Cut

    @property
    def is_outline(self) -> bool:
        """Whether it may let something go."""
        return isinstance(self.cut, Profile) and (self.cut.through or self.cut.tabs is not None)

    @property
    def is_pins(self) -> bool:
        """Whether it drills what the blank is turned over on."""
        return self.cut.name in (PINS, MARK)

    @cached_property
    def taken(self) -> BaseGeometry:
        """What it takes, and the room of its shank."""
        return footprint(self.cut)

    @cached_property
    def inside(self) -> BaseGeometry:
        """Its outline as an area."""
        if isinstance(self.cut, Drill):
            return self.taken
        return flat_area(self.cut.outline, TOLERANCES.flatten, Err.OUTWARD)

    @property
    def rank(self) -> int:
        """Stiff work first: pockets and holes, then lines along an outline, outlines last."""
        return 2 if self.is_outline else int(isinstance(self.cut, Profile))


@dataclass(slots=True, kw_only=True)
class _Plan:
    """Parts by their number as written, what each waits for, and the cutter of each."""

    parts: Sequence[PlannedCut]
    waits: dict[int, frozenset[int]]
    rank: dict[int, int]
    names: list[str] = field(default_factory=list)

    def ready(self, done: frozenset[int], cutter: str) -> list[int]:
        """What one cutter can cut now."""
        return [
            i
            for i, name in enumerate(self.names)
            if name == cutter and i not in done and self.waits[i] <= done
        ]

    def run(self, done: frozenset[int], cutter: str) -> frozenset[int]:
        """What is done after a cutter has cut all that it can, one thing opening another."""
        while found := self.ready(done, cutter):
            done = done.union(found)
        return done


def _of_face(parts: Sequence[PlannedCut]) -> list[PlannedCut]:
    plan = _plan_of(parts)
    if plan is None:
        return list(parts)
    order: list[int] = []
    here: Place | None = None
    for cutter in _cutters(plan):
        run, here = _tour(plan, frozenset(order), cutter, here)
        order += run
    return [parts[i] for i in order]


def _plan_of(parts: Sequence[PlannedCut]) -> _Plan | None:
    """What waits for what; None where it goes round in a circle."""
    cuts = list(dict.fromkeys(part.cut.name for part in parts))
    reach = {part.cut.name: _Reach(cut=part.cut) for part in parts}
    before = nx.DiGraph(_before([reach[name] for name in cuts]))
    if not nx.is_directed_acyclic_graph(before):
        return None
    waits = {}
    for i, part in enumerate(parts):
        names = set(before.pred[part.cut.name]) if part.cut.name in before else set()
        own = {k for k in range(i) if parts[k].cut.name == part.cut.name}
        waits[i] = frozenset(own | {k for k, other in enumerate(parts) if other.cut.name in names})
    return _Plan(
        parts=parts,
        waits=waits,
        rank={i: reach[part.cut.name].rank for i, part in enumerate(parts)},
        names=[part.cutter.name for part in parts],
    )


def _before(cuts: Sequence[_Reach]) -> list[tuple[str, str]]:
    """Pairs of names: the first is cut before the second."""
    pairs = []
    for j, second in enumerate(cuts):
        for first in cuts[:j]:
            if (way := _way(first, second)) is not None:
                pair = (first.cut.name, second.cut.name)
                pairs.append(pair if way else pair[::-1])
    return pairs


def _way(first: _Reach, second: _Reach) -> bool | None:
    """Whether of two cuts the one written first comes first; None where that is all the same."""
    if first.is_pins or second.is_pins:
        return first.is_pins
    if first.is_outline is not second.is_outline:
        return second.is_outline
    if first.is_outline and first.inside.covers(second.inside):
        return False
    if first.is_outline and second.inside.covers(first.inside):
        return True
    return True if first.taken.dwithin(second.taken, TOUCH) else None


def _cutters(plan: _Plan) -> list[str]:
    """The cutters in the order that needs the fewest changes; of such orders the one that begins
    as the job is written. Breadth first over what can be done, each cutter to its end."""
    whole = frozenset(range(len(plan.parts)))
    names = list(dict.fromkeys(plan.names))
    waiting: deque[tuple[frozenset[int], list[str]]] = deque([(frozenset(), [])])
    known = {frozenset[int]()}
    while waiting:
        done, order = waiting.popleft()
        if done == whole:
            return order
        for name in sorted(names, key=lambda name: min(plan.ready(done, name), default=math.inf)):
            after = plan.run(done, name)
            if after != done and after not in known:
                known.add(after)
                item = (after, [*order, name])
                if len(known) > MOST_STATES:
                    waiting.appendleft(item)
                    break
                waiting.append(item)
    raise AssertionError("parts that wait for each other")


def _tour(
    plan: _Plan, done: frozenset[int], cutter: str, here: Place | None
) -> tuple[list[int], Place | None]:
    """All that a cutter can cut now: stiff work first, then always the nearest."""
    found: list[int] = []
    while ready := plan.ready(done.union(found), cutter):
        best = min(ready, key=lambda i: (plan.rank[i], _away(plan.parts[i], here), i))
        found.append(best)
        moves = plan.parts[best].moves
        here = moves[-1].end[:2] if moves else here
    return found, here


def _away(part: PlannedCut, here: Place | None) -> float:
    """How far a part begins from where the cutter is; from the start all are equally near, and
    what has no moves is furthest."""
    if not part.moves:
        return math.inf
    return math.dist(part.moves[0].start[:2], here) if here else 0.0
