"""Turning over and zeros: the one place that turns page frames into program frames."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from toolpath.drawing.outline import Region, arc_centre
from toolpath.job.model import Blank, Job, Side, TurnOver, Zero
from toolpath.motion.moves import Move, MoveTable

FloatArray = NDArray[np.float64]
Corner = tuple[float, float]

_ZERO_SHARE: dict[Zero, Corner] = {
    Zero.LOWER_LEFT: (0.0, 0.0),
    Zero.LOWER_RIGHT: (1.0, 0.0),
    Zero.UPPER_LEFT: (0.0, 1.0),
    Zero.UPPER_RIGHT: (1.0, 1.0),
    Zero.CENTRE: (0.5, 0.5),
}


def bounds_of(region: Region) -> tuple[Corner, Corner]:
    """Lower-left and upper-right of the box round a region, arcs by their true extremes."""
    points = region.outer.points
    ends = np.roll(points[:, :2], -1, axis=0)
    extremes = [points[:, :2]]
    for (x, y, bulge), end in zip(points, ends, strict=True):
        if bulge != 0.0:
            extremes.append(_compass_points(np.array([x, y]), end, float(bulge)))
    every = np.concatenate(extremes)
    low, high = every.min(axis=0), every.max(axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _compass_points(start: FloatArray, end: FloatArray, bulge: float) -> FloatArray:
    """Where an arc passes right, top, left and bottom of its centre (k, 2)."""
    centre, radius = arc_centre(start, end, bulge)
    sweep = 4.0 * math.atan(bulge)
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    compass = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    turn = np.mod((np.arange(4) * (math.pi / 2) - first) * math.copysign(1.0, sweep), 2 * math.pi)
    return np.asarray(centre + radius * compass[turn <= abs(sweep)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The program frame of a face against its page frame and the blank frame.

    Page frame: x, y of the blank frame, z above that face. Program frame: as seen at the
    machine, program = scale * page + shift in x and y, z the same. Seen from the back all is
    a mirror image (`mirrored`), so loops run the other way round there.
    """

    scale: Corner
    shift: Corner

    @classmethod
    def of(cls, job: Job, side: Side) -> Frame:
        """The frame of a face of a job, with that face's zero (lower-left if it names none)."""
        zero = job.zero.get(side, Zero.LOWER_LEFT)
        return cls.of_blank(job.blank, side, zero)

    @classmethod
    def of_blank(cls, blank: Blank, side: Side, zero: Zero) -> Frame:
        """The frame of a face of a blank with its zero at a corner of the blank's box."""
        low, high = bounds_of(blank.outline)
        turned = (
            side is Side.BACK and blank.turn_over is TurnOver.LEFT_RIGHT,
            side is Side.BACK and blank.turn_over is TurnOver.TOP_BOTTOM,
        )
        scale = tuple(-1.0 if over else 1.0 for over in turned)
        shift = tuple(
            (h if over else -lo) - share * (h - lo)
            for lo, h, over, share in zip(low, high, turned, _ZERO_SHARE[zero], strict=True)
        )
        return cls(
            scale=(scale[0], scale[1]),
            shift=(shift[0], shift[1]),
        )

    @property
    def mirrored(self) -> bool:
        """Whether the program frame is a mirror image of the page frame."""
        return self.scale[0] * self.scale[1] < 0.0

    def xy_to_program(self, xy: FloatArray) -> FloatArray:
        """(n, 2) page positions in the program frame."""
        return np.asarray(xy, dtype=np.float64) * self.scale + self.shift

    def xy_to_page(self, xy: FloatArray) -> FloatArray:
        """(n, 2) program positions in the page frame."""
        return (np.asarray(xy, dtype=np.float64) - self.shift) * self.scale

    def to_program(self, moves: Iterable[Move]) -> tuple[Move, ...]:
        """Planned moves (page frame) as they stand in the program; arcs turn over if mirrored."""
        return tuple(self._move_to_program(move) for move in moves)

    def _move_to_program(self, move: Move) -> Move:
        return replace(
            move,
            start=(*self._pair(move.start[0], move.start[1]), move.start[2]),
            end=(*self._pair(move.end[0], move.end[1]), move.end[2]),
            centre=self._pair(*move.centre),
            sweep=-move.sweep if self.mirrored else move.sweep,
        )

    def _pair(self, x: float, y: float) -> Corner:
        return self.scale[0] * x + self.shift[0], self.scale[1] * y + self.shift[1]

    def table_to_page(self, table: MoveTable) -> MoveTable:
        """Moves read from a program in the page frame; unknown coordinates stay NaN."""
        return replace(
            table,
            start=np.column_stack([self.xy_to_page(table.start[:, :2]), table.start[:, 2]]),
            end=np.column_stack([self.xy_to_page(table.end[:, :2]), table.end[:, 2]]),
            arcs=replace(
                table.arcs,
                centre=self.xy_to_page(table.arcs.centre),
                sweep=-table.arcs.sweep if self.mirrored else table.arcs.sweep,
            ),
        )
