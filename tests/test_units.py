import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.units import UNIT_NAMES, Unit, parse_length, show_mm


def test_an_inch_is_25_4_mm():
    # 1959 international yard and pound agreement: exactly.
    assert Unit.INCH.mm == 25.4
    assert Unit.MM.mm == 1.0


def test_decimals_keep_arcs_within_the_standard():
    # NISTIR 6556, 3.5.3.2: radii may differ by 0.002 mm or 0.0002 inch. Rounding moves a point by
    # half a last digit along each axis, so start, centre and end together by 4 * sqrt(2) halves.
    for unit, limit in ((Unit.MM, 0.002), (Unit.INCH, 0.0002)):
        assert 4 * math.sqrt(2) * 0.5 * 10.0**-unit.decimals < limit


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("6 mm", 6.0),
        ("6mm", 6.0),
        ("1/4 in", 6.35),
        ("1 3/4 in", 44.45),
        ("1-3/4 in", 44.45),
        ('3/8"', 9.525),
        ("1.5 inch", 38.1),
        ("-.5 in", -12.7),
        ("- 1 1/2 in", -38.1),
        ("2.5 cm", 25.0),
        ("0.4 m", 400.0),
        ("  3. mm ", 3.0),
    ],
)
def test_lengths_as_people_write_them(text, mm):
    # Exact: 1 in = 25.4 mm, so 1/4 in = 6.35 mm and 1 3/4 in = 44.45 mm.
    assert parse_length(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "6",
        "mm",
        "6 ft",
        "1/0 in",
        "1/ in",
        "six mm",
        "6 mm wide",
        "1 2 in",
        "nan mm",
        "inf mm",
        "1e3 mm",
        "1,5 mm",
        "9" * 400 + " mm",
    ],
)
def test_anything_else_is_refused_with_its_text(text):
    with pytest.raises(ValueError) as caught:
        parse_length(text)
    assert text in str(caught.value)


@given(
    whole=st.integers(0, 500), num=st.integers(0, 63), den=st.integers(1, 64), minus=st.booleans()
)
@settings(max_examples=50, deadline=None)
def test_mixed_fractions_are_exact_rationals(whole, num, den, minus):
    text = f"{'-' if minus else ''}{whole} {num}/{den} in"
    exact = (whole + Fraction(num, den)) * Fraction(254, 10) * (-1 if minus else 1)
    assert parse_length(text) == pytest.approx(float(exact), rel=1e-15, abs=1e-300)


@given(
    value=st.floats(-1e6, 1e6, allow_nan=False),
    name=st.sampled_from(sorted(UNIT_NAMES)),
)
@settings(max_examples=50, deadline=None)
def test_decimals_come_back(value, name):
    assert parse_length(f"{value:.6f} {name}") == pytest.approx(
        float(f"{value:.6f}") * UNIT_NAMES[name], rel=1e-12
    )


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (52.0, "52 mm"),
        (0.5, "0.5 mm"),
        (1.23456, "1.235 mm"),
        (-0.0001, "0 mm"),
        (100.0, "100 mm"),
        (0.0, "0 mm"),
        (-3.25, "-3.25 mm"),
    ],
)
def test_messages_show_up_to_three_decimals(value, text):
    assert show_mm(value) == text


@given(st.floats(-1e6, 1e6, allow_nan=False))
@settings(max_examples=50, deadline=None)
def test_what_is_shown_reads_back_within_half_a_thousandth(value):
    assert abs(parse_length(show_mm(value)) - value) <= 0.0005 + 1e-9
