"""What would clear a breach: how deep these moves may go, or how thin a cutter may follow them.

Both are found by judging the same moves again, lifted or with a thinner cutter, so that what is
offered was itself judged clear of everything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.frames import Frame
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.job.model import Cutter, Nut
from toolpath.motion.moves import MoveTable
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

_HALVINGS = 14
_PLACES = 9
_MOVES = 100
_LEAST_CUTTER = 0.5
"""A cutter thinner than this, mm, is not offered (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """What mending needs to know: moves, obstacles, cutter, frame of the face."""

    table: MoveTable
    obstacles: Obstacles
    frame: Frame
    cutter: Cutter
    nut: Nut
    unit: Unit = Unit.MM


def clear_depth(scene: Scene, rows: NDArray[np.intp]) -> float | None:
    """The greatest depth below the face, rounded down to 0.01 mm, at which these moves keep clear
    of every piece and clamp when none of them goes deeper. None where even the face is too deep.
    """
    moves = scene.table.take(rows)
    low, high = 0.0, -float(min(moves.start[:, 2].min(), moves.end[:, 2].min()))
    if high <= 0.0 or not _clear(scene, _lifted(moves, 0.0), scene.cutter):
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if _clear(scene, _lifted(moves, middle), scene.cutter):
            low = middle
        else:
            high = middle
    depth = round(high, 2)
    if not _clear(scene, _lifted(moves, depth), scene.cutter):
        depth = math.floor(low * 100.0) / 100.0
    return depth if depth > 0.0 else None


def deepest_place(
    scene: Scene, rows: NDArray[np.intp], owner: int
) -> tuple[int, NDArray[np.float64]] | None:
    """Of moves that go into something: the row and the tip (3,) inside it that would have to be
    lifted furthest. Gaps cannot tell such places apart, all are 0.

    Looked for at `_PLACES` places of about `_MOVES` of the moves, and so only for showing where
    it is worst; None where none of these is inside.
    """
    rows = rows[:: max(1, len(rows) // _MOVES)]
    moves = scene.table.take(rows)
    index = np.repeat(np.arange(len(rows)), _PLACES)
    tips = moves.at(index, np.tile(np.linspace(0.0, 1.0, _PLACES), len(rows)))
    tool = tool_of(scene.cutter, scene.nut)
    inside = _touching(scene.obstacles, owner).blocked(tips, tool)
    if not inside.any():
        return None
    index, tips = index[inside], tips[inside]
    low, high = np.zeros(len(tips)), np.full(len(tips), max(float(-tips[:, 2].min()), 0.0))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        hit = scene.obstacles.blocked(tips + middle[:, None] * np.array([0.0, 0.0, 1.0]), tool)
        low, high = np.where(hit, middle, low), np.where(hit, high, middle)
    worst = int(low.argmax())
    return int(rows[index[worst]]), tips[worst]


def _touching(obstacles: Obstacles, owner: int) -> Obstacles:
    """The same obstacles where only touching one of them counts."""
    owners = [
        replace(each, need=TOLERANCES.judge if number == owner else -math.inf)
        for number, each in enumerate(obstacles.owners)
    ]
    return replace(obstacles, owners=tuple(owners))


def clear_diameter(scene: Scene, rows: NDArray[np.intp]) -> float | None:
    """The widest cutter of this form, its shank no wider, that could follow these moves; rounded
    down to 0.1 mm. None where not even a thin one could."""
    moves = scene.table.take(rows)
    low, high = 0.0, scene.cutter.diameter
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if _clear(scene, moves, _thinner(scene.cutter, middle)):
            low = middle
        else:
            high = middle
    diameter = math.floor(low * 10.0) / 10.0
    return diameter if diameter >= _LEAST_CUTTER else None


def _clear(scene: Scene, moves: MoveTable, cutter: Cutter) -> bool:
    return not len(scene.obstacles.breaches(moves, tool_of(cutter, scene.nut)).row)


def _lifted(moves: MoveTable, depth: float) -> MoveTable:
    """The same moves with nothing deeper than a depth."""
    start, end = moves.start.copy(), moves.end.copy()
    start[:, 2] = np.maximum(start[:, 2], -depth)
    end[:, 2] = np.maximum(end[:, 2], -depth)
    return replace(moves, start=start, end=end)


def _thinner(cutter: Cutter, diameter: float) -> Cutter:
    neck = cutter.neck
    return replace(
        cutter,
        diameter=diameter,
        shank=min(cutter.shank, diameter),
        corner_radius=min(cutter.corner_radius, diameter / 2.0),
        tip_diameter=min(cutter.tip_diameter, diameter),
        edge_radius=min(cutter.edge_radius, diameter / 2.0),
        neck=None if neck is None else replace(neck, diameter=min(neck.diameter, diameter)),
    )
