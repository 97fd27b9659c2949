"""All pieces and clamps of a face as height fields, grouped by the gap that they need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from toolpath.blank.frames import bounds_of
from toolpath.blank.placed import plan_radius
from toolpath.blank.solids import HeightArray, empty, raise_to_outline, raise_to_piece
from toolpath.field.grid import Grid, HeightField
from toolpath.job.model import Clamp, Job, Rule, Side


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NeedField:
    """Upper bounds of everything that needs the same gap, mm, in the page frame of a face."""

    need: float
    field: HeightField


def grid_for(job: Job) -> Grid:
    """The grid of a job, for both faces: every tip position that anything can bind.

    It covers the blank, the clamps and what of the pieces grown by their drift lies near these,
    and beyond them the widest cutter or nut with the largest gap. A piece further out than that
    (a mesh in a wrong unit) is cut off there.
    """
    boxes = [bounds_of(job.blank.outline)]
    boxes += [bounds_of(region) for clamp in job.clamps for region in clamp.outline]
    margin = _margin(job)
    near_low = np.min([box[0] for box in boxes], axis=0)
    near_high = np.max([box[1] for box in boxes], axis=0)
    near = margin + float((near_high - near_low).max()) / 2.0
    near_low, near_high = near_low - near, near_high + near
    for piece in job.pieces:
        at, r = np.array(piece.at), plan_radius(piece)
        low, high = np.clip([at - r, at + r], near_low, near_high)
        boxes.append((tuple(low), tuple(high)))
    corners = np.array(boxes)
    low, high = corners[:, 0].min(axis=0) - margin, corners[:, 1].max(axis=0) + margin
    return Grid.over(
        (float(low[0]), float(low[1])), (float(high[0]), float(high[1])), job.check.cell
    )


def _margin(job: Job) -> float:
    """The widest turning part, the largest gap, and two cells for the cells' own width."""
    widest = job.machine.nut.widest
    for cutter in job.cutters.values():
        widest = max(widest, cutter.diameter, cutter.shank)
    needs = [job.need(piece) for piece in job.pieces]
    return widest / 2.0 + max([_clamp_need(job), *needs]) + 2.0 * job.check.cell


def piece_fields(job: Job, side: Side, grid: Grid | None = None) -> tuple[NeedField, ...]:
    """The fields of a face in its page frame, one for each needed gap, least gap first.

    Kept pieces are grown by their drift; a clamp of this face stands up to its height. No field
    where there is neither.
    """
    where = grid_for(job) if grid is None else grid
    heights: dict[float, HeightArray] = {}
    for piece in job.pieces:
        if piece.rule is Rule.KEEP:
            z = _group(heights, job.need(piece), where)
            raise_to_piece(z, where, job.blank, piece, side)
    for clamp in _clamps(job, side):
        z = _group(heights, _clamp_need(job), where)
        raise_to_outline(z, where, clamp.outline, clamp.height)
    return tuple(
        NeedField(need=need, field=HeightField(grid=where, z=z))
        for need, z in sorted(heights.items())
    )


def _group(heights: dict[float, HeightArray], need: float, grid: Grid) -> HeightArray:
    """The field of a needed gap, made at its first use."""
    if need not in heights:
        heights[need] = empty(grid)
    return heights[need]


def _clamps(job: Job, side: Side) -> list[Clamp]:
    return [clamp for clamp in job.clamps if clamp.face is side]


def _clamp_need(job: Job) -> float:
    return job.check.clearance + job.machine.path_error
