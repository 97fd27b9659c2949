"""The lowest tip of a cutter that keeps clear of everything on a face."""

from __future__ import annotations

import numpy as np

from toolpath.blank.field import NeedField, grid_for, piece_fields
from toolpath.blank.solids import empty
from toolpath.blank.tooling import profile_of
from toolpath.field.dilate import lowest_clear
from toolpath.field.grid import HeightField
from toolpath.job.model import Cutter, Job, Side
from toolpath.tolerances import TOLERANCES


def deepest_tip(job: Job, cutter: Cutter) -> float:
    """The lowest tip that a cut of this job can ask for, page frame: through the thickest blank
    into the spoilboard with the whole point of the cutter, or the deepest cut there is."""
    through = job.blank.thickness + job.blank.thickness_within + job.machine.spoilboard
    deepest = max([through, *(cut.depth for cut in job.cuts)])
    return -(deepest + cutter.point_length + TOLERANCES.planner_margin)


def lowest_clear_tip(
    job: Job,
    side: Side,
    cutter: Cutter,
    fields: tuple[NeedField, ...] | None = None,
    *,
    margin: float = 0.0,
    deepest: float | None = None,
) -> HeightField:
    """The lowest clear tip in each cell of a face, page frame, over all groups of needed gaps.

    Any tip position in a cell at or above its height keeps its gap to every piece grown by its
    drift and to every clamp, with flutes, shank and nut.

    Parameters
    ----------
    fields : those of `piece_fields`, if at hand (pass them for each cutter of a face).
    margin : kept beyond the needed gap, mm; a planner gives `TOLERANCES.planner_margin`.
    deepest : the lowest tip that will be asked about, mm; `deepest_tip` if not given. A tip
        below it must not be judged by this field.

    Returns
    -------
    A field with NOTHING where no piece binds above `deepest`. Errs high, in a rim of about two
    cells round what stands there. Beyond the grid of `grid_for` nothing binds.
    """
    groups = piece_fields(job, side) if fields is None else fields
    floor = deepest_tip(job, cutter) if deepest is None else deepest
    if not groups:
        grid = grid_for(job)
        return HeightField(grid=grid, z=empty(grid))
    profile = profile_of(cutter, job.machine.nut)
    heights = [lowest_clear(g.field, profile, g.need + margin, floor) for g in groups]
    return HeightField(grid=groups[0].field.grid, z=np.maximum.reduce(heights))
