"""Where the cuts of a job take material away, in plan, as the job itself says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.corners import with_corners
from toolpath.drawing.outline import Err, Outline, area_of
from toolpath.job.model import (
    Cut,
    Drill,
    Job,
    Pocket,
    Profile,
    ProfileSide,
    Relief,
    Side,
    Skim,
)
from toolpath.tolerances import TOLERANCES

_TOGETHER = 16
"""Lines that are grown as one: of a hundred that cross one another, all at once takes twenty times
as long. Speed only."""
_OFF = 0.0008
"""Discs are drawn too small by so much at most, mm, well within `cover`."""
_MOST_CHORDS = 64


def through_areas(job: Job) -> tuple[BaseGeometry, ...]:
    """Where the job says that a cut goes through, blank frame. A ledge never does: of a pocket
    that has one its own outline counts."""
    return tuple(_cut_area(cut) for cut in job.cuts if cut.through)


def hard_areas(job: Job, side: Side) -> tuple[BaseGeometry, ...]:
    """Where the job says that a cut of a face may go into hard pieces that may be cut, blank
    frame: with a pocket its ledge."""
    found: list[BaseGeometry] = []
    for cut in job.cuts:
        if cut.face is side and cut.through_hard:
            found.append(_cut_area(cut))
            if isinstance(cut, Pocket) and cut.ledge is not None:
                found.append(with_corners(cut, outward(cut.ledge.outline)))
    return tuple(found)


def quarter(radius: float) -> int:
    """Chords of a quarter turn of a disc: as many as `_OFF` asks for. Fewer cost less by far."""
    if radius <= _OFF:
        return 1
    turn = 2.0 * math.acos(1.0 - _OFF / radius)
    return min(_MOST_CHORDS, math.ceil(math.pi / 2.0 / turn))


def discs(lines: NDArray[np.object_], radius: NDArray[np.float64]) -> BaseGeometry:
    """What discs that go along straight lines cover; a line without length is one disc."""
    still = shapely.length(lines) == 0.0
    places = lines.copy()
    places[still] = shapely.get_point(lines[still], 0)  # a union drops lines without length
    return shapely.union_all(
        [
            shapely.union_all(mine[at : at + _TOGETHER]).buffer(float(r), quad_segs=quarter(r))
            for r in np.unique(radius)
            if r > 0.0
            for mine in (places[radius == r],)
            for at in range(0, len(mine), _TOGETHER)
        ]
    )


def scrap_area(job: Job) -> BaseGeometry:
    """What falls away: outside the outer profiles that go through and inside the inner ones."""
    through = [cut for cut in job.cuts if isinstance(cut, Profile) and cut.through]
    parts = [outward(cut.outline) for cut in through if cut.side is ProfileSide.OUTER]
    found = [outward(cut.outline) for cut in through if cut.side is ProfileSide.INNER]
    if parts:
        x0, y0, x1, y1 = shapely.union_all([*parts, outward((job.blank.outline,))]).bounds
        around = shapely.box(x0, y0, x1, y1).buffer(1.0)
        found.append(around.difference(shapely.union_all(parts)))
    return shapely.union_all(found)


def grown(areas: Sequence[BaseGeometry], by: float) -> BaseGeometry:
    """All areas as one, grown by a length."""
    return shapely.union_all(list(areas)).buffer(by)


def _cut_area(cut: Cut) -> BaseGeometry:
    """Pockets, holes as wide as they become, and along profiles a band of the widest cutter's
    diameter, and of what is left for a last pass, on either side."""
    widest = max(cutter.diameter for cutter in cut.cutters)
    if isinstance(cut, Drill):
        radius = max(cut.diameter, widest) / 2.0
        return shapely.MultiPoint(list(cut.at)).buffer(radius)
    area = outward(cut.outline)
    if isinstance(cut, Pocket):
        return with_corners(cut, area)
    if isinstance(cut, Relief | Skim):
        return area
    return area.boundary.buffer(widest + cut.finish)


def kerf(cut: Cut) -> list[tuple[BaseGeometry, float]]:
    """Where a cut takes material, as drawn, and how deep: the pocket and its ledge, the band of
    the widest cutter on the side that is cut, the holes down to the drill's point; a relief as deep
    as its deepest place (`check.ground` knows the others)."""
    widest = max(cutter.diameter for cutter in cut.cutters)
    if isinstance(cut, Drill):
        point = max(cutter.point_length for cutter in cut.cutters)
        radius = max(cut.diameter, widest) / 2.0
        return [(shapely.MultiPoint(list(cut.at)).buffer(radius), cut.depth + point)]
    area = outward(cut.outline)
    if isinstance(cut, Skim):
        return [(area.buffer(widest), cut.depth)]
    if isinstance(cut, Pocket):
        islands, ledge = outward(cut.islands).buffer(-TOLERANCES.flatten), cut.ledge
        inner = [(with_corners(cut, area).difference(islands), cut.depth)]
        if ledge is None:
            return inner
        return [*inner, (with_corners(cut, outward(ledge.outline)), ledge.depth)]
    if isinstance(cut, Relief):
        return [(area, cut.depth)]
    wide = widest + cut.finish
    if cut.side is ProfileSide.CENTRE:
        return [(area.boundary.buffer(widest / 2.0), cut.depth)]
    if cut.side is ProfileSide.INNER:
        return [(area.difference(area.buffer(-wide)), cut.depth)]
    return [(area.buffer(wide, join_style="mitre").difference(area), cut.depth)]


def outward(outline: Outline) -> BaseGeometry:
    """An outline as an area with its arcs as chords outside them."""
    return cast(BaseGeometry, area_of(outline, TOLERANCES.flatten, Err.OUTWARD))
