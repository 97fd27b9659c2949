"""How far the rim of a cutter is engaged along the emitted path, on the deepest level of a cut.

Page frame of the face, millimetres, radians. The path is walked over distances from what was
walked before, as in `toolpath.plan.near`, but from the moves that were read back from the text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from toolpath.job.model import Cutter, Pocket, Side
from toolpath.motion.moves import Kind
from toolpath.plan.near import Cells, Near
from toolpath.show.areas import cut_area
from toolpath.show.plan_data import cuts_of
from toolpath.show.scene import CutView, Scene

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

STEP, _STEPS = 0.25, 12.0
"""The path is looked at every so many mm, or so often in a radius where that is closer, and what a
step takes is stock until the next: a chip of no length has no thickness."""
TURN = math.radians(10.0)
"""... and on arcs at least once in such a turn."""
LIFTED = 0.35
"""Moves this little above the level belong to it: ways back are lifted off the floor."""
CHIP = 0.08
"""Chips thinner than this share of a step are not seen."""
SPARE = math.radians(5.0)
"""More than this over the bound is marked."""
_LEVEL = 1e-6
"""Places no higher than this above a level are on it, mm."""
_NOWHERE = Polygon()
_CLOSING = 0.05
"""Level places so near in plan to the way down just made are its closing turn, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EngagedData:
    """Places `xy` (n, 2) along the feed moves of one level, about `STEP` apart: the engaged
    `angle`, the length of path that leads to each, whether it is on a way in (`entry`), and
    whether a run of moves begins there (`first`)."""

    cut: Pocket
    number: int
    level: float
    """The deepest; moves up to `LIFTED` above it are of it."""
    bound: float
    radius: float
    xy: FloatArray = field(repr=False)
    angle: FloatArray = field(repr=False)
    length: FloatArray = field(repr=False)
    entry: BoolArray = field(repr=False)
    first: BoolArray = field(repr=False)

    @property
    def cutting(self) -> BoolArray:
        """Where something is cut, ways in left out."""
        return (self.angle > 0.0) & ~self.entry & ~self.first

    @property
    def over(self) -> BoolArray:
        """Where more is engaged than the bound and a little."""
        return self.cutting & (self.angle > self.bound + SPARE)

    @property
    def share_within(self) -> float:
        """Share of the cutting length that is not over."""
        cut = float(self.length[self.cutting].sum())
        return 1.0 - float(self.length[self.over].sum()) / cut if cut else 1.0

    @property
    def worst(self) -> int:
        """Index of the place with the greatest angle, ways in left out."""
        return int(np.where(self.cutting, self.angle, -1.0).argmax())


def engaged_views(scene: Scene) -> tuple[CutView, ...]:
    """The cuts with a bound that have moves."""
    return tuple(
        view
        for program in scene.programs
        for view in program.cuts
        if isinstance(view.planned.cut, Pocket)
        and view.planned.cut.engage is not None
        and len(view.moves)
    )


def step_of(cutter: Cutter) -> float:
    """How far apart places are looked at, mm."""
    return min(STEP, cutter.radius / _STEPS)


def engaged_data(scene: Scene, view: CutView) -> EngagedData:
    """The engaged angle along the deepest level of a cut with a bound."""
    cut = view.planned.cut
    assert isinstance(cut, Pocket) and cut.engage is not None
    radius = view.planned.cutter.radius
    places, first, down = _places(view)
    level = float(places[:, 2].min())
    runs = _runs(places, first, level)
    near = _before(scene, cut.face, view, level)
    chip = CHIP * step_of(view.planned.cutter)
    angles = [near.engaged(places[run, :2], chip) for run in runs]
    rows = np.concatenate(runs)
    begins = np.zeros(len(rows), dtype=np.bool_)
    begins[np.cumsum([0, *(len(run) for run in runs[:-1])])] = True
    xy = places[rows, :2]
    length = np.concatenate([[0.0], np.hypot(*np.diff(xy, axis=0).T)])
    length[begins] = 0.0
    return EngagedData(
        cut=cut,
        number=view.number,
        level=level,
        bound=cut.engage,
        radius=radius,
        xy=xy,
        angle=np.concatenate(angles),
        length=length,
        entry=_entries(places, down, first)[rows],
        first=begins,
    )


