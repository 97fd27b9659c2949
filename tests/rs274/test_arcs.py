import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.rs274.arcs import TURN, centre_format, radius_format

MM = 0.002
"""NISTIR 6556 3.5.3.2: the two radii may differ by 0.002 mm."""


def test_worked_arc_a():
    # NISTIR 6556 3.5.3.2: from (7, 7), G2 X10 Y16 I3 J4: centre (10, 11), radius 5.
    arc = centre_format((7, 7), (10, 16), (3, 4), clockwise=True, tolerance=MM)
    assert arc.centre == (10, 11)
    assert math.degrees(arc.sweep) == pytest.approx(-143.1301, abs=1e-4)  # 90 + atan(4/3)
    assert abs(arc.sweep) * 5 == pytest.approx(12.490458, abs=1e-6)


def test_worked_arc_b():
    # NISTIR 6556 table 10: from (3, 1), G2 to (0, 1) R7.01; centre (1.5, 7.8476).
    arc = radius_format((3, 1), (0, 1), 7.01, clockwise=True, tolerance=MM)
    assert arc.centre == pytest.approx((1.5, 7.847635), abs=1e-6)
    assert -math.pi < arc.sweep < 0


@pytest.mark.parametrize(
    ("clockwise", "centre", "sweep"),
    [(True, (0, 0), -math.pi / 2), (False, (0, 0), 3 * math.pi / 2)],
)
def test_sense_of_the_turn(clockwise, centre, sweep):
    # NISTIR 6556 3.5.3, 4.3.6.1: clockwise seen from +z; from (0, 1) to (1, 0).
    arc = centre_format((0, 1), (1, 0), (0, -1), clockwise=clockwise, tolerance=MM)
    assert arc.centre == centre
    assert arc.sweep == pytest.approx(sweep, abs=1e-12)


@pytest.mark.parametrize("clockwise", [True, False])
@pytest.mark.parametrize(("radius", "low", "high"), [(5.0, 0.0, 180.0), (-5.0, 180.0, 360.0)])
def test_sign_of_the_radius(clockwise, radius, low, high):
    # NISTIR 6556 3.5.3.1: positive for 180 degrees or less, negative for more.
    arc = radius_format((0, 0), (6, 0), radius, clockwise=clockwise, tolerance=MM)
    assert low < abs(math.degrees(arc.sweep)) < high
    assert (arc.sweep < 0) == clockwise
    assert math.dist(arc.centre, (0, 0)) == pytest.approx(5.0)
    assert math.dist(arc.centre, (6, 0)) == pytest.approx(5.0)


def test_equal_ends_are_a_full_turn_with_a_centre_only():
    # NISTIR 6556 3.5.3.2 and 3.5.3.1.
    assert centre_format((1, 2), (1, 2), (3, 0), clockwise=False, tolerance=MM).sweep == TURN
    assert centre_format((1, 2), (1, 2), (3, 0), clockwise=True, tolerance=MM).sweep == -TURN
    with pytest.raises(ValueError, match="full circle"):
        radius_format((1, 2), (1, 2), 3, clockwise=True, tolerance=MM)


@pytest.mark.parametrize("aside", [1e-17, -1e-17, 4e-16, -4e-16])
def test_ends_that_differ_by_rounding_only_are_a_full_turn(aside):
    # Errs towards the longer path: sums of increments lose such amounts.
    arc = centre_format((1, 2), (1, 2 + aside), (3, 0), clockwise=True, tolerance=MM)
    assert arc.sweep == -TURN


def test_the_tolerance_of_the_radii():
    # NISTIR 6556 3.5.3.2: an error if they differ by more than 0.002 mm.
    assert centre_format((10, 0), (0, 10.002), (-10, 0), clockwise=False, tolerance=MM)
    with pytest.raises(ValueError, match=r"differ by 0\.00200 mm"):
        centre_format((10, 0), (0, 10.00201), (-10, 0), clockwise=False, tolerance=MM)


def test_radii_that_cannot_be():
    with pytest.raises(ValueError, match="too far"):
        radius_format((0, 0), (10, 0), 4.99, clockwise=True, tolerance=MM)
    with pytest.raises(ValueError, match="no radius"):
        centre_format((0, 0), (0, 0), (0, 0), clockwise=True, tolerance=MM)
    # A half turn whose ends were rounded to four decimals: 10.000023 apart over 2 x 5.
    half = radius_format((0, 0), (7.0711, 7.0711), 5, clockwise=False, tolerance=MM)
    assert half.sweep == pytest.approx(math.pi)


@given(
    radius=st.floats(0.01, 500),
    first=st.floats(-math.pi, math.pi),
    sweep=st.floats(0.01, TURN - 0.01),
    clockwise=st.booleans(),
)
def test_both_formats_find_the_arc_they_were_made_from(radius, first, sweep, clockwise):
    signed = -sweep if clockwise else sweep
    start = radius * math.cos(first), radius * math.sin(first)
    end = radius * math.cos(first + signed), radius * math.sin(first + signed)
    offset = -start[0], -start[1]
    arc = centre_format(start, end, offset, clockwise=clockwise, tolerance=MM)
    assert arc.sweep == pytest.approx(signed, abs=1e-9)
    if abs(sweep - math.pi) > 0.01:
        word = radius if sweep < math.pi else -radius
        same = radius_format(start, end, word, clockwise=clockwise, tolerance=MM)
        assert same.sweep == pytest.approx(signed, abs=1e-6)
        assert math.dist(same.centre, (0, 0)) < 1e-6 * radius
