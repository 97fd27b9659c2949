"""What a job covers in plan, as shapely areas in the blank frame, for drawing only."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, Outline, area_of
from toolpath.job.model import (
    Blank,
    Clamp,
    Cut,
    Drill,
    Pocket,
    Profile,
    ProfileSide,
    Relief,
    Skim,
)

PICTURE_FLATTEN = 0.02
"""Largest distance in mm of a drawn chord from its curve: a tenth of a pixel of a picture."""


def blank_area(blank: Blank) -> BaseGeometry:
    """The blank's outline."""
    return blank.outline.polygon(PICTURE_FLATTEN, Err.INWARD)


def _area(outline: Outline, err: Err) -> BaseGeometry:
    area = area_of(outline, PICTURE_FLATTEN, err)
    assert isinstance(area, BaseGeometry)
    return area


def clamp_area(clamp: Clamp) -> BaseGeometry:
    """Where a clamp stands."""
    return _area(clamp.outline, Err.OUTWARD)


def cut_area(cut: Cut) -> BaseGeometry:
    """What a cut is meant to remove, in plan: a pocket less its islands, the slot of a profile,
    the holes of a drill."""
    match cut:
        case Pocket():
            whole = _area(cut.outline, Err.INWARD)
            return whole.difference(_area(cut.islands, Err.OUTWARD))
        case Skim() | Relief():
            return _area(cut.outline, Err.INWARD)
        case Profile():
            return _slot(cut)
        case Drill():
            discs = shapely.buffer(shapely.points(cut.at), cut.diameter / 2.0, quad_segs=16)
            return shapely.union_all(discs)


def ledge_area(cut: Pocket) -> BaseGeometry:
    """The rim of a pocket on which its plate rests; empty where it has none."""
    if cut.ledge is None:
        return shapely.Polygon()
    return _area(cut.ledge.outline, Err.INWARD).difference(_area(cut.outline, Err.INWARD))


def whole_area(cut: Cut) -> BaseGeometry:
    """All that a cut takes away in plan, its ledge too."""
    return shapely.union_all([area for area, _ in asked_for(cut)])


def asked_for(cut: Cut) -> list[tuple[BaseGeometry, float]]:
    """Areas, and the depth that a cut asks for in each: a pocket's ledge is one of its own."""
    asked = [(cut_area(cut), cut.depth)]
    if isinstance(cut, Pocket) and cut.ledge is not None:
        asked.append((ledge_area(cut), cut.ledge.depth))
    return asked


def _slot(cut: Profile) -> BaseGeometry:
    """The slot that a profile leaves, as wide as its cutter."""
    area = _area(cut.outline, Err.INWARD)
    match cut.side:
        case ProfileSide.OUTER:
            return shapely.buffer(area, cut.cutter.diameter).difference(area)
        case ProfileSide.INNER:
            return area.difference(shapely.buffer(area, -cut.cutter.diameter))
        case ProfileSide.CENTRE:
            return shapely.buffer(shapely.boundary(area), cut.cutter.radius)
