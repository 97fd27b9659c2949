import datetime
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.job.words import nearest, number_text, quoted, suggestion, value_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (42.0, "42"),
        (1.2500, "1.25"),
        (-3.0, "-3"),
        (0.0, "0"),
        (-0.0, "0"),
        (1000.0, "1000"),
        (0.00004, "4e-05"),
        (-0.0001, "-0.0001"),
        (math.nan, "nan"),
        (1e300, "1e+300"),
        (1e9, "1e+09"),
    ],
)
def test_numbers_lose_only_their_trailing_zeros(value: float, text: str) -> None:
    assert number_text(value) == text


def test_an_integer_beyond_floats_is_still_told() -> None:
    assert number_text(0x10**5000) == "a number beyond any size"


@given(st.floats(min_value=-1e8, max_value=1e8))
def test_a_number_reads_back_within_its_decimals(value: float) -> None:
    assert float(number_text(value, 3)) == pytest.approx(value, abs=0.000501)
    assert (float(number_text(value, 3)) == 0) == (value == 0)


@given(st.text())
def test_quoted_text_stays_on_one_printable_line(text: str) -> None:
    shown = quoted(text)
    assert shown.isprintable()
    assert shown[0] == shown[-1] == '"'


def test_long_text_is_cut_short() -> None:
    assert quoted("x" * 1000) == '"' + "x" * 60 + '…"'


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        (3, "3"),
        ("3", '"3"'),
        ([1], "an array"),
        ({}, "a table"),
        (datetime.date(2026, 1, 2), "a date or time"),
    ],
)
def test_values_are_named_in_words_of_the_format(value: object, text: str) -> None:
    assert value_text(value) == text


def test_the_nearest_word_whatever_its_case() -> None:
    assert nearest("DEPHT", ["diameter", "depth"]) == "depth"
    assert nearest("zzz", ["diameter", "depth"]) is None


def test_a_suggestion_names_what_is_known_where_nothing_is_near() -> None:
    assert suggestion("dept", ["depth", "do"]) == 'did you mean "depth"?'
    assert suggestion("zzz", ["depth", "do"]) == "known are depth, do"
    assert suggestion("zzz", [f"a{n}" for n in range(30)]).endswith("a19, …")
