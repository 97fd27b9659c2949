"""The feed of each move from how wide the cutter is engaged in it.

Sources: the thinning of the chip from the geometry of a peripheral cut (H. El-Hofy, Fundamentals
of Machining Processes, 2nd ed., 6.3.1); the feed at the rim from the geometry of an arc.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]

THINNEST = 0.05
"""Engaged width over the diameter down to which the feed rises, to 2.29 times; with less it stays
there (common practice, no source)."""

SLOT_SHARE = 0.65
"""What is left of the feed in a full-width move a whole stepdown deep: 30 to 40 % less (common
practice, no source). Of a shallower one more is left, in proportion."""

SAME = 0.05
"""Feeds that differ by no more than this share are one F word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedRules:
    """What the feeds of a cutter may be, mm and mm/min.

    `keep_chip`: feeds rise where the chip gets thin, up to `most`; else none ever rises.
    `least` is the feed under which it rubs: nothing is slowed below it. `plunge` is how fast it
    may sink.
    """

    diameter: float
    keep_chip: bool
    most: float
    least: float
    plunge: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Engagement:
    """What n moves take: the engaged width, mm, 0 in air; how deep a slot it is, in stepdowns, 0
    where it is none; and whether an arc has its material on the outside, where the rim is faster
    than the centre.
    """

    width: FloatArray
    slot: FloatArray
    outside: NDArray[np.bool_]


def thinning(share: FloatArray) -> FloatArray:
    """Greatest thickness of the chip over the feed a tooth, by engaged width over diameter x:
    2 sqrt(x (1 - x)) up to x = 1/2, and 1 from there on."""
    x = np.clip(share, 0.0, 0.5)
    return np.asarray(2.0 * np.sqrt(x * (1.0 - x)), dtype=np.float64)


def slot_share(depth: FloatArray) -> FloatArray:
    """What is left of the feed at full width, by depth over the stepdown; 1 where that is 0."""
    return np.asarray(1.0 - (1.0 - SLOT_SHARE) * np.clip(depth, 0.0, 1.0), dtype=np.float64)


def rim_share(radius: FloatArray, cutter_radius: float) -> FloatArray:
    """The feed of the centre over that of the rim outside it, on an arc of the centre: r/(r + R).
    1 on straight moves (radius infinite)."""
    radius = np.asarray(radius, dtype=np.float64)
    straight = np.isinf(radius)
    safe = np.where(straight, 1.0, radius)
    return np.where(straight, 1.0, safe / (safe + cutter_radius))


def feeds_for(table: MoveTable, engaged: Engagement, rules: FeedRules) -> FloatArray:
    """(n,) feeds for moves whose feeds are those of a cutter in half its width or more.

    Raised where the chip is thin and to be kept, lowered in slots and on arcs whose outside is
    cut; moves in air stay as they are, rapids are 0. Neighbours that differ by no more than
    `SAME` get the lower of their feeds.
    """
    feed = table.feed.copy()
    if rules.keep_chip:
        share = np.maximum(engaged.width / rules.diameter, THINNEST)
        raised = np.minimum(feed / thinning(share), np.maximum(rules.most, feed))
        feed = np.where(engaged.width > 0.0, _no_faster_down(table, raised, rules.plunge), feed)
    share = slot_share(engaged.slot)
    curved = engaged.outside & (engaged.width > 0.0)
    share *= np.where(curved, rim_share(_radii(table), rules.diameter / 2.0), 1.0)
    feed = np.maximum(feed * share, np.minimum(feed, rules.least))
    return settled(feed, table.kind != Kind.RAPID)


def settled(feed: FloatArray, feeding: NDArray[np.bool_]) -> FloatArray:
    """Feeds with runs of nearly equal ones brought down to the least of each: no more F words than
    make a difference. Moves that do not feed end a run."""
    out = feed.copy()
    first, low, high = 0, np.inf, 0.0
    for i, value in enumerate(feed.tolist()):
        nearly = max(high, value) <= min(low, value) * (1.0 + SAME)
        if not (feeding[i] and nearly):
            out[first:i] = np.where(feeding[first:i], low, out[first:i])
            first, low, high = i, np.inf, 0.0
        if feeding[i]:
            low, high = min(low, value), max(high, value)
    out[first:] = np.where(feeding[first:], low, out[first:])
    return out


def _no_faster_down(table: MoveTable, feed: FloatArray, plunge: float) -> FloatArray:
    """Feeds at which moves that go down sink no faster than `plunge`; none below what it was."""
    fall = table.start[:, 2] - table.end[:, 2]
    falls = fall > 0.0
    most = plunge * table.lengths() / np.where(falls, fall, 1.0)
    return np.where(falls, np.maximum(np.minimum(feed, most), table.feed), feed)


def _radii(table: MoveTable) -> FloatArray:
    """(n,) radii of the moves in plan, infinite for straight ones."""
    arcs = table.arcs.row
    radius = np.full(len(table), np.inf)
    radius[arcs] = np.hypot(*(table.start[arcs, :2] - table.arcs.centre).T)
    return radius
