import math

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Clamp, Drill, Pocket, Profile, ProfileSide, Side
from toolpath.show.areas import blank_area, clamp_area, cut_area


def made(kind, cutter, **keys):
    return kind(name="cut", face=Side.FRONT, cutter=cutter, depth=5.0, **keys)


def test_a_pocket_leaves_its_islands(cutter):
    cut = made(Pocket, cutter, outline=(rect(0, 0, 40, 30),), islands=(circle(20, 15, 5),))
    # Area of a circle: pi r^2.
    assert cut_area(cut).area == pytest.approx(1200 - math.pi * 25, rel=1e-3)


@pytest.mark.parametrize(
    ("side", "inner", "outer"),
    [
        (ProfileSide.OUTER, 30.0, 36.0),
        (ProfileSide.INNER, 24.0, 30.0),
        (ProfileSide.CENTRE, 27.0, 33.0),
    ],
)
def test_a_profile_is_a_slot_as_wide_as_its_cutter(cutter, side, inner, outer):
    cut = made(Profile, cutter, outline=(circle(0, 0, 30),), side=side)
    # Area of a ring: pi (R^2 - r^2).
    assert cut_area(cut).area == pytest.approx(math.pi * (outer**2 - inner**2), rel=2e-3)


def test_drilled_holes_have_the_size_of_the_cutter(cutter):
    cut = made(Drill, cutter, at=((0, 0), (50, 0)), peck=2.0, diameter=6.0)
    assert cut_area(cut).area == pytest.approx(2 * math.pi * 9, rel=5e-3)


def test_blank_and_clamps(make_clock):
    job = make_clock().job
    # A rectangle less the four corners: 400 x 280 - (4 - pi) r^2, r = 20.
    expected = 400 * 280 - (4 - math.pi) * 400
    assert blank_area(job.blank).area == pytest.approx(expected, rel=1e-4)
    clamp = Clamp(name="a", face=Side.FRONT, outline=(rect(0, 0, 8, 30),), height=18)
    assert clamp_area(clamp).area == pytest.approx(240)
