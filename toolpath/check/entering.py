"""Rapids, shank and nut in stock: moves that would push through what is not cut yet.

A move is looked at against what was cut before it. First on the height field, which only acquits
and knows the form of the flutes; then exactly: the disc of the part, swept over the move at its
lowest height, must be covered by earlier feed moves that went at least as low, up to slivers
thinner than `TOLERANCES.cover`.
Errs towards refusing: there pointed and round cutters count as flat at their tip when they enter
and as flat where they reach their full width when they have cut; only a place where the same cutter
already stood as deep is always open to it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.tooling import FLUTES, profile_of
from toolpath.check.areas import discs, quarter
from toolpath.check.begun import lift_words
from toolpath.check.chords import COARSE, Bounds, Chords, Feeds, below
from toolpath.check.frames import Frame
from toolpath.check.gap import Body, tool_of
from toolpath.check.paths import arc_radii, boxes
from toolpath.check.report import Code, Finding, Part
from toolpath.check.stock import FaceStock, Stock, program_area, sweep
from toolpath.check.words import line_words, place_words, point, stretches
from toolpath.job.model import Cut, Cutter, Nut
from toolpath.motion.moves import Kind, MoveTable
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

_BESIDE = 0.1
"""Cuts this near to a move, mm, are looked at first: mostly they are the same pass at a lesser
depth and took all that it needs, and the thousands of others need not be put together."""
_TOGETHER = 64
"""Lines that are put together before it is looked whether they do: speed only."""
_HALF_DIAGONAL = 0.7072
"""Of a cell, in cells: no place of it is further from its middle."""
_FRESH = 0.5
"""How far a feed move must go below the moves judged before it for the field to be brought up to
date, mm; an older field holds more stock, so this decides speed only."""
_CODES = {
    Part.FLUTES: Code.RAPID_IN_STOCK,
    Part.NECK: Code.SHANK_IN_STOCK,
    Part.SHANK: Code.SHANK_IN_STOCK,
    Part.NUT: Code.NUT_IN_STOCK,
    Part.SHOE: Code.SHOE_IN_STOCK,
}


@dataclass(slots=True, kw_only=True, eq=False)
class Replay:
    """A program on its way through the stock: the face as it is after the moves before `done`."""

    stock: Stock
    face: FaceStock
    feeds: Feeds
    nut: Nut
    frame: Frame
    unit: Unit = Unit.MM
    begun: tuple[Cut, ...] = ()
    """Cuts of the job at this face, of this cutter, that begin below it."""
    done: int = 0
    coarse: Feeds = field(init=False, repr=False)
    area: BaseGeometry = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self.coarse = self.feeds.within(COARSE)
        self.area = program_area(self.frame, self.stock.area)

    @property
    def table(self) -> MoveTable:
        """The moves of the program."""
        return self.feeds.table

    @property
    def cutter(self) -> Cutter:
        """The cutter in hand."""
        return self.feeds.cutter

    def up_to(self, row: int) -> None:
        """Cut the feed moves before a row that were not yet cut."""
        if row > self.done:
            for chords in self.coarse.parts(self.done, row):
                sweep(self.face, self.stock.grid, chords, self.frame, self.nut)
            self.done = row

    def past(self, bounds: Bounds) -> _Past:
        """The chords that may have cut in a box in plan, those of earlier programs first."""
        feeds = (*self.face.cut, self.feeds)
        return _Past.of([each.about(bounds, each.cutter.radius) for each in feeds])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Past:
    """Chords that may have cut, as columns (n, ...): the move of this program that each
    belongs to (-1: an earlier program), the radius and point length of its cutter, and whether
    that is the cutter now in hand."""

    start: FloatArray
    end: FloatArray
    row: IntArray
    radius: FloatArray
    full: FloatArray
    same: NDArray[np.bool_]
    low: FloatArray

    @classmethod
    def of(cls, runs: list[Chords]) -> _Past:
        """The chords of programs, the last of them the one in hand."""

        def column(values: list[float]) -> FloatArray:
            return np.repeat(np.array(values), [len(run) for run in runs])

        cutters, name = [run.cutter for run in runs], runs[-1].cutter.name
        start = np.concatenate([run.start for run in runs])
        end = np.concatenate([run.end for run in runs])
        return cls(
            start=start,
            end=end,
            low=np.minimum(start[:, 2], end[:, 2]),
            row=np.concatenate([*(np.full(len(run), -1) for run in runs[:-1]), runs[-1].row]),
            radius=column([cutter.radius for cutter in cutters]),
            full=column([cutter.point_length for cutter in cutters]),
            same=column([float(cutter.name == name) for cutter in cutters]) > 0.0,
        )


def entering(replay: Replay, plunges: Collection[int] = ()) -> tuple[list[Finding], list[int]]:
    """One finding for each kind of entry and stretch of moves between two lifts above the face,
    the first place of each; and which of the `plunges` (rows) go into stock with their flutes.
    Brings the replay to the end of its program."""
    table, found, sunk = replay.table, list[Finding](), list[int]()
    stretch = stretches(table)
    told: set[tuple[Part, int]] = set()
    last_low = np.inf
    for row, body in _suspects(replay, frozenset(plunges)):
        if body.part is Part.FLUTES and table.kind[row] != Kind.RAPID:
            replay.up_to(row)
            if sunk[-1:] != [row] and _stock_entered(replay, row, body) is not None:
                sunk.append(row)
            continue
        low = float(min(table.start[row, 2], table.end[row, 2]))
        if table.kind[row] == Kind.RAPID or low < last_low - _FRESH:
            replay.up_to(row)
            last_low = low
        key = (body.part, int(stretch[row]))
        if key in told:
            continue
        left = _stock_entered(replay, row, body)
        if left is not None:
            told.add(key)
            found.append(_finding(replay, row, body, left))
    replay.up_to(len(table))
    return found, sunk


def _suspects(replay: Replay, plunges: frozenset[int]) -> Iterator[tuple[int, Body]]:
    """Moves that go below the face with a part that must not meet stock, and the plunges with
    their flutes, in order."""
    bodies = tool_of(replay.cutter, replay.nut).bodies
    lowers = replay.table.kind == Kind.RAPID
    lowers[list(plunges)] = True
    first = 0
    for table in replay.table.parts():
        last = first + len(table)
        for row, number in np.argwhere(_below(table, bodies, lowers[first:last])).tolist():
            yield first + row, bodies[number]
        first = last


def _below(
    table: MoveTable, bodies: tuple[Body, ...], lowers: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """(n, bodies) which parts go below the face in moves, flutes only in those that are marked."""
    low = np.minimum(table.start[:, 2], table.end[:, 2])
    wanted = np.zeros((len(table), len(bodies)), dtype=np.bool_)
    for number, body in enumerate(bodies):
        below_face = (low < 0.0) & (low + body.z_low < 0.0)
        wanted[:, number] = below_face & (lowers | (body.part is not Part.FLUTES))
    return wanted


def _stock_entered(replay: Replay, row: int, body: Body) -> BaseGeometry | None:
    """What is left, in plan, of the stock that a part of the cutter enters; None for nothing."""
    if _field_clear(replay, row, body):
        return None
    return _left_over(replay, row, body)


def _lowest(replay: Replay, row: int, body: Body) -> float:
    table = replay.table
    return float(min(table.start[row, 2], table.end[row, 2])) + body.z_low


def _field_clear(replay: Replay, row: int, body: Body) -> bool:
    """Whether no cell within reach of a move's box in plan holds stock above its lowest place."""
    low, high = boxes(replay.table.take(np.array([row])))
    ends = np.stack([low[0], high[0]])
    page = np.sort(replay.frame.to_blank(ends)[:, :2], axis=0)
    grid, reach = replay.stock.grid, body.r_full
    first = np.floor((page[0] - reach - (grid.x0, grid.y0)) / grid.cell).astype(int)
    last = np.ceil((page[1] + reach - (grid.x0, grid.y0)) / grid.cell).astype(int)
    columns, rows = (slice(max(a, 0), max(b, 0)) for a, b in zip(first, last, strict=True))
    window = replay.face.upper[rows, columns]
    x, y = grid.centres()
    away = _away(replay, row, page, x[columns], y[rows])
    near = away <= reach + grid.cell
    bottom = _lowest(replay, row, body) + TOLERANCES.judge
    over = _over(replay, body, np.maximum(away[near] - _HALF_DIAGONAL * grid.cell, 0.0))
    return not bool((window[near] > bottom + over).any())


