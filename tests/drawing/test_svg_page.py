import math

import numpy as np
import pytest

from toolpath.drawing.svg_page import page_map, read_length, read_transform, view_map, view_size
from toolpath.errors import DrawingError


def at(matrix, x, y):
    return tuple((matrix @ (x, y, 1.0))[:2])


# CSS Values and Units, 6.2: 1 in = 2.54 cm = 25.4 mm = 101.6 q = 72 pt = 6 pc = 96 px.
@pytest.mark.parametrize(
    "text", ["96", "96px", "1in", "2.54cm", "25.4 mm", "101.6Q", "72pt", "6pc", " 9.6e1 ", "50%"]
)
def test_lengths_of_an_inch(text):
    assert read_length(text, 192.0) == pytest.approx(96.0, rel=1e-12)


@pytest.mark.parametrize("text", ["5em", "5ex", "5vw", "5%", "five", "", "1e999mm", "nan", "1 2"])
def test_what_is_no_length(text):
    with pytest.raises(DrawingError, match=f'"{text[:2]}'):
        read_length(text)


@pytest.mark.parametrize(
    ("size", "view", "fit", "point", "mm"),
    [
        # Pixels of 25.4 / 96 mm, from the top left; no view box.
        (("96", "192"), None, None, (0, 192), (0, 0)),
        (("96", "192"), None, None, (96, 0), (25.4, 50.8)),
        # SVG 2, 8: 100 mm over 200 units are 0.5 mm a unit.
        (("100mm", "50mm"), "0 0 200 100", None, (40, 80), (20, 10)),
        (("100mm", "50mm"), "-100 -50 200 100", None, (0, 0), (50, 25)),
        # SVG 1.1, 7.8: meet keeps all in sight, in the middle; slice fills; none stretches.
        (("100mm", "100mm"), "0 0 200 100", None, (0, 0), (0, 75)),
        (("100mm", "100mm"), "0 0 200 100", "xMinYMin meet", (0, 0), (0, 100)),
        (("100mm", "100mm"), "0 0 200 100", "xMaxYMax", (0, 0), (0, 50)),
        (("100mm", "100mm"), "0 0 200 100", "xMidYMid slice", (0, 0), (-50, 100)),
        (("100mm", "100mm"), "0 0 200 100", "none", (200, 100), (100, 0)),
        # Without a size, or with one of the two: pixels, or the view box's proportion.
        ((None, "100%"), "0 0 96 96", None, (96, 0), (25.4, 25.4)),
        (("100mm", None), "0 0 200 100", None, (200, 0), (100, 50)),
        ((None, "50mm"), "0 0 200 100", None, (200, 0), (100, 50)),
    ],
)
def test_pages(size, view, fit, point, mm):
    assert at(page_map(*size, view, fit), *point) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("size", "view", "fit", "words"),
    [
        ((None, None), None, None, "no size"),
        (("0", "5"), None, None, "no size"),
        (("5em", "5"), None, None, '"5em"'),
        (("5", "5"), "0 0 0 5", None, 'viewBox "0 0 0 5"'),
        (("5", "5"), "0 0 5", None, 'viewBox "0 0 5"'),
        (("5", "5"), "0 0 5 x", None, '"0 0 5 x"'),
        (("5", "5"), "0 0 5 5", "middle", 'preserveAspectRatio "middle"'),
    ],
)
def test_pages_that_cannot_be(size, view, fit, words):
    with pytest.raises(DrawingError, match=words):
        page_map(*size, view, fit)


def test_a_view_has_a_size():
    assert view_size("1,2 30 40") == (30.0, 40.0)
    assert at(view_map((60, 80), "1 2 30 40", None), 1, 2) == pytest.approx((0, 0))


# SVG 1.1, 7.6: the matrices of each word.
@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("", (3, 4)),
        ("translate(10)", (13, 4)),
        ("translate(10 -1)", (13, 3)),
        ("scale(2)", (6, 8)),
        ("scale(2,-1)", (6, -4)),
        ("rotate(90)", (-4, 3)),
        ("rotate(90 3 4)", (3, 4)),
        ("rotate(180, 0, 4)", (-3, 4)),
        ("skewX(45)", (7, 4)),
        ("skewY(45)", (3, 7)),
        ("matrix(1 2 3 4 5 6)", (3 + 12 + 5, 6 + 16 + 6)),
        (" translate(1,1) , scale(2) ", (7, 9)),
        ("scale(2) translate(1,1)", (8, 10)),
    ],
)
def test_transforms(text, point):
    assert at(read_transform(text), 3, 4) == pytest.approx(point)


def test_a_turn_keeps_lengths_and_sense():
    matrix = read_transform("rotate(33) translate(4 5)")
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    assert matrix[1, 0] == pytest.approx(math.sin(math.radians(33)))


@pytest.mark.parametrize(
    "text",
    [
        "rotate(1 2)",
        "turn(3)",
        "scale()",
        "scale(2",
        "matrix(1 2 3 4 5)",
        "rotate(10deg)",
        "scale(1e999)",
        "scale(2);",
        "scale(1)" * 2000,
    ],
)
def test_what_is_no_transform(text):
    with pytest.raises(DrawingError):
        read_transform(text)
