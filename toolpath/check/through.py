"""Break-through: where the cuts of the two faces meet and nobody said that they should."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from toolpath.check.areas import grown, through_areas
from toolpath.check.chords import Chords, Feeds
from toolpath.check.frames import Frame
from toolpath.check.report import Code, Finding
from toolpath.check.stock import Stock, Window, lowered, page_xyz
from toolpath.check.words import line_words, point
from toolpath.job.model import Job, Side
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cutting:
    """A program of a face as far as break-through goes: its feed moves, the frame."""

    job: Job
    side: Side
    feeds: Feeds
    frame: Frame


def break_through(before: Stock, after: Stock, cutting: Cutting) -> list[Finding]:
    """One finding for each spot where this program newly opened the blank outside the job's own
    through cuts. Errs towards finding: by a cell's width in plan, as `lowest` does in height; areas
    cut through are grown by a cell."""
    job = cutting.job
    limit = job.blank.thinnest - TOLERANCES.judge
    box = lowered(before, after, cutting.side)
    if box is None:
        return []
    closed = _depth(before, box) < limit
    depth = _depth(after, box)
    opened = closed & (depth >= limit)
    if not opened.any():
        return []
    from scipy import ndimage

    opened[_declared(after, opened, cutting, box)] = False
    spots, count = ndimage.label(opened, structure=np.ones((3, 3)))
    places = ndimage.maximum_position(depth, spots, np.arange(1, count + 1)) if count else []
    first_row, first_column = box[0].start, box[1].start
    return [
        _finding(after, cutting, int(row) + first_row, int(column) + first_column)
        for row, column in places
    ]


def _depth(stock: Stock, box: Window) -> NDArray[np.float32]:
    """Greatest depth cut from both faces together within a box, -inf outside the blank."""
    front, back = stock.faces[Side.FRONT].lowest[box], stock.faces[Side.BACK].lowest[box]
    inside = np.isfinite(stock.faces[Side.FRONT].upper[box]) | np.isfinite(front)
    total = front + back
    np.negative(total, out=total)
    total[~inside] = -np.inf
    return total


def _declared(
    stock: Stock, opened: NDArray[np.bool_], cutting: Cutting, box: Window
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns, within a box, of opened cells where cutting through is meant."""
    rows, columns = np.nonzero(opened)
    x, y = stock.grid.centres()
    zone = grown(through_areas(cutting.job), stock.grid.cell)
    shapely.prepare(zone)
    inside = shapely.contains_xy(zone, x[box[1]][columns], y[box[0]][rows])
    return rows[inside], columns[inside]


def _finding(stock: Stock, cutting: Cutting, row: int, column: int) -> Finding:
    x, y = stock.grid.centres()
    here = np.array([x[column], y[row]])
    line, tip = deepest_near(cutting, here, stock.grid.cell)
    other = Side.BACK if cutting.side is Side.FRONT else Side.FRONT
    mine = -float(stock.faces[cutting.side].lowest[row, column])
    theirs = -float(stock.faces[other].lowest[row, column])
    thickness = cutting.job.blank.thickness
    within = cutting.job.blank.thickness_within
    unit = cutting.job.unit
    may_be = f" (it may be {show_mm(within, unit)} thinner)" if within else ""
    x_here, y_here = here / unit.mm
    return Finding(
        code=Code.BREAK_THROUGH,
        message=(
            f"breaks through at x {x_here:.2f}, y {y_here:.2f}: {show_mm(mine, unit)} deep from "
            f"this face and {show_mm(theirs, unit)} from the other, the blank is "
            f"{show_mm(thickness, unit)} thick"
            f"{may_be}{line_words(line, line)}"
        ),
        line=line,
        at=point(cutting.frame.to_blank(tip)),
        at_program=point(tip),
        mend="make one of the cuts less deep, move it, or say through = true",
    )


def deepest_near(
    cutting: Cutting, here: NDArray[np.float64], cell: float
) -> tuple[int, NDArray[np.float64]]:
    """The line of the deepest chord whose cutter reaches a place of the blank frame, and the low
    end of that; where none does those of the nearest."""
    feeds, reach = cutting.feeds, cutting.feeds.cutter.radius + 2.0 * cell
    x, y, _ = cutting.frame.to_program(np.array([*here, 0.0])).tolist()
    near = feeds.about((x, y, x, y), reach)
    distance = _distances(cutting.frame, near, here)
    reached = distance <= reach
    if reached.any():
        low = np.minimum(near.start[:, 2], near.end[:, 2])
        return _low_end(cutting, near, int(np.where(reached, low, np.inf).argmin()))
    least, found = np.inf, None
    for part in feeds.parts():
        distance = _distances(cutting.frame, part, here)
        if distance.min(initial=np.inf) < least:
            least, found = float(distance.min()), _low_end(cutting, part, int(distance.argmin()))
    assert found is not None  # something was cut
    return found


def _low_end(cutting: Cutting, chords: Chords, chord: int) -> tuple[int, NDArray[np.float64]]:
    first, last = chords.start[chord], chords.end[chord]
    line = int(cutting.feeds.table.line[chords.row[chord]])
    return line, first if first[2] <= last[2] else last


def _distances(frame: Frame, chords: Chords, here: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) of a place of the blank frame from chords in plan."""
    first, last = page_xyz(frame, chords.start), page_xyz(frame, chords.end)
    along = last[:, :2] - first[:, :2]
    square = np.maximum((along**2).sum(axis=1), np.finfo(float).tiny)
    share = np.clip(((here - first[:, :2]) * along).sum(axis=1) / square, 0.0, 1.0)
    off = first[:, :2] + along * share[:, None] - here
    return np.asarray(np.hypot(off[:, 0], off[:, 1]), dtype=np.float64)