def _over(replay: Replay, body: Body, radius: FloatArray) -> FloatArray:
    """(k,) how much higher than its lowest place a part begins at radii (k,), +inf outside of it:
    nothing for all but flutes, which may be round or pointed."""
    if body.part is not Part.FLUTES:
        return np.zeros(len(radius))
    flutes = profile_of(replay.cutter, replay.nut).only(FLUTES)
    return np.maximum(flutes.height(radius) - body.z_low, 0.0)


def _away(replay: Replay, row: int, page: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """(rows, columns) how far places are at least from a move in plan, page frame: from the box
    `page` (2, 2) of a rapid, from the line, from the circle of an arc and that box."""
    table = replay.table
    if table.kind[row] == Kind.LINE:
        ends = np.stack([table.start[row], table.end[row]])
        start, end = replay.frame.to_blank(ends)[:, :2]
        along = end - start
        square = max(float(along @ along), np.finfo(float).tiny)
        off_x, off_y = x[None, :] - start[0], y[:, None] - start[1]
        share = np.clip((off_x * along[0] + off_y * along[1]) / square, 0.0, 1.0)
        return np.asarray(np.hypot(off_x - share * along[0], off_y - share * along[1]))
    aside = np.maximum(np.maximum(page[0, 0] - x, x - page[1, 0]), 0.0)
    along = np.maximum(np.maximum(page[0, 1] - y, y - page[1, 1]), 0.0)
    away = np.hypot(aside[None, :], along[:, None])
    if table.kind[row] == Kind.ARC:
        (place,), _ = table.arcs.of(np.array([row]))
        centre = replay.frame.to_blank(np.array([*place, 0.0]))
        first, last, _ = arc_radii(table, np.array([row]))
        radius = np.hypot(x[None, :] - centre[0], y[:, None] - centre[1])
        inner, outer = min(first[0], last[0]), max(first[0], last[0])
        away = np.maximum(away, np.maximum(inner - radius, radius - outer))
    return np.asarray(away, dtype=np.float64)


def _left_over(replay: Replay, row: int, body: Body) -> BaseGeometry | None:
    """The stock, in plan, that a part swept over a move at its lowest height still meets."""
    bottom = _lowest(replay, row, body)
    if body.part is Part.FLUTES and _stood_there(replay, row):
        return None
    path = _path(replay, row)
    wanted = path.buffer(body.r_full, quad_segs=quarter(body.r_full)).intersection(replay.area)
    if wanted.is_empty:
        return None
    lines, radius = _cuts(replay, row, bottom, wanted)
    beside: NDArray[np.bool_] = np.asarray(shapely.dwithin(path, lines, _BESIDE))
    rest = _less(wanted, lines[beside], radius[beside])
    if not rest.buffer(-TOLERANCES.cover / 2.0).is_empty:
        around: NDArray[np.bool_] = np.asarray(shapely.distance(rest, lines) <= radius)
        near = ~beside & around
        rest = _less(rest, lines[near], radius[near])
    rest = rest.buffer(-TOLERANCES.cover / 2.0)
    return None if rest.is_empty else rest


def _less(area: BaseGeometry, lines: NDArray[np.object_], radius: FloatArray) -> BaseGeometry:
    """What discs that go along lines leave of an area. Where the lines are many, as over a floor
    that rises, they are taken some at a time, spread over all of them, each time only those that
    still take something, until nothing is left that is thick enough to count."""
    parts = math.ceil(len(lines) / _TOGETHER)
    if parts <= 1:
        return area.difference(discs(lines, radius))
    for first in range(parts):
        some, wide = lines[first::parts], radius[first::parts]
        near: NDArray[np.bool_] = np.asarray(shapely.distance(area, some) <= wide)
        if near.any():
            area = area.difference(discs(some[near], wide[near]))
        if area.buffer(-TOLERANCES.cover / 2.0).is_empty:
            break
    return area


def _stood_there(replay: Replay, row: int) -> bool:
    """Whether the same cutter already passed the one place in plan of a move, as deep."""
    table = replay.table
    start, end = table.start[row], table.end[row]
    if np.hypot(*(end - start)[:2]) > TOLERANCES.cover / 2.0 or table.kind[row] == Kind.ARC:
        return False
    low = min(start[2], end[2]) + TOLERANCES.judge
    past = replay.past(shapely.Point(end[:2]).buffer(TOLERANCES.cover).bounds)
    before = np.flatnonzero(past.same & (past.row < row) & (past.low <= low))
    first = past.start[before]
    along = past.end[before] - first
    square = (along[:, :2] ** 2).sum(axis=1)
    share = ((end - first)[:, :2] * along[:, :2]).sum(axis=1) / np.where(square > 0.0, square, 1.0)
    passed = first + along * np.clip(share, 0.0, 1.0)[:, None]
    near = np.hypot(*(passed - end)[:, :2].T) <= TOLERANCES.cover / 2.0
    deepest = np.where(square > 0.0, passed[:, 2], past.low[before])
    return bool((near & (deepest <= low)).any())


def _path(replay: Replay, row: int) -> BaseGeometry:
    """A move in plan: a rapid's box, a feed move's line."""
    table = replay.table
    start, end = table.start[row, :2], table.end[row, :2]
    if table.kind[row] == Kind.RAPID:
        return shapely.MultiPoint([start, end, (start[0], end[1]), (end[0], start[1])]).convex_hull
    mine = replay.feeds.between(row, row + 1)
    return shapely.LineString(np.concatenate([mine.start[:1, :2], mine.end[:, :2]]))


def _cuts(
    replay: Replay, row: int, bottom: float, wanted: BaseGeometry
) -> tuple[NDArray[np.object_], FloatArray]:
    """Lines in plan along which earlier feed moves cut down to a height, near what is wanted, and
    the radius of the cutter of each."""
    past = replay.past(wanted.bounds)
    x0, y0, x1, y1 = wanted.bounds
    low = np.minimum(past.start, past.end)[:, :2] - past.radius[:, None]
    high = np.maximum(past.start, past.end)[:, :2] + past.radius[:, None]
    near = (low[:, 0] <= x1) & (high[:, 0] >= x0) & (low[:, 1] <= y1) & (high[:, 1] >= y0)
    allowed = bottom + TOLERANCES.judge - past.full
    near &= (past.low <= allowed) & (past.row < row)
    index = np.flatnonzero(near)
    start, end = below(past.start[index], past.end[index], allowed[index])
    # Passes at many levels follow the same lines: each is needed but once.
    each = np.unique(np.column_stack([start[:, :2], end[:, :2], past.radius[index]]), axis=0)
    lines = np.asarray(shapely.linestrings(each[:, :4].reshape(-1, 2, 2)))
    return lines, each[:, 4]


def _finding(replay: Replay, row: int, body: Body, left: BaseGeometry) -> Finding:
    table = replay.table
    spot = np.array(left.representative_point().coords[0])
    low, high = boxes(table.take(np.array([row])))
    tip = np.array([*np.clip(spot, low[0, :2], high[0, :2]), low[0, 2]])
    at = replay.frame.to_blank(tip)
    line = int(table.line[row])
    code = Code.RAPID_IN_STOCK if table.kind[row] == Kind.RAPID else _CODES[body.part]
    who = "a rapid" if code is Code.RAPID_IN_STOCK else f"the {body.part.value}"
    mend = lift_words(replay.begun, (float(at[0]), float(at[1])), replay.cutter, replay.unit)
    if code is not Code.RAPID_IN_STOCK:
        mend = "clear what is above more widely first, or use a cutter that reaches further"
    if body.part is Part.SHOE:
        mend = "use a cutter that reaches further, or raise the dust shoe"
    return Finding(
        code=code,
        message=f"{who} enters stock {place_words(at, tip, replay.unit)}{line_words(line, line)}",
        line=line,
        part=body.part,
        at=point(at),
        at_program=point(tip),
        mend=mend,
    )
