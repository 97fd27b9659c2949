"""Cover: what a skim leaves of the resin over the kept pieces, grown by their drift.

Errs towards finding: pieces count as high as anywhere in a cell, the floor as low.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from toolpath.blank.field import piece_fields
from toolpath.blank.shadow import shadow
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock
from toolpath.check.through import Cutting, deepest_near
from toolpath.check.words import line_words, place_words, point
from toolpath.field.grid import NOTHING, Grid
from toolpath.job.model import Job, Rule, Side, Skim
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

HeightArray = NDArray[np.float32]

_LEVEL = 0.05
"""What lies deeper under the floor of a skim than this, mm, another cut made."""


def cover_findings(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """One finding for each spot where a skim newly left less over a kept piece than its
    `least_cover`."""
    found: list[Finding] = []
    for cut in cutting.job.cuts:
        asked = isinstance(cut, Skim) and cut.least_cover > 0.0 and cut.face is cutting.side
        if asked and cut.cutter.name == cutting.feeds.cutter.name:
            assert isinstance(cut, Skim)
            found += _short(before, after, cutting, cut)
    return found


def _short(before: Stock, after: Stock, cutting: Cutting, cut: Skim) -> list[Finding]:
    floor, tops = after.faces[cut.face].lowest, _tops(cutting.job, cut.face, after.grid)
    fresh = (floor < before.faces[cut.face].lowest) & (floor >= -cut.depth - _LEVEL)
    cover = np.where(fresh & (tops > NOTHING), floor - tops, np.inf)
    from scipy import ndimage

    spots, count = ndimage.label(cover < cut.least_cover - TOLERANCES.judge, np.ones((3, 3)))
    places = ndimage.minimum_position(cover, spots, np.arange(1, count + 1)) if count else []
    return [
        _finding(after.grid, cutting, cut, (int(row), int(column)), float(cover[row, column]))
        for row, column in places
    ]


@lru_cache(maxsize=2)
def _tops(job: Job, side: Side, grid: Grid) -> HeightArray:
    """(rows, columns) an upper bound of the kept pieces in each cell, page frame."""
    fields = piece_fields(replace(job, clamps=()), side, grid)
    nothing = np.full(grid.shape, NOTHING, dtype=np.float32)
    return np.asarray(np.maximum.reduce([nothing, *(each.field.z for each in fields)]))


def _finding(
    grid: Grid, cutting: Cutting, cut: Skim, cell: tuple[int, int], cover: float
) -> Finding:
    x, y = grid.centres()
    here = np.array([x[cell[1]], y[cell[0]]])
    kept = [piece for piece in cutting.job.pieces if piece.rule is Rule.KEEP]
    piece = min(kept, key=lambda each: shadow(each, drifted=True, grow=0.0).distance(Point(here)))
    line, _ = deepest_near(cutting, here, grid.cell)
    tip = cutting.frame.to_program(np.array([*here, 0.0]))
    tip[2] = -cut.depth
    unit = cutting.job.unit
    place = place_words(cutting.frame.to_blank(tip), tip, unit)
    return Finding(
        code=Code.COVER,
        message=(
            f'leaves {show_mm(cover, unit)} over "{piece.name}", drift included, '
            f'{show_mm(cut.least_cover, unit)} are asked by "{cut.name}", '
            f"{place}{line_words(line, line)}"
        ),
        line=line,
        piece=piece.name,
        at=point(cutting.frame.to_blank(tip)),
        at_program=point(tip),
        gap=cover,
        needed=cut.least_cover,
        mend="skim less deep, or lower its least_cover",
    )
