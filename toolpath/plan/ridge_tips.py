"""Where the tip must go to take down what stands too high.

Frame: page frame of the face, millimetres. On smooth ground a cutter touches a place from beside
it, by as much as its form says (elementary geometry); in corners that it fits into badly the lowest
of many tips about the place is looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from toolpath.field.carve import Nodes
from toolpath.field.drop import Form
from toolpath.job.cusps import plan_step
from toolpath.plan.stripes import STEEPEST
from toolpath.plan.target import Target, form_of, rise

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]

_TOUCHES = 0.1
"""A tip touches the ground if it leaves less than this share of what may stand."""
_GRID = 0.1
"""Tips about a place lie so far apart, mm, then a fifth of that."""
_MOST_CORNERS = 4000
"""Places in corners that are looked at in one round, the highest first."""
_AT_ONCE = 400
_RIM, _ANGLES = 0.01, 48
"""The rim of a level end is held so far past a place, mm, from so many sides."""
_CLOSER = 0.5
"""... and lines go nearer by such tips by this share: a little off, they rise up the wall."""
_LOW = 0.01
"""Of tips from which a straight flank leaves as good as the same, the lowest takes more besides: so
much may be left for a tip that is lower by 1."""
_WALL = 0.97
"""Further out than this share of its radius a round end is as steep as a wall."""
_PARTS = 4.0
"""Places lie this many to a pass."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tall:
    """Nodes (n,) that stand too high: `row` and `column`, where they are, what stands there, the
    ground, its slope and which way it rises (n, 2)."""

    row: IntArray = field(repr=False)
    column: IntArray = field(repr=False)
    xy: FloatArray = field(repr=False)
    z: FloatArray = field(repr=False)
    ground: FloatArray = field(repr=False)
    slope: FloatArray = field(repr=False)
    up: FloatArray = field(repr=False)

    def __len__(self) -> int:
        return len(self.z)

    @classmethod
    def joined(cls, parts: Sequence[Tall]) -> Tall:
        """All of several."""
        if not parts:
            none = np.empty(0)
            few = np.empty(0, dtype=np.intp)
            return cls(
                row=few, column=few, xy=np.empty((0, 2)), z=none, ground=none, slope=none,
                up=np.empty((0, 2)),
            )  # fmt: skip
        return cls(
            row=np.concatenate([p.row for p in parts]),
            column=np.concatenate([p.column for p in parts]),
            xy=np.concatenate([p.xy for p in parts]),
            z=np.concatenate([p.z for p in parts]),
            ground=np.concatenate([p.ground for p in parts]),
            slope=np.concatenate([p.slope for p in parts]),
            up=np.concatenate([p.up for p in parts]),
        )

    def take(self, which: IntArray | BoolArray) -> Tall:
        """Some of them."""
        return Tall(
            row=self.row[which],
            column=self.column[which],
            xy=self.xy[which],
            z=self.z[which],
            ground=self.ground[which],
            slope=self.slope[which],
            up=self.up[which],
        )

    def at(self, nodes: Nodes) -> Tall:
        """As they stand now."""
        return replace(self, z=nodes.z[self.row, self.column])

    def higher_than(self, allowed: FloatArray) -> Tall:
        """Those that stand higher."""
        return self.take(self.z > allowed)

    def thinned(self, apart: FloatArray) -> IntArray:
        """The highest of each small square, whose side is `apart` (n,) or up to twice less."""
        over = (self.z - self.ground) / np.hypot(1.0, self.slope)
        order = np.argsort(-over, kind="stable")
        scale = np.floor(np.log2(apart))
        cell = np.floor(self.xy / 2.0 ** scale[:, None])
        keys = np.column_stack([scale, cell])[order]
        _, first = np.unique(keys, axis=0, return_index=True)
        return np.asarray(order[np.sort(first)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tips:
    """Where the tip should go, (n, 2), the place that it takes down from there, and how far apart
    passes may lie (n,), mm; the highest first."""

    xy: FloatArray
    over: FloatArray
    apart: FloatArray


def tips_for(tall: Tall, target: Target, limit: float) -> Tips:
    """Tips that take down what stands more than `limit` over what the cutter can leave."""
    apart = plan_step(target.cutter, limit, np.minimum(tall.slope, STEEPEST))
    few = tall.thinned(apart / _PARTS)
    tall, apart = tall.take(few), apart[few]
    if not len(tall):
        return Tips(xy=np.empty((0, 2)), over=tall.xy, apart=apart)
    form = form_of(target.cutter)
    tip, reach = _beside(tall, target, form)
    steep = np.array(tall.slope)
    corner = reach > tall.ground + _TOUCHES * limit * np.hypot(1.0, tall.slope)
    which = np.flatnonzero(corner)[:_MOST_CORNERS]
    reach[corner] = np.inf
    if len(which):
        tip[which], reach[which] = _about(tall.xy[which], target, form)
        if form.flat > 0.0:
            rim, least = _at_rim(tall.xy[which], target, form)
            lower = least < reach[which] - limit
            tip[which[lower]], reach[which[lower]] = rim[lower], least[lower]
            apart[which[lower]] *= _CLOSER
        which = which[tall.z[which] > reach[which] + limit]
    if len(which):
        tip[which], reach[which] = _nearer(tall.xy[which], tip[which], target, form)
        away = np.hypot(*(tip[which] - tall.xy[which]).T)
        steep[which] = np.maximum(steep[which], _rise_at(form, away))
    keep = tall.z > reach + limit * np.hypot(1.0, steep)
    keep &= shapely.contains_xy(target.roam, tip[:, 0], tip[:, 1])
    return Tips(xy=tip[keep], over=tall.xy[keep], apart=apart[keep])


def _beside(tall: Tall, target: Target, form: Form) -> tuple[FloatArray, FloatArray]:
    """Tips from which a cutter touches smooth ground at places, and what it leaves there."""
    off = form.corner * tall.slope / np.hypot(1.0, tall.slope)
    rising = tall.slope > 1e-3
    off = np.where(rising, off + form.flat, 0.0)
    toward = tall.up / np.maximum(tall.slope, 1e-12)[:, None]
    tip = tall.xy - toward * off[:, None]
    return tip, target.found(tip).tips + rise(form, off * (1.0 - 1e-9))


def _rise_at(form: Form, r: FloatArray) -> FloatArray:
    """How steep a cutter is at a radius: beyond all measure where its round end ends in a wall."""
    off = np.maximum(r - form.flat, 0.0)
    if form.corner > 0.0:
        steep = off / np.sqrt(np.maximum(form.corner**2 - off**2, 1e-12))
        return np.asarray(np.where(off > _WALL * form.corner, np.inf, steep), dtype=np.float64)
    return np.asarray(np.where(off > 0.0, form.slope, 0.0), dtype=np.float64)


def _about(xy: FloatArray, target: Target, form: Form) -> tuple[FloatArray, FloatArray]:
    """The tips (n, 2) of a grid about places from which a cutter leaves the least there, and how
    much."""
    grid = min(_GRID, form.radius / 8.0)
    low = xy.min(axis=0) - form.radius - 2.0 * grid
    size = np.ceil((xy.max(axis=0) + form.radius + 2.0 * grid - low) / grid).astype(np.intp) + 1
    steps = _disc(form.radius / grid + 1.0)
    home = np.rint((xy - low) / grid).astype(np.intp)
    far = np.ones((size[1], size[0]), dtype=np.bool_)
    far[home[:, 1], home[:, 0]] = False
    row, column = np.nonzero(ndimage.distance_transform_edt(far) <= form.radius / grid + 1.0)
    tips = np.full(far.shape, np.inf)
    tips[row, column] = _tips_at(low + np.column_stack([column, row]) * grid, target)
    found, least = np.empty_like(xy), np.empty(len(xy))
    for first in range(0, len(xy), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        at = home[some, None, :] + steps
        heights = tips[at[..., 1], at[..., 0]]
        found[some], least[some] = _least(xy[some], low + at * grid, heights, form)
    return found, least


def _at_rim(xy: FloatArray, target: Target, form: Form) -> tuple[FloatArray, FloatArray]:
    """The same of tips whose level end ends just past a place: at the foot of a wall there is room
    for few others."""
    angle = np.linspace(0.0, 2.0 * np.pi, _ANGLES, endpoint=False)
    ring = (form.flat - min(_RIM, form.flat / 2.0)) * np.column_stack(
        [np.cos(angle), np.sin(angle)]
    )
    spots = xy[:, None, :] + ring
    tips = _tips_at(spots.reshape(-1, 2), target).reshape(len(xy), -1)
    return _least(xy, spots, tips, form)


def _disc(radius: float) -> IntArray:
    """(n, 2) whole steps within a radius."""
    most = int(np.ceil(radius))
    steps = np.stack(np.meshgrid(*[np.arange(-most, most + 1)] * 2), axis=-1).reshape(-1, 2)
    return np.asarray(steps[np.hypot(*steps.T) <= radius], dtype=np.intp)


def _nearer(
    xy: FloatArray, tip: FloatArray, target: Target, form: Form
) -> tuple[FloatArray, FloatArray]:
    """The same from close about the tips found so far, then from closer."""
    grid = min(_GRID, form.radius / 8.0)
    for apart in (grid / 4.0, grid / 16.0):
        spots = tip[:, None, :] + _disc(3.0) * apart
        tips = _tips_at(spots.reshape(-1, 2), target).reshape(len(xy), -1)
        tip, left = _least(xy, spots, tips, form)
    return tip, left


def _least(
    xy: FloatArray, spots: FloatArray, tips: FloatArray, form: Form
) -> tuple[FloatArray, FloatArray]:
    away = np.hypot(spots[..., 0] - xy[:, None, 0], spots[..., 1] - xy[:, None, 1])
    left = tips + rise(form, away)
    best = (left + _LOW * tips).argmin(axis=1)
    every = np.arange(len(xy))
    return spots[every, best], left[every, best]


def _tips_at(places: FloatArray, target: Target) -> FloatArray:
    tips = np.full(len(places), np.inf)
    inside = shapely.contains_xy(target.roam, places[:, 0], places[:, 1])
    tips[inside] = target.found(places[inside]).tips
    return np.where(np.isfinite(tips), tips, np.inf)
