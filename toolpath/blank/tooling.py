"""The cutters of a job as turning profiles: flutes, shank, collet nut."""

from __future__ import annotations

from toolpath.field.profile import Element, Profile
from toolpath.job.model import Cutter, Nut, Shape

FLUTES, SHANK, NUT = "flutes", "shank", "nut"


def profile_of(cutter: Cutter, nut: Nut) -> Profile:
    """The profile of a cutter in its nut, mm above the tip.

    Flutes up to `flute_length`, shank from there to `reach`, nut from `reach` up to its height.
    A point longer than the flutes (a fine vee) keeps its whole cone: errs large.
    """
    parts = list(_flutes(cutter))
    if cutter.reach > cutter.flute_length:
        parts.append(_cylinder(SHANK, cutter.shank / 2.0, cutter.flute_length, cutter.reach))
    parts.append(_cylinder(NUT, nut.diameter / 2.0, cutter.reach, cutter.reach + nut.height))
    return Profile(elements=tuple(parts))


def _flutes(cutter: Cutter) -> tuple[Element, ...]:
    end = cutter.point_length
    body = _cylinder(FLUTES, cutter.radius, end, max(end, cutter.flute_length))
    if cutter.shape is Shape.FLAT:
        return (body,)
    if cutter.shape in (Shape.BALL, Shape.BULL):
        return _rounded(cutter.radius - end, end), body
    tip = Element(
        part_name=FLUTES,
        r_low=cutter.tip_diameter / 2.0,
        z_low=0.0,
        r_high=cutter.radius,
        z_high=end,
    )
    return tip, body


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
