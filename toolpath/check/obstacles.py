"""Everything that a program of one face must keep clear of, and the questions put to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.gap import Tool
from toolpath.check.judge import EQUAL, Best, Pairs, near_pairs, search_solids
from toolpath.check.mesh import search_mesh
from toolpath.check.meshtree import MeshTree, mesh_trees
from toolpath.check.report import Code
from toolpath.check.solids import Owner, Solids, simple_solids
from toolpath.job.model import Job, Side
from toolpath.motion.moves import Arcs, Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


ROUGH = 0.1
"""How well the gap of a breach is known at first, mm: whether it is one does not depend on it."""


ROWS = 65536
"""Moves that are looked at together: memory only."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Near:
    """Moves `row` and things `thing` (k,) that may come near: solids first, then trees."""

    row: IntArray
    thing: IntArray
    owner: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Breaches:
    """k pairs of a move and an owner nearer than its need: the worst place of each."""

    row: IntArray
    owner: IntArray
    body: IntArray
    gap: FloatArray
    tip: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Obstacles:
    """The grown pieces and the clamps of a face, in its program frame."""

    owners: tuple[Owner, ...]
    solids: Solids
    trees: tuple[MeshTree, ...]

    @classmethod
    def of(cls, job: Job, side: Side) -> Obstacles:
        """Built from the job by the check's own code."""
        owners, solids = simple_solids(job, side)
        return cls(owners=owners, solids=solids, trees=mesh_trees(job, side))

    @property
    def needs(self) -> FloatArray:
        """(owners,) the gap to keep to each, less the noise of floating point; more than nothing,
        as a cutter inside a piece has the gap 0. Errs towards refusing what just touches."""
        needs = np.array([owner.need for owner in self.owners], dtype=np.float64) - EQUAL
        return np.asarray(np.maximum(needs, EQUAL), dtype=np.float64)

    def wider(self, by: float) -> Obstacles:
        """The same with `by` mm more to keep to each, for moves that stray from the real path."""
        owners = tuple(replace(owner, need=owner.need + by) for owner in self.owners)
        return replace(self, owners=owners) if by else self

    @property
    def top(self) -> float:
        """Greatest height of anything, mm; -inf where there is nothing."""
        _, high = self._boxes()
        return float(high[:, 2].max(initial=-np.inf))

    def breaches(self, table: MoveTable, tool: Tool, within: float = ROUGH) -> Breaches:
        """Every move that comes nearer to anything than that needs, with the worst place and its
        gap to `within` mm, on the upper side.

        All moves of the table must be known at both ends. Nothing is missed; what keeps its need
        by `TOLERANCES.judge` or more is never named.
        """
        near = _joined(list(self._near_parts(table, tool, self.needs)))
        pair = near.row * max(len(self.owners), 1) + near.owner
        keys, group = np.unique(pair, return_inverse=True)
        owner = keys % max(len(self.owners), 1)
        best = self._search(table, tool, near, group, Best.of(self.needs[owner], within=within))
        hit = np.flatnonzero(best.found)
        return Breaches(
            row=best.row[hit],
            owner=best.owner[hit],
            body=best.body[hit],
            gap=best.gap[hit],
            tip=best.tip[hit],
        )

    def closest(self, table: MoveTable, tool: Tool, group: IntArray, best: Best) -> Best:
        """Brings `best` to the nearest approach to any piece of each group of moves.

        `group` (n,) numbers the moves' groups from 0. To within `best.within`, never below the
        truth.
        """
        most = float(best.limit.max(initial=0.0))
        for near in self._near_pieces(table, tool, most):
            best = self._search(table, tool, near, group[near.row], best)
        return best

    def nearby(self, table: MoveTable, tool: Tool, within: float) -> IntArray:
        """Rows of the moves that may come nearer to a piece than `within` mm; none that does is
        left out."""
        found = [np.empty(0, dtype=np.intp)]
        found += [np.unique(near.row) for near in self._near_pieces(table, tool, within)]
        return np.concatenate(found)

    def _near_pieces(self, table: MoveTable, tool: Tool, within: float) -> Iterator[_Near]:
        """The moves near pieces, some rows at once."""
        piece = np.array([owner.code is Code.PIECE for owner in self.owners], dtype=np.bool_)
        return self._near_parts(table, tool, np.where(piece, within, -np.inf))

    def _near_parts(self, table: MoveTable, tool: Tool, within: FloatArray) -> Iterator[_Near]:
        """The moves that may come nearer to owners than `within` (owners,), some rows at once."""
        for at in range(0, max(len(table), 1), ROWS):
            near = self._near(table.take(slice(at, at + ROWS)), tool, within)
            yield replace(near, row=near.row + at)

    def blocked(self, tips: FloatArray, tool: Tool) -> NDArray[np.bool_]:
        """(k,) whether a cutter that stands at each tip (k, 3) is too near to anything."""
        found = np.zeros(len(tips), dtype=np.bool_)
        found[self.breaches(standing_at(tips), tool).row] = True
        return found

    def _boxes(self) -> tuple[FloatArray, FloatArray]:
        low, high = self.solids.boxes()
        grown = [tree.grown_box() for tree in self.trees]
        low = np.concatenate([low.reshape(-1, 3), *(box[0][None] for box in grown)])
        high = np.concatenate([high.reshape(-1, 3), *(box[1][None] for box in grown)])
        return low, high

    def _near(self, table: MoveTable, tool: Tool, within: FloatArray) -> _Near:
        trees = np.array([tree.owner for tree in self.trees], dtype=np.intp)
        owner = np.concatenate([self.solids.owner, trees])
        row, thing = near_pairs(table, self._boxes(), tool, within[owner])
        return _Near(row=row, thing=thing, owner=owner[thing])

    def _search(
        self, table: MoveTable, tool: Tool, near: _Near, group: IntArray, best: Best
    ) -> Best:
        count = len(self.solids)
        simple = near.thing < count
        pairs = Pairs(row=near.row[simple], solid=near.thing[simple], group=group[simple])
        search_solids(table, tool, self.solids, pairs, best)
        for number, tree in enumerate(self.trees):
            mine = near.thing == count + number
            pairs = Pairs(row=near.row[mine], solid=near.thing[mine], group=group[mine])
            search_mesh(table, tool, tree, pairs, best)
        return best


def _joined(parts: list[_Near]) -> _Near:
    return _Near(
        row=np.concatenate([part.row for part in parts]),
        thing=np.concatenate([part.thing for part in parts]),
        owner=np.concatenate([part.owner for part in parts]),
    )


def standing_at(tips: FloatArray) -> MoveTable:
    """A table of moves (k,) that go nowhere."""
    count = len(tips)
    return MoveTable(
        kind=np.full(count, Kind.LINE, dtype=np.int8),
        start=tips,
        end=tips,
        arcs=Arcs.none(),
        feed=np.ones(count),
        line=np.zeros(count, dtype=np.int32),
    )
