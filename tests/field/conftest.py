from collections.abc import Callable

import pytest

from toolpath.field.profile import Element, Hollow, Profile


def _cutter(name: str) -> Profile:
    parts = {
        "flat": Element(part_name="flutes", r_low=3, z_low=0, r_high=3, z_high=20),
        "ball": Element(part_name="flutes", r_low=0, z_low=3, r_high=0, z_high=3, rounding=3),
        "bull": Element(part_name="flutes", r_low=2, z_low=1, r_high=2, z_high=1, rounding=1),
        "vee60": Element(part_name="flutes", r_low=0, z_low=0, r_high=3, z_high=3 * 3**0.5),
        "vee90": Element(part_name="flutes", r_low=0, z_low=0, r_high=3, z_high=3),
        "vee60 flat": Element(part_name="flutes", r_low=1, z_low=0, r_high=3, z_high=2 * 3**0.5),
        "round-over": Hollow(part_name="flutes", r_low=1, z_low=0, radius=2),
    }
    return Profile(elements=(parts[name],))


@pytest.fixture
def cutter() -> Callable[[str], Profile]:
    """Cutters of 6 mm by name: flat, ball, bull (corner 1), vee60, vee90, vee60 flat (tip 2),
    round-over (radius 2)."""
    return _cutter
