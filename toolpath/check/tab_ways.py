"""The cutter's way round the parts of a profile, along which its tabs are looked for."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, Polygon

from toolpath.check.areas import outward
from toolpath.drawing.outline import Err
from toolpath.job.model import Profile, ProfileSide, Tabs

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

ACROSS = (-0.9, -0.45, 0.0, 0.45, 0.9)
"""Where a tab is looked at across the way, radii of the cutter."""
FINEST = 0.1
"""The least cell by which a tab is looked for at first, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Way:
    """Places along a loop of the cutter's middle, or an open part of one, `step` apart, and at each
    those across it: (n, 5, 2), blank frame."""

    cut: Profile
    tabs: Tabs
    spots: FloatArray = field(repr=False)
    step: float
    closed: bool = True

    @classmethod
    def along(cls, cut: Profile, tabs: Tabs, loop: LinearRing) -> Way:
        """The places along a whole loop, close enough for the width of its tabs."""
        count = max(64, math.ceil(loop.length / max(FINEST / 2.0, tabs.width / 32.0)))
        where = np.arange(count) * loop.length / count
        corners = shapely.get_coordinates(loop)
        passed = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
        middle = np.column_stack([np.interp(where, passed, each) for each in corners.T])
        ahead = np.roll(middle, -1, axis=0) - np.roll(middle, 1, axis=0)
        ahead /= np.maximum(np.hypot(*ahead.T), 1e-12)[:, None]
        aside = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * cut.cutter.radius
        spots = middle[:, None, :] + aside[:, None, :] * np.array(ACROSS)[:, None]
        return cls(cut=cut, tabs=tabs, spots=spots, step=loop.length / count)

    def turn(self, stretch: IntArray) -> float:
        """By how much the way turns along a stretch, radians."""
        ahead = np.diff(self.spots[stretch, len(ACROSS) // 2], axis=0)
        return float(np.ptp(np.unwrap(np.arctan2(ahead[:, 1], ahead[:, 0]))) if len(ahead) else 0.0)


def loops_of(cut: Profile) -> Iterator[LinearRing]:
    """The loops of the cutter's middle along the walls that hold something inside."""
    radius = cut.cutter.radius
    if cut.side is ProfileSide.CENTRE:
        parts = [region.polygon(0.001, Err.OUTWARD) for region in cut.outline]
    else:
        by = radius if cut.side is ProfileSide.OUTER else -radius
        parts = list(shapely.get_parts(outward(cut.outline).buffer(by, quad_segs=32)))
    for part in parts:
        for ring in (part.exterior, *part.interiors):
            if not Polygon(ring).buffer(-radius).is_empty:
                yield LinearRing(ring)


def runs_of(mask: BoolArray) -> list[IntArray]:
    """The runs of a closed loop's places that are chosen, each as indices in order."""
    if mask.all():
        return [np.arange(len(mask))]
    first = int(np.flatnonzero(~mask)[0])
    index = np.roll(np.arange(len(mask)), -first)
    return runs_within(index, mask)


def runs_within(stretch: IntArray, mask: BoolArray) -> list[IntArray]:
    """The runs of chosen places within an open stretch of them."""
    chosen = np.flatnonzero(mask[stretch])
    parts = np.split(chosen, np.flatnonzero(np.diff(chosen) > 1) + 1)
    return [stretch[part] for part in parts if len(part)]
