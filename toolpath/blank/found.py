"""The blank as it was found before its second face: a job planned anew on measured size and
thickness."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.frames import Frame, bounds_of
from toolpath.drawing.outline import Err, Loop, Region
from toolpath.job.model import Blank, Cut, Job, Side, Skim
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


def first_face(job: Job) -> Side:
    """The face that is cut first: that of the first cut, the front where there is none."""
    return job.cuts[0].face if job.cuts else Side.FRONT


def job_of_face(job: Job, side: Side) -> Job:
    """The job by which a face is planned and judged: as drawn, or, for the second face of a blank
    that was measured, as found."""
    return job if side is first_face(job) else found_job(job)


@lru_cache(maxsize=8)
def found_job(job: Job) -> Job:
    """The job on the blank as measured; the job itself where it was not. The same job gives the
    same answer, so that what is worked out for it need not be worked out again.

    Drawing and blank meet where the first face has its zero: the first face's programs ran from
    there, so what they cut lies where it was drawn. The other edges and the other face lie where
    they were found. Through cuts follow the thickness.
    """
    measured = job.measured
    if measured is None:
        return job
    zero = Frame.of(job, first_face(job)).xy_to_page(np.zeros((1, 2)))[0]
    thickness = measured.thickness + job.skimmed(first_face(job))  # found after the first skim
    blank = replace(
        job.blank,
        outline=_stretched(job.blank, zero, measured.size),
        thickness=thickness,
        thickness_within=0.0,
    )
    cuts = tuple(_followed(cut, job.blank, blank) for cut in job.cuts)
    return replace(job, blank=blank, cuts=cuts)


def _followed(cut: Cut, drawn: Blank, found: Blank) -> Cut:
    """A cut in the blank as found: through it, down to a thickness of it, over all of it."""
    thicker = found.thickness - drawn.thickness
    if isinstance(cut, Skim):
        more = thicker if cut.thickness > 0.0 else 0.0
        return replace(cut, depth=cut.depth + more, outline=(found.outline,))
    return replace(cut, depth=cut.depth + thicker - drawn.thickness_within) if cut.through else cut


def _stretched(blank: Blank, fixed: FloatArray, size: tuple[float, float]) -> Region:
    """The outline with its box brought to a size, `fixed` staying where it is.

    Arcs stay arcs only where both axes are stretched alike; else they become chords.
    """
    scale = _scale(blank.outline, size)
    outer = blank.outline.outer
    even = abs(scale[0] - scale[1]) * max(size) <= TOLERANCES.equal
    if not even and bool((outer.points[:, 2] != 0.0).any()):
        outer = Loop.of_polygon(outer.flatten(TOLERANCES.flatten, Err.OUTWARD))
        scale = _scale(Region(outer=outer), size)
    points = outer.points.copy()
    points[:, :2] = (points[:, :2] - fixed) * scale + fixed
    return Region(outer=replace(outer, points=points))


def _scale(outline: Region, size: tuple[float, float]) -> FloatArray:
    low, high = np.array(bounds_of(outline))
    return np.asarray(np.array(size) / (high - low), dtype=np.float64)
