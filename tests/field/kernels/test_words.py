"""Numbers of common words beside Python's own reading of them; whole lines: rs274/test_common."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numba import njit

from toolpath.field.kernels import words

DIGITS = st.text("0123456789", max_size=9)


@njit
def value_of(data):
    return words._value(data, 0)


def read(text):
    return value_of(np.frombuffer(text.encode() + b" \n", dtype=np.uint8))


@given(st.sampled_from(["", "-", "+"]), DIGITS, st.booleans(), DIGITS)
def test_plain_numbers_are_those_of_python_to_the_last_bit(sign, whole, dot, part):
    text = sign + whole + ("." + part if dot else "")
    value, end, bare = read(text)
    digits = len(whole) + (len(part) if dot else 0)
    if digits == 0 or digits > 15:
        assert end == -1
        return
    assert end == len(text)
    assert value == float(text)
    assert math.copysign(1.0, value) == math.copysign(1.0, float(text))
    assert bare == (text == whole)


@pytest.mark.parametrize("text", ["", "-", ".", "+.", "x", "--1", "1234567890123456"])
def test_what_is_left_to_the_interpreter(text):
    assert read(text)[1] == -1


@pytest.mark.parametrize(("text", "end"), [("1.5.2", 3), ("2e3", 1), ("7Y1", 1), ("1 2", 1)])
def test_a_number_ends_where_its_letters_do(text, end):
    assert read(text)[1] == end
