import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from toolpath.field.profile import Element, Hollow, Profile

SIZE = st.floats(0.0, 6.0)


def test_heights_of_plain_cutters_by_their_formulas(cutter):
    r = np.array([0.0, 1.0, 2.0, 2.9, 3.0])
    assert cutter("flat").height(r) == pytest.approx(0.0)
    assert cutter("ball").height(r) == pytest.approx(3 - np.sqrt(9 - r * r))
    assert cutter("vee60").height(r) == pytest.approx(r / np.tan(np.radians(30)))
    assert cutter("vee90").height(r) == pytest.approx(r)
    assert cutter("bull").height(np.array([2.0, 2.6])) == pytest.approx([0.0, 1 - 0.8])
    assert cutter("vee60 flat").height(r) == pytest.approx(np.maximum(r - 1, 0) * 3**0.5)
    # The middle of the hollow stands under the full width: at 3 - 1.2 from the axis a circle of 2
    # is 1.6 high (3-4-5 triangle), at 3 - 1.6 it is 1.2 high.
    hollow = cutter("round-over").height(np.array([0.0, 1.0, 1.4, 1.8, 3.0]))
    assert hollow == pytest.approx([0, 0, 1.2, 1.6, 2])
    for name in ("flat", "ball", "bull", "vee60", "vee60 flat", "round-over"):
        assert np.isinf(cutter(name).height(np.array([3.0001]))).all()


def test_grown_cutters_are_true_offsets(cutter):
    # flat: round edge of the clearance; ball: a ball of a larger radius about the same middle
    r = np.array([0.0, 3.0, 3.6, 3.99])
    flat = np.array([-1.0, -1.0, -0.8, -np.sqrt(1 - 0.99**2)])
    assert cutter("flat").height(r, 1.0) == pytest.approx(flat)
    assert cutter("ball").height(r, 1.0) == pytest.approx(3 - np.sqrt(16 - r * r))
    # a 90 degree cone moved along its normal sinks by clearance * sqrt(2); its tip is a ball
    assert cutter("vee90").height(np.array([0.0, 2.0]), 1.0) == pytest.approx([-1, 2 - 2**0.5])


@given(SIZE, SIZE, st.floats(0.1, 9.0), st.floats(0.0, 2.0), st.floats(0.01, 2.0))
def test_height_equals_the_library_offset_of_the_half_plane(low, high, tall, rounding, gap):
    element = Element(
        part_name="x", r_low=low, z_low=0, r_high=high, z_high=tall, rounding=rounding
    )
    flat = shapely.convex_hull(
        shapely.MultiPoint([(-low, 0), (low, 0), (-high, tall), (high, tall)])
    )
    grown = flat.buffer(rounding + gap, quad_segs=128)
    radii = np.linspace(0.0, 0.99, 12) * (max(low, high) + rounding + gap)
    ours = Profile(elements=(element,)).height(radii, gap)
    lines = [shapely.LineString([(r, -50), (r, 50)]).intersection(grown).bounds[1] for r in radii]
    # the library's chords lie inside: never lower than the true edge, and near it. The bound
    # holds where the edge is not upright: 0.99 of the radius
    assert (ours <= np.array(lines) + 1e-9).all()
    assert (ours >= np.array(lines) - 0.01).all()


def test_a_grown_hollow_is_a_smaller_hollow_until_none_is_left(cutter):
    tool = cutter("round-over")
    # grown by 0.75: a circle of 1.25 about (3, 0), 1 high where it is 0.75 beside (3-4-5)
    assert tool.height(np.array([2.25]), 0.75) == pytest.approx([1.0])
    # grown by 2 and by 2.5: only discs about the ends (1, 0) and (3, 2) are left
    assert tool.height(np.array([0.0, 1.0, 3.0]), 2.0) == pytest.approx([-2, -2, 0])
    assert tool.height(np.array([1.0, 2.0, 3.0, 5.0]), 2.5) == pytest.approx(
        [-2.5, -np.sqrt(2.5**2 - 1), -1.5, 2 - 1.5]
    )


@given(st.floats(0.0, 6.0), st.floats(0.05, 9.0), st.floats(0.0, 12.0))
def test_hollow_equals_the_library_offset_of_the_half_plane(tip, radius, gap):
    turn = np.linspace(0, np.pi / 2, 400)
    right = np.column_stack([tip + radius * (1 - np.cos(turn)), radius * np.sin(turn)])
    top = radius + 9.0
    ring = [*right, (tip + radius, top), (-tip - radius, top), *(right * [-1, 1])[::-1]]
    grown = shapely.Polygon(ring).buffer(gap, quad_segs=128)
    profile = Profile(elements=(Hollow(part_name="x", r_low=tip, z_low=0, radius=radius),))
    radii = np.linspace(0.0, 0.99, 12) * (tip + radius + gap)
    ours = profile.height(radii, gap)
    lines = [shapely.LineString([(r, -50), (r, 50)]).intersection(grown).bounds[1] for r in radii]
    # the hollow's chords lie inside the solid's hollow, the offset's inside the offset: both within
    # 0.0001 of the radius, and a steep edge turns that into a height
    assert (np.abs(ours - np.array(lines)) <= 0.02 + 0.005 * (radius + gap)).all()
    assert (ours[1:] >= ours[:-1] - 1e-12).all()


@given(SIZE, SIZE, st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_height_never_falls_outward(low, high, rounding, gap):
    elements = (
        Element(part_name="a", r_low=low, z_low=2, r_high=high, z_high=5, rounding=rounding),
        Element(part_name="b", r_low=8, z_low=9, r_high=8, z_high=12),
    )
    heights = Profile(elements=elements).height(np.linspace(0, 15, 300), gap)
    assert (heights[1:] >= heights[:-1] - 1e-12).all()


def test_reach_radius_is_where_the_height_is_met(cutter):
    vee = cutter("vee90")
    assert vee.reach_radius(0.0, 2.0) == pytest.approx(2.0)
    assert vee.reach_radius(0.0, 5.0) == 3.0
    assert vee.reach_radius(0.0, -0.1) == 0.0
    # 90 degree cone grown by 1: z = r - sqrt(2) on the flank
    assert vee.reach_radius(1.0, 1.0) == pytest.approx(1 + 2**0.5)
    assert Profile(elements=()).reach_radius(1.0, 9.0) == 0.0


def test_only_keeps_the_named_parts(cutter):
    nut = Element(part_name="nut", r_low=11, z_low=45, r_high=11, z_high=63)
    whole = Profile(elements=(*cutter("flat").elements, nut))
    assert whole.outer_radius == 11
    assert whole.only("flutes").outer_radius == 3
    assert whole.height(np.array([5.0]))[0] == 45
    assert np.isinf(whole.only("flutes").height(np.array([5.0]))).all()


@pytest.mark.parametrize("wrong", [{"r_low": -1.0}, {"z_high": -1.0}, {"rounding": float("nan")}])
def test_elements_that_cannot_be(wrong):
    good = {"part_name": "x", "r_low": 1.0, "z_low": 0.0, "r_high": 1.0, "z_high": 2.0}
    with pytest.raises(ValueError, match="trapezoid"):
        Element(**(good | wrong))
    with pytest.raises(ValueError, match="quarter round"):
        Hollow(part_name="x", r_low=1.0, z_low=0.0, radius=-1.0)