def _places(view: CutView) -> tuple[FloatArray, BoolArray, BoolArray]:
    """(n, 3) places along the feed moves of a cut; where a run of moves begins; where it sinks."""
    moves = view.moves.take(view.moves.known)
    feed = np.flatnonzero(moves.kind != Kind.RAPID)
    lengths = moves.lengths()[feed]
    turns = np.abs(moves.sweep[feed]) / TURN
    count = np.maximum(np.ceil(lengths / step_of(view.planned.cutter)), np.ceil(turns))
    count = np.maximum(1, count).astype(np.intp)
    row = np.repeat(feed, count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + 1
    places = moves.at(row, within / np.repeat(count, count))
    starts = np.flatnonzero(np.diff(feed, prepend=-2) > 1)
    at = (np.cumsum(count) - count)[starts]
    places = np.insert(places, at, moves.start[feed[starts]], axis=0)
    first = np.zeros(len(places), dtype=np.bool_)
    first[at + np.arange(len(at))] = True
    down = np.concatenate([[False], np.diff(places[:, 2]) < -1e-9]) & ~first
    return places, first, down


def _runs(
    places: FloatArray, first: BoolArray, level: float, lifted: float = LIFTED
) -> list[NDArray[np.intp]]:
    """Unbroken runs of places on a level or a little above it, of ways that come down to it: one
    that stays a little above is another level."""
    way = np.cumsum(first) - 1
    lowest = np.full(int(way[-1]) + 1, np.inf)
    np.minimum.at(lowest, way, places[:, 2])
    low = (places[:, 2] <= level + lifted) & (lowest[way] <= level + _LEVEL)
    begins = low & (first | ~np.concatenate([[False], low[:-1]]))
    rows = np.flatnonzero(low)
    return np.split(rows, np.flatnonzero(begins[rows])[1:])


def _entries(places: FloatArray, down: BoolArray, first: BoolArray) -> BoolArray:
    """Places that sink, and the level ones after them on the same way in plan."""
    entry = down.copy()
    ends = np.flatnonzero(down & ~np.concatenate([down[1:], [False]]))
    begins = np.flatnonzero(down & ~np.concatenate([[False], down[:-1]]))
    for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
        way = shapely.linestrings(places[max(0, begin - 1) : end + 1, :2])
        shapely.prepare(way)
        at = end + 1
        while at < len(places) and not first[at]:
            if not shapely.dwithin(way, shapely.points(places[at, :2]), _CLOSING):
                break
            entry[at] = True
            at += 1
    return entry


def _before(scene: Scene, side: Side, view: CutView, level: float) -> Near:
    """The stock of the level before the cut: without what earlier cuts of the face took there."""
    radius = view.planned.cutter.radius
    cells = Cells.over(cut_area(view.planned.cut).buffer(radius), radius)
    near = Near.fresh(cells, radius, _NOWHERE)
    for earlier in cuts_of(scene, side):
        if earlier.number < view.number and len(earlier.moves):
            # What a cutter took ends at its own radius from its path, here at that of the view.
            other = _walked(earlier, level, cells)
            wider = (radius - other.radius) / cells.size
            np.minimum(near.walked, np.maximum(other.walked + wider, 0.0), out=near.walked)
    return near


def _walked(view: CutView, level: float, cells: Cells) -> Near:
    """What a cut walks at a level or below."""
    near = Near.fresh(cells, view.planned.cutter.radius, _NOWHERE)
    places, first, _ = _places(view)
    for run in _runs(places, first, level + _LEVEL, lifted=0.0):
        way = places[run if len(run) > 1 else run.repeat(2), :2]
        near.sweep(way)
    return near
