"""A closed path of lines and arcs, walked by the distance from where it begins.

Frame: x, y of the blank frame, millimetres. Distances may run on past the end: it is closed.
"""

from __future__ import annotations

import math
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.curves import Curve, curve_of

FloatArray = NDArray[np.float64]

KINK = math.radians(30.0)
"""A vertex that turns by more is a corner."""


class Circuit:
    """Edges (k, 3) x, y, bulge of a closed path, the last one leading back to the first."""

    def __init__(self, edges: FloatArray) -> None:
        rows = np.asarray(edges, dtype=np.float64)
        after = np.roll(rows[:, :2], -1, axis=0)
        keep = np.hypot(*(after - rows[:, :2]).T) > 0.0
        self.edges = rows[keep]
        self._start = self.edges[:, 0] + 1j * self.edges[:, 1]
        self._chord = np.roll(self._start, -1) - self._start
        self._sweep = 4.0 * np.arctan(self.edges[:, 2])
        half = self._sweep / 2.0
        lengths = np.abs(self._chord) / np.sinc(half / np.pi)
        self._reach = np.concatenate([[0.0], np.cumsum(lengths)])

    @property
    def length(self) -> float:
        """Once round, mm."""
        return float(self._reach[-1])

    @property
    def ends(self) -> FloatArray:
        """(k,) distances at which its edges end."""
        return self._reach[1:]

    @property
    def curve(self) -> Curve:
        """The whole of it, closed."""
        return curve_of(self.edges, closed=True)

    def at(self, where: FloatArray) -> FloatArray:
        """(n, 2) points at distances (n,) along it."""
        edge, share = self._edge_at(where)
        return _pairs(self._on(edge, share))

    def points(self, step: float) -> FloatArray:
        """(n, 2) points along it about `step` apart and all ends of its edges, not closed."""
        count = max(8, math.ceil(self.length / step))
        where = evenly(self.length, count)
        return self.at(np.unique(np.concatenate([where, self._reach[:-1]])))

    def turning(self, where: FloatArray) -> FloatArray:
        """(n,) by how much it has turned, either way, from its beginning to each distance,
        radians; corners count at once."""
        edge, share = self._edge_at(where)
        rounds = np.floor(np.asarray(where) / self.length)
        before = np.concatenate([[0.0], np.cumsum(np.abs(self._sweep))])
        kinks = np.cumsum(self._kinks)
        once = float(before[-1] + kinks[-1])
        turned = before[edge] + kinks[edge] + share * np.abs(self._sweep[edge])
        return np.asarray(turned + rounds * once, dtype=np.float64)

    @property
    def corners(self) -> FloatArray:
        """Distances of its true corners."""
        return self._reach[:-1][self._kinks > KINK]

    def begun_at(self, place: float) -> Circuit:
        """The same path from another beginning."""
        if not ALLOWANCES.same < place % self.length < self.length - ALLOWANCES.same:
            return self
        place %= self.length
        return Circuit(self.part(place, place + self.length)[:-1])

    def part(self, first: float, last: float) -> FloatArray:
        """Edges (m, 3) from one distance to another, at most once round further; the last row,
        bulge 0, is its end."""
        ends = self._cuts(first, last)
        rows = []
        for low, high in pairwise(ends.tolist()):
            edge, share = self._edge_at(np.array([(low + high) / 2.0]))
            i, size = int(edge[0]), self._reach[edge[0] + 1] - self._reach[edge[0]]
            begin = float(share[0]) - (high - low) / 2.0 / size
            spot = self._on(edge, np.array([max(0.0, begin)]))[0]
            rows.append((spot.real, spot.imag, math.tan(self._sweep[i] * (high - low) / size / 4)))
        end = self.at(np.array([last]))[0]
        rows.append((float(end[0]), float(end[1]), 0.0))
        return np.array(rows, dtype=np.float64)

    def nearest(self, point: FloatArray) -> float:
        """The distance along it of its point nearest to a point (2,), to 0.001 mm."""
        where, step = evenly(self.length, 512), self.length / 512.0
        while step > 1e-3:
            gap = np.hypot(*(self.at(where) - point).T)
            best = float(where[int(gap.argmin())])
            where, step = best + np.linspace(-step, step, 41), step / 20.0
        return float(where[int(np.hypot(*(self.at(where) - point).T).argmin())]) % self.length

    @cached_property
    def _kinks(self) -> FloatArray:
        """(k,) by how much it turns where each edge begins, radians."""
        heading = np.angle(self._chord)
        turn = (heading - self._sweep / 2.0) - np.roll(heading + self._sweep / 2.0, 1)
        return np.asarray(np.abs(np.remainder(turn + np.pi, 2.0 * np.pi) - np.pi))

    def _cuts(self, first: float, last: float) -> FloatArray:
        """Distances at which a part is cut into edges."""
        marks = np.concatenate([self._reach[:-1], self._reach[:-1] + self.length])
        slack = ALLOWANCES.same
        inside = marks[(marks > first + slack) & (marks < last - slack)]
        return np.concatenate([[first], inside, [last]])

    def _edge_at(self, where: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """The edge at each distance, and the share of it that lies before."""
        rest = np.mod(where, self.length)
        edge = np.searchsorted(self._reach, rest, side="right") - 1
        edge = np.clip(edge, 0, len(self.edges) - 1)
        size = self._reach[edge + 1] - self._reach[edge]
        return edge, np.clip((rest - self._reach[edge]) / size, 0.0, 1.0)

    def _on(self, edge: NDArray[np.intp], share: FloatArray) -> NDArray[np.complex128]:
        """Points on edges. A chord from the start of an arc of angle a to a share f of it is its
        chord times sin(f a / 2) / sin(a / 2), turned by (f - 1) a / 2 (elementary)."""
        half = self._sweep[edge] / 2.0
        bent = half != 0.0
        safe = np.where(bent, half, 1.0)
        ratio = np.where(bent, np.sin(share * safe) / np.sin(safe), share)
        turned = np.exp(1j * (share - 1.0) * half)
        spot = self._start[edge] + self._chord[edge] * ratio * turned
        return np.asarray(np.where(share == 0.0, self._start[edge], spot), dtype=np.complex128)


def evenly(length: float, count: int) -> FloatArray:
    """(count,) distances spread evenly over a closed length, from 0."""
    return np.asarray(np.arange(count) * (length / count), dtype=np.float64)


def backward(part: FloatArray) -> FloatArray:
    """The edges (m, 3) of an open path, as `Circuit.part` gives them, walked the other way."""
    bulges = np.append(-part[-2::-1, 2], 0.0)
    return np.column_stack([part[::-1, :2], bulges])


def _pairs(spots: NDArray[np.complex128]) -> FloatArray:
    return np.column_stack([spots.real, spots.imag])
