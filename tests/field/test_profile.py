import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from toolpath.field.profile import Element, Profile

SIZE = st.floats(0.0, 6.0)


def test_heights_of_plain_cutters_by_their_formulas(cutter):
    r = np.array([0.0, 1.0, 2.0, 2.9, 3.0])
    assert cutter("flat").height(r) == pytest.approx(0.0)
    assert cutter("ball").height(r) == pytest.approx(3 - np.sqrt(9 - r * r))
    assert cutter("vee60").height(r) == pytest.approx(r / np.tan(np.radians(30)))
    assert cutter("vee90").height(r) == pytest.approx(r)
    assert cutter("bull").height(np.array([2.0, 2.6])) == pytest.approx([0.0, 1 - 0.8])
    for name in ("flat", "ball", "bull", "vee60"):
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
