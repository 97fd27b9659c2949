"""The engaged angle along an emitted program, replayed on a raster: shares no code with toolpath.

Program frame, millimetres, degrees. The stock is a height for each cell of 0.05 mm. At places
every 0.05 mm along the path the rim of the cutter is looked at, degree by degree over its leading
half, just inside its true radius: engaged is what stands there above the tip. The stock is taken
as it was `LAG` mm of path before, since a chip of no length has no thickness. Chips thinner than
a cell are not seen. Along straight fronts the angle is right
to 1.2 degrees (tests/plan/test_bounded.py).
"""

import math
from dataclasses import dataclass

import numpy as np
from independent import read
from numba import njit

CELL = 0.05
STEP = 0.05
LAG = 0.25
INSET = 0.03
ABOVE = 0.02
"""What stands no more than this above the tip is floor."""
NEAR_ENTRY = 0.05
"""Level moves this near in plan to the way down just made are its closing turn."""


@dataclass
class Trace:
    """What was met at each place: (n,) arrays; `entry` marks ways down and their closing turns."""

    spots: np.ndarray
    angle: np.ndarray
    length: np.ndarray
    entry: np.ndarray
    rapid: np.ndarray

    @property
    def cutting(self):
        return (self.angle > 0) & ~self.entry & ~self.rapid

    def share_within(self, angle):
        """Share of the cutting length, entries left out, whose engaged angle is at most that."""
        cut = self.cutting
        return float(self.length[cut & (self.angle <= angle)].sum() / self.length[cut].sum())

    @property
    def worst(self):
        return float(self.angle[self.cutting].max(initial=0.0))

    def worst_place(self):
        """x, y, z where it is worst."""
        return self.spots[int(np.where(self.cutting, self.angle, -1.0).argmax())]

    @property
    def engaged_length(self):
        return float(self.length[self.cutting].sum())

    @property
    def feed_length(self):
        """Of all but rapids, mm."""
        return float(self.length[~self.rapid].sum())


@dataclass
class Block:
    """What stands, for programs that run one after another in the same frame."""

    low: np.ndarray
    stock: np.ndarray

    @classmethod
    def over(cls, x0, y0, x1, y1, top=0.0):
        """All of a rectangle in plan, up to height `top`."""
        columns, rows = (math.ceil((x1 - x0) / CELL), math.ceil((y1 - y0) / CELL))
        return cls(np.array([x0, y0]), np.full((rows, columns), top, dtype=np.float32))

    @classmethod
    def round(cls, spots, radius, top):
        """Room for a cutter at all of (n, 3) places."""
        low, high = spots[:, :2].min(axis=0), spots[:, :2].max(axis=0)
        return cls.over(*(low - radius - 1.0), *(high + radius + 1.0), top)


def trace(text, radius, top=0.0, block=None):
    """The trace of a program that starts in stock whose top is at height `top`, or in a `block`,
    which is cut then."""
    spots, rapid = _places(text)
    block = block or Block.round(spots, radius, top)
    length = np.concatenate([[0.0], np.sqrt((np.diff(spots, axis=0) ** 2).sum(axis=1))])
    angle = np.zeros(len(spots))
    where = np.ascontiguousarray((spots[:, :2] - block.low) / CELL)
    _replay(block.stock, where, spots[:, 2].copy(), rapid, radius / CELL, angle)
    return Trace(
        spots=spots,
        angle=angle,
        length=length,
        entry=_entries(spots, angle, rapid),
        rapid=rapid,
    )


def _places(text):
    """(n, 3) places along all moves, and whether a rapid leads to each."""
    found, rapid = [], []
    for move in read(text):
        points = move.points
        size = np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1))
        reach = np.concatenate([[0.0], np.cumsum(size)])
        if reach[-1] == 0.0:
            continue
        step = 1.0 if move.rapid else STEP
        at = np.linspace(0.0, reach[-1], max(1, math.ceil(reach[-1] / step)) + 1)[1:]
        if not found:
            found.append(points[:1])
            rapid.append(np.ones(1, dtype=bool))
        found.append(np.stack([np.interp(at, reach, points[:, k]) for k in range(3)], axis=1))
        rapid.append(np.full(len(at), move.rapid))
    return np.concatenate(found), np.concatenate(rapid)


def _entries(spots, angle, rapid):
    """Places that go down in stock, and the level ones after them on the same way in plan."""
    down = np.zeros(len(spots), dtype=bool)
    down[1:] = (np.diff(spots[:, 2]) < -1e-9) & ~rapid[1:]
    entry = down & (angle > 0)
    rows = np.flatnonzero(down)
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 40) + 1):
        if not entry[run].any():
            continue
        entry[run[0] : run[-1] + 1] = True
        way = spots[run[0] : run[-1] + 1, :2]
        at = run[-1] + 1
        while at < len(spots) and not rapid[at]:
            if ((way - spots[at, :2]) ** 2).sum(axis=1).min() > NEAR_ENTRY**2:
                break
            entry[at] = True
            at += 1
    return entry


@njit
def _replay(stock, where, z, rapid, radius, angle):
    lag = round(LAG / STEP)
    rim = radius - INSET / CELL
    side = math.ceil(math.degrees(math.asin(INSET / LAG))) + 1
    done = 0
    met = np.zeros(181, dtype=np.bool_)
    for i in range(1, len(where)):
        hx, hy = where[i, 0] - where[i - 1, 0], where[i, 1] - where[i - 1, 1]
        size = math.hypot(hx, hy)
        upto = i - lag if not rapid[i] else i
        while done < upto:
            _clear(stock, where[done, 0], where[done, 1], z[done], radius)
            done += 1
        if size == 0.0:
            continue
        heading = math.atan2(hy, hx)
        for k in range(181):
            a = heading + math.radians(k - 90.0)
            column = int(where[i, 0] + rim * math.cos(a))
            row = int(where[i, 1] + rim * math.sin(a))
            met[k] = stock[row, column] > z[i] + ABOVE
        for k in range(side):
            met[k] = met[side]
            met[180 - k] = met[180 - side]
        angle[i] = met.sum()
    while done < len(where):
        _clear(stock, where[done, 0], where[done, 1], z[done], radius)
        done += 1


@njit
def _clear(stock, x, y, z, radius):
    for row in range(int(y - radius), int(y + radius) + 1):
        dy = row + 0.5 - y
        span = radius * radius - dy * dy
        if span <= 0.0:
            continue
        half = math.sqrt(span)
        for column in range(math.ceil(x - half - 0.5), math.floor(x + half - 0.5) + 1):
            if stock[row, column] > z:
                stock[row, column] = z
