"""How the blank lies while a face is up: how thick it is by then, and where its two faces are.

The one place that knows what a skim of one face means for the other. Frame: page frame of the face
that is up, z = 0 on it before any cut; x, y of the blank frame, millimetres.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from toolpath.blank.found import first_face
from toolpath.blank.uneven import heights_at
from toolpath.job.model import Job, Side

FloatArray = NDArray[np.float64]


def lost_below(job: Job, side: Side) -> float:
    """How much nearer the board lies below a face than the drawing has it, mm: what was skimmed
    from the face that lies on it. Nothing below the face that is cut first."""
    return 0.0 if side is first_face(job) else job.skimmed(first_face(job))


def thickness_up(job: Job, side: Side) -> float:
    """How thick the blank is when it is put down with a face up, mm: what callipers find then, but
    for `thickness_within`."""
    return job.blank.thickness - lost_below(job, side)


def thinnest_up(job: Job, side: Side) -> float:
    """The same of the thinnest blank that there may be."""
    return thickness_up(job, side) - job.blank.thickness_within


def new_face(job: Job, side: Side, spots: FloatArray) -> FloatArray:
    """(n,) height of a face at (n, 2) spots, 0 or below, in its own page frame, once all its skims
    ran: the skimmed face, or the face as it was measured (`surface`) where that lies lower. Other
    cuts are left out, and places that stand up above Z 0."""
    skimmed = np.full(len(spots), -job.skimmed(side))
    surface = job.surfaces.get(side)
    return skimmed if surface is None else np.minimum(skimmed, heights_at(surface, spots))


def underside(job: Job, side: Side, spots: FloatArray) -> FloatArray:
    """(n,) height of the other face of the thinnest blank at (n, 2) spots, once all its skims ran,
    whichever face is cut first: where material begins for who looks from below. Errs high where
    that face stands up above its Z 0."""
    thinnest = job.blank.thinnest
    return np.asarray(-thinnest - new_face(job, side.other, spots))
