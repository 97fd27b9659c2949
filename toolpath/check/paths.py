"""Where the tip may be: moves as spans that can be split, program frame.

A feed move is a line or an arc with one parameter; a rapid is the whole box between its ends,
square to the axes, because an axis that arrives first lets the tip wander anywhere in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spans:
    """Parts of moves: `row` (k,) of the table, parameters from `low` to `high` (k, 3) within 0..1.

    Lines and arcs use only the first parameter; a rapid has one an axis, from its start (0) to
    its end (1).
    """

    row: IntArray
    low: FloatArray
    high: FloatArray

    @classmethod
    def whole(cls, rows: IntArray) -> Spans:
        """The whole moves of those rows; their parameters, alike for all, are stored but once."""
        shape = (len(rows), 3)
        return cls(row=rows, low=np.broadcast_to(0.0, shape), high=np.broadcast_to(1.0, shape))

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Spans:
        """The spans chosen by an index or a mask, or, without a copy, by a slice."""
        return Spans(row=self.row[which], low=self.low[which], high=self.high[which])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """What the judge needs of spans (k,): the middle (k, 3) of each; the half way along a line or
    arc, or the half sides of a box (k, 3); `box` which is which; `bend` (k,), how far the span
    leaves its straight half ways; `radius` (k,), no point of the span is further from the middle.
    """

    middle: FloatArray
    half: FloatArray
    box: NDArray[np.bool_]
    bend: FloatArray
    radius: FloatArray

    def take(self, which: IntArray | slice) -> Places:
        """The places chosen by an index or a slice."""
        return Places(
            middle=self.middle[which],
            half=self.half[which],
            box=self.box[which],
            bend=self.bend[which],
            radius=self.radius[which],
        )

    def sway(self, direction: FloatArray) -> FloatArray:
        """(k, m) the most that a step within the span can go along directions (k, m, 3)."""
        x, y, z = (direction[..., axis] * self.half[:, axis, None] for axis in range(3))
        straight = np.abs(x + y + z)
        across = np.abs(x) + np.abs(y) + np.abs(z)
        # z goes evenly along an arc, so what bends away from the tangent is level.
        bend = self.bend[:, None] * np.hypot(direction[..., 0], direction[..., 1])
        sway = np.where(self.box[:, None], across, straight) + bend
        return np.asarray(sway, dtype=np.float64)


def places(table: MoveTable, spans: Spans) -> Places:
    """Middles and extents of spans of a table whose moves are all known."""
    row = spans.row
    middle_at, width = (spans.low + spans.high) / 2.0, spans.high - spans.low
    start, delta = table.start[row], table.end[row] - table.start[row]
    box = table.kind[row] == Kind.RAPID
    arc = np.flatnonzero(table.kind[row] == Kind.ARC)
    at = np.where(box[:, None], middle_at, middle_at[:, :1])
    middle = start + delta * at
    half = np.where(box[:, None], np.abs(delta) * width, delta * width[:, :1]) / 2.0
    radius = np.sqrt(np.einsum("ij,ij->i", half, half))
    bend = np.zeros(len(row))
    if arc.size:
        middle[arc] = table.at(row[arc], middle_at[arc, 0])
        half[arc], bend[arc], radius[arc] = _round(table, spans.take(arc))
    return Places(middle=middle, half=half, box=box, bend=bend, radius=radius)


def forward(table: MoveTable, spans: Spans, at: Places, direction: FloatArray) -> FloatArray:
    """(k, 3) the tips at the ends or corners of spans furthest along directions (k, 3)."""
    row = spans.row
    delta = table.end[row] - table.start[row]
    along = np.einsum("ij,ij->i", direction, at.half)[:, None]
    end = np.where(np.where(at.box[:, None], direction * delta, along) > 0.0, spans.high, spans.low)
    tips = table.start[row] + delta * np.where(at.box[:, None], end, end[:, :1])
    arc = np.flatnonzero(table.kind[row] == Kind.ARC)
    if arc.size:
        tips[arc] = table.at(row[arc], end[arc, 0])
    return tips


def _round(table: MoveTable, spans: Spans) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Half way along the tangent at the middle, bound of the rest (half the greatest second
    derivative times the square of the half width), and half the length, of arcs."""
    row, share = spans.row, (spans.low[:, 0] + spans.high[:, 0]) / 2.0
    width = (spans.high[:, 0] - spans.low[:, 0]) / 2.0
    first, last, angle = arc_radii(table, row)
    sweep, grown = table.arcs.of(row)[1], last - first
    radius, turned = first + grown * share, angle + sweep * share
    cos, sin = np.cos(turned), np.sin(turned)
    speed = np.stack(
        [
            grown * cos - radius * sweep * sin,
            grown * sin + radius * sweep * cos,
            table.end[row, 2] - table.start[row, 2],
        ],
        axis=1,
    )
    widest = np.maximum(first, last)
    bend = widest * sweep**2 + 2.0 * np.abs(grown * sweep)
    length = np.sqrt((widest * sweep) ** 2 + grown**2 + speed[:, 2] ** 2)
    return speed * width[:, None], bend * width**2 / 2.0, length * width


def arc_radii(table: MoveTable, row: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Radius at the start and at the end, and angle at the start, of arcs."""
    centre, _ = table.arcs.of(row)
    begin = table.start[row, :2] - centre
    finish = table.end[row, :2] - centre
    first, last = np.hypot(*begin.T), np.hypot(*finish.T)
    return first, last, np.arctan2(begin[:, 1], begin[:, 0])


def split(table: MoveTable, spans: Spans) -> tuple[Spans, Spans]:
    """Both halves of spans: boxes across their longest side."""
    row = spans.row
    extent = np.abs(table.end[row] - table.start[row]) * (spans.high - spans.low)
    axis = np.where(table.kind[row] == Kind.RAPID, extent.argmax(axis=1), 0)
    every = np.arange(len(row))
    middle = (spans.low[every, axis] + spans.high[every, axis]) / 2.0
    first_high, second_low = spans.high.copy(), spans.low.copy()
    first_high[every, axis] = middle
    second_low[every, axis] = middle
    return (
        Spans(row=row, low=spans.low, high=first_high),
        Spans(row=row, low=second_low, high=spans.high),
    )


def boxes(table: MoveTable) -> tuple[FloatArray, FloatArray]:
    """(n, 3) least and greatest tip position of each move; of an arc that of its full circle."""
    low, high = np.minimum(table.start, table.end), np.maximum(table.start, table.end)
    arc, centre = table.arcs.row, table.arcs.centre
    if arc.size:
        first, last, _ = arc_radii(table, arc)
        widest = np.maximum(first, last)[:, None]
        half = table.lengths()[arc][:, None] / 2.0 + np.abs(last - first)[:, None]
        middle = table.at(arc, np.full(len(arc), 0.5))[:, :2]
        low[arc, :2] = np.maximum(centre - widest, middle - half)
        high[arc, :2] = np.minimum(centre + widest, middle + half)
    return low, high
