"""The cutters of a job as turning profiles: flutes, neck, shank, collet nut, dust shoe."""

from __future__ import annotations

from toolpath.field.profile import Element, Hollow, Profile
from toolpath.job.model import Cutter, Nut, Shape

FLUTES, NECK, SHANK, NUT, SHOE = "flutes", "neck", "shank", "nut", "shoe"


def profile_of(cutter: Cutter, nut: Nut) -> Profile:
    """The profile of a cutter in its nut, mm above the tip.

    Flutes up to `flute_length`, neck and shank from there to `reach`, nut from `reach` up to its
    height, and the shoe round it all from its lower edge.
    A point longer than the flutes (a fine vee) keeps its whole cone: errs large.
    """
    parts = list(_flutes(cutter))
    if cutter.neck is not None:
        low, high = cutter.flute_length, cutter.neck.length
        parts.append(_cylinder(NECK, cutter.neck.diameter / 2.0, low, high))
    if cutter.reach > cutter.shank_from:
        parts.append(_cylinder(SHANK, cutter.shank / 2.0, cutter.shank_from, cutter.reach))
    top = cutter.reach + nut.height
    parts.append(_cylinder(NUT, nut.diameter / 2.0, cutter.reach, top))
    if nut.shoe is not None:
        edge = cutter.reach - nut.shoe.drop
        parts.append(_cylinder(SHOE, nut.shoe.diameter / 2.0, edge, max(edge, top)))
    return Profile(elements=tuple(parts))


def _flutes(cutter: Cutter) -> tuple[Element | Hollow, ...]:
    end = cutter.point_length
    body = _cylinder(FLUTES, cutter.radius, end, max(end, cutter.flute_length))
    if cutter.shape is Shape.FLAT:
        return (body,)
    if cutter.shape in (Shape.BALL, Shape.BULL):
        return _rounded(cutter.radius - end, end), body
    if cutter.shape is Shape.ROUND_OVER:
        tip = max(cutter.radius - end, 0.0)
        return Hollow(part_name=FLUTES, r_low=tip, z_low=0.0, radius=end), body
    tip_radius = cutter.tip_diameter / 2.0
    return _cone(tip_radius, cutter.radius, end), body


def _cone(r_low: float, r_high: float, height: float) -> Element:
    """The point of a vee or drill."""
    return Element(part_name=FLUTES, r_low=r_low, z_low=0.0, r_high=r_high, z_high=height)


def _rounded(flat_radius: float, corner: float) -> Element:
    """The lower half of a ball, or the rounded foot of a bull; its upper half is in the body."""
    return Element(
        part_name=FLUTES,
        r_low=flat_radius,
        z_low=corner,
        r_high=flat_radius,
        z_high=corner,
        rounding=corner,
    )


def _cylinder(name: str, radius: float, low: float, high: float) -> Element:
    return Element(part_name=name, r_low=radius, z_low=low, r_high=radius, z_high=high)
