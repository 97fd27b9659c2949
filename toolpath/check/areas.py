"""Where the cuts of a job take material away, in plan, as the job itself says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import shapely
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, Outline, area_of
from toolpath.job.model import Cut, Drill, Job, Pocket, Side
from toolpath.tolerances import TOLERANCES


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
                found.append(_outward(cut.ledge.outline))
    return tuple(found)


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
    area = _outward(cut.outline)
    if isinstance(cut, Pocket):
        return area
    return area.boundary.buffer(widest + cut.finish)


def _outward(outline: Outline) -> BaseGeometry:
    return cast(BaseGeometry, area_of(outline, TOLERANCES.flatten, Err.OUTWARD))
