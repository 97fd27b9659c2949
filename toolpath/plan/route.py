"""Moves one after another: the tip's way through the page frame of a face.

Frame: x, y of the blank frame, z = height above the face, millimetres. Rapids go up, across or
down, never slanting; across only as high as what stands there calls for. Feed moves never sink
faster than the cutter's plunge feed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from toolpath.job.model import Cut, Cutter, Job, Machine
from toolpath.motion.arcfit import moves_along
from toolpath.motion.moves import Kind, Move, Point
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.crossing import Crossing
from toolpath.plan.curves import Curve, total_length
from toolpath.plan.levels import clear_height


class Route:
    """The moves so far. It begins without a move at the height `safe`, over the first place that
    it crosses to (or over `start`), and ends there too (`done`); between, rapids cross as low as
    `crossing` lets them, or at `safe` if there is none.
    """

    def __init__(
        self,
        *,
        cutter: Cutter,
        machine: Machine,
        safe: float,
        start: tuple[float, float],
        crossing: Crossing | None = None,
    ) -> None:
        self.cutter, self.safe, self.crossing = cutter, safe, crossing
        self.low = crossing.low if crossing else safe
        self.feed = min(cutter.feed, machine.feed_max)
        self.plunge = min(cutter.plunge, self.feed)
        self.at: Point = (float(start[0]), float(start[1]), safe)
        self.moves: list[Move] = []
        self.notes: list[str] = []
        self.clear_every, self.busy = 0.0, 0.0
        self.pauses: list[int] = []

    @classmethod
    def on(cls, job: Job, cut: Cut, cutter: Cutter) -> Route:
        """A route of a cut over its face; it begins where it first crosses to."""
        route = cls(
            cutter=cutter,
            machine=job.machine,
            safe=clear_height(job, cut.face),
            start=(0.0, 0.0),
            crossing=Crossing.of(job, cut.face, cutter),
        )
        route.clear_every = cut.clear_chips
        return route

    @property
    def due(self) -> bool:
        """Whether chips are to be cleared at the next end of a pass."""
        return 0.0 < self.clear_every <= self.busy

    @property
    def lifts(self) -> int:
        """How often it went up to where rapids cross."""
        return sum(
            move.kind is Kind.RAPID and move.end[2] >= self.low > move.start[2]
            for move in self.moves
        )

    def note(self, text: str) -> None:
        """Something a maker should know of these moves, said once."""
        if text and text not in self.notes:
            self.notes.append(text)

    def lift(self) -> None:
        """Straight up by rapid to where rapids cross, if it is lower; where chips are to be
        cleared up to the safe height, and a pause there."""
        self._rapid((*self.at[:2], max(self.low, self.at[2])))
        if self.due:
            self._rapid((*self.at[:2], max(self.safe, self.at[2])))
            self.pauses.append(len(self.moves))
            self.busy = 0.0

    def done(self) -> tuple[Move, ...]:
        """Up to the safe height; all moves."""
        if self.moves:
            self._rapid((*self.at[:2], self.safe))
        self.pauses = [count for count in self.pauses if count < len(self.moves)]
        return tuple(self.moves)

    def rapid_z(self, z: float) -> None:
        """Straight up or down by rapid."""
        self._rapid((*self.at[:2], z))

    def cross(self, x: float, y: float) -> None:
        """Up, and across by rapid."""
        self.lift()
        self.over(x, y)

    def over(self, x: float, y: float) -> None:
        """Across by rapid at the height where it is, or higher over a clamp, or round it."""
        end = (float(x), float(y))
        if not self.moves:
            self.at = (*end, self.at[2])
            return
        if self.crossing is None or math.dist(self.at[:2], end) <= ALLOWANCES.same:
            self._rapid((*end, self.at[2]))
            return
        way = self.crossing.way(self.at[:2], end)
        self._rapid((*self.at[:2], max(way.height, self.at[2])))
        for point in way.points:
            self._rapid((*point, self.at[2]))

    def sink(self, z: float) -> None:
        """Straight down through air, or into a drilled hole, at the plunge feed."""
        self._feed_to((*self.at[:2], z), self.plunge)

    def straight(self, x: float, y: float, z: float) -> None:
        """A straight feed move."""
        end = (float(x), float(y), z)
        across = math.hypot(end[0] - self.at[0], end[1] - self.at[1])
        self._feed_to(end, self._feed_for(across, z - self.at[2]))

    def stands_over(self, spot: tuple[float, float]) -> bool:
        """Whether it is at a place in plan."""
        return math.dist(self.at[:2], spot) <= ALLOWANCES.same

    def end_higher(self, z: float) -> None:
        """Let the last feed move end at a height above that at which it ends, if it comes from
        elsewhere: a rise by itself would stop the cutter twice."""
        end = (*self.at[:2], z)
        if not self.moves or self.moves[-1].kind is Kind.RAPID:
            return
        last = self.moves[-1]
        if math.dist(last.start, end) <= ALLOWANCES.same:
            return
        self.moves[-1] = replace(last, end=end)
        self.at = end

    def turn(self, centre: tuple[float, float], sweep: float, z: float) -> None:
        """Half turns and a rest about `centre`, z changing evenly to `z` (a helix)."""
        halves = max(1, math.ceil(abs(sweep) / math.pi - ALLOWANCES.same))
        x, y, first = self.at
        radius = math.hypot(x - centre[0], y - centre[1])
        angle = math.atan2(y - centre[1], x - centre[0])
        for i in range(1, halves + 1):
            heading = angle + sweep * i / halves
            end = (centre[0] + radius * math.cos(heading), centre[1] + radius * math.sin(heading))
            height = z if i == halves else first + (z - first) * i / halves
            self._turn_part(centre, sweep / halves, (*end, height))

    def along(self, curves: Sequence[Curve], z: float) -> None:
        """Along curves that begin where it is, one after another, z going evenly to `z`."""
        first, total, done = self.at[2], total_length(curves), 0.0
        feed = self._feed_for(total, z - first)
        for i, curve in enumerate(curves, start=1):
            done += curve.length
            height = z if i == len(curves) else first + (z - first) * done / total
            self._take(moves_along(curve.edges, self.at[2], height, feed, closed=curve.closed))

    def _turn_part(self, centre: tuple[float, float], sweep: float, end: Point) -> None:
        radius = math.hypot(end[0] - centre[0], end[1] - centre[1])
        self._take(
            (
                Move(
                    kind=Kind.ARC,
                    start=self.at,
                    end=end,
                    centre=centre,
                    sweep=sweep,
                    feed=self._feed_for(radius * abs(sweep), end[2] - self.at[2]),
                ),
            )
        )

    def _feed_for(self, across: float, rise: float) -> float:
        """The feed at which a move sinks no faster than the plunge feed."""
        if rise >= 0:
            return self.feed
        return min(self.feed, self.plunge * math.hypot(across, rise) / -rise)

    def _feed_to(self, end: Point, feed: float) -> None:
        if math.dist(self.at, end) > ALLOWANCES.same:
            self._take((Move(kind=Kind.LINE, start=self.at, end=end, feed=feed),))

    def _rapid(self, end: Point) -> None:
        if math.dist(self.at, end) <= ALLOWANCES.same:
            return
        start = self.at
        if self._rising(end):
            start = self.moves.pop().start
        self._take((Move(kind=Kind.RAPID, start=start, end=end),))

    def _rising(self, end: Point) -> bool:
        """Whether a rapid to there only goes on with the rise of the last one."""
        if not self.moves or self.moves[-1].kind is not Kind.RAPID:
            return False
        last = self.moves[-1].start
        return last[:2] == self.at[:2] == end[:2] and last[2] < self.at[2] < end[2]

    def _take(self, moves: tuple[Move, ...]) -> None:
        self.moves.extend(moves)
        self.busy += sum(60.0 * move.length / move.feed for move in moves if move.feed)
        if moves:
            self.at = moves[-1].end
