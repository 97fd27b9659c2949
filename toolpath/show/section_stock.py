"""What is left of the blank in an upright section, after all cuts of both faces.

Frame of a section: s along the line, z above the face that is up, before any cut; millimetres.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Cut, Drill, Job, Side
from toolpath.show.areas import asked_for, blank_area
from toolpath.show.floors import floor_along
from toolpath.show.pieces import Line
from toolpath.show.plan_data import cuts_of
from toolpath.show.scene import Scene
from toolpath.show.seen import Seen

FloatArray = NDArray[np.float64]

_UNCUT = -1e-3
"""Heights above this, mm, are the face itself."""
_STRAIGHT = 0.01
"""What a drawn floor may leave the swept one by, mm."""


def stock_along(
    scene: Scene, job: Job, seen: Seen, line: Line
) -> tuple[BaseGeometry, BaseGeometry]:
    """What is left of the blank, and what is gone: as the emitted moves leave it, or, for a cut
    without moves, as it was asked for."""
    strips = line.intervals(seen.geometry(blank_area(job.blank)))
    whole = shapely.union_all([shapely.box(a, -job.blank.thickness, b, 0.0) for a, b in strips])
    if not strips:
        return whole, whole
    span = (strips[0][0], strips[-1][1])
    gone = shapely.union_all([_removed_from(scene, job, side, (seen, line), span) for side in Side])
    return whole.difference(gone), whole.intersection(gone)


def _removed_from(
    scene: Scene, job: Job, side: Side, where: tuple[Seen, Line], span: tuple[float, float]
) -> BaseGeometry:
    """What the cuts of one face take away."""
    seen, line = where
    views = cuts_of(scene, side)
    parts = [(view.planned.cutter, view.moves) for view in views if len(view.moves)]
    found = [_asked_for(v.planned.cut, seen, line) for v in views if not len(v.moves)]
    if parts:
        found += _above(*floor_along(scene.job_of(side), parts, seen, line, span))
    gone = shapely.union_all(found)
    return gone if side is seen.side else _other_way_up(gone, job.blank.thickness)


def _above(s: FloatArray, floor: FloatArray) -> list[BaseGeometry]:
    """Areas between a floor and its face."""
    cut = np.concatenate([[False], floor < _UNCUT, [False]])
    edges = np.flatnonzero(np.diff(cut))
    half = (s[1] - s[0]) / 2.0 if len(s) > 1 else 0.0
    shapes: list[BaseGeometry] = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        across = np.concatenate([[s[a] - half] * 2, s[a:b], [s[b - 1] + half] * 2])
        down = np.concatenate([[0.0], floor[a : a + 1], floor[a:b], floor[b - 1 : b], [0.0]])
        ring = shapely.Polygon(np.column_stack([across, down]))
        shapes.append(shapely.make_valid(ring.simplify(_STRAIGHT)))
    return shapes


def _asked_for(cut: Cut, seen: Seen, line: Line) -> BaseGeometry:
    """The area above the floor of a cut as the job asks for it."""
    shapes: list[BaseGeometry] = []
    for area, depth in asked_for(cut):
        for a, b in line.intervals(seen.geometry(area)):
            ring = [(a, 0.0), (a, -depth), (b, -depth), (b, 0.0)]
            if isinstance(cut, Drill) and not cut.bored:
                point = cut.cutter.point_length * (b - a) / cut.cutter.diameter
                ring.insert(2, ((a + b) / 2, -depth - point))
            shapes.append(shapely.Polygon(ring))
    return shapely.union_all(shapes)


def _other_way_up(area: BaseGeometry, thickness: float) -> BaseGeometry:
    """An area in (s, z) of the other face, z measured from the face that is up."""
    turned: BaseGeometry = shapely.transform(
        area, lambda sz: np.column_stack([sz[:, 0], -thickness - sz[:, 1]])
    )
    return turned
