import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.drawing.outline import Err, Loop, Region
from toolpath.drawing.shapes import check_region, circle, polygon, rect, slot
from toolpath.errors import DrawingError


@pytest.mark.parametrize("corner", [0.0, 5.0, 30.0])
def test_rounded_rectangles(corner):
    # Closed formulas: w h - (4 - pi) r^2 and 2 (w + h) - (8 - 2 pi) r.
    shape = rect(10, 20, 110, 80, corner)
    assert shape.area == pytest.approx(6000 - (4 - math.pi) * corner**2)
    assert shape.outer.length == pytest.approx(320 - (8 - 2 * math.pi) * corner)
    assert shape.polygon(0.0005, Err.INWARD).bounds == pytest.approx((10, 20, 110, 80), abs=1e-3)
    steps = np.diff(np.vstack([shape.outer.points, shape.outer.points[:1]])[:, :2], axis=0)
    assert np.hypot(*steps.T).min() > 1.0  # no edge without length
    check_region(shape)


def test_a_rectangle_rounded_on_all_sides_is_a_circle():
    shape = rect(-5, -5, 5, 5, 5)
    assert len(shape.outer.points) == 4
    assert shape.area == pytest.approx(math.pi * 25)


def test_circle():
    shape = circle(3, 4, 20)
    assert shape.area == pytest.approx(math.pi * 400)
    assert shape.outer.length == pytest.approx(40 * math.pi)
    assert shape.polygon(1e-4, Err.OUTWARD).centroid.coords[0] == pytest.approx((3, 4))


def test_slot():
    # A segment of length 40 grown by 6: 593.097336 and 117.699112 (2 r l + pi r^2, 2 l + 2 pi r).
    shape = slot(0, 0, 24, 32, 12)
    assert shape.area == pytest.approx(593.097336, abs=1e-6)
    assert shape.outer.length == pytest.approx(117.699112, abs=1e-6)
    assert shape.polygon(1e-4, Err.OUTWARD).bounds == pytest.approx((-6, -6, 30, 38), abs=1e-3)


@pytest.mark.parametrize("turn", [1, -1])
def test_polygons_either_way_round(turn):
    corners = [(0, 0), (4, 0), (4, 3)][::turn]
    for points in (corners, [*corners, corners[0]], [corners[0], *corners]):
        shape = polygon(points)
        assert len(shape.outer.points) == 3
        assert shape.area == pytest.approx(6.0)
        assert shape.outer.length == pytest.approx(12.0)


# Steiner's formula for a convex K grown by r: area A + P r + pi r^2, perimeter P + 2 pi r.
@pytest.mark.parametrize(
    ("shape", "r", "area", "length"),
    [
        (rect(0, 0, 100, 60), 3, 6988.274334, 338.849556),
        (
            polygon([(10 * math.cos(a), 10 * math.sin(a)) for a in np.pi / 3 * np.arange(6)]),
            2,
            392.373992,
            72.566371,
        ),
        (circle(0, 0, 20), 3, 1661.902514, 144.513262),
        (slot(0, 0, 40, 0, 6), 3, 593.097336, 117.699112),
    ],
)
def test_outward_offsets_follow_steiner(shape, r, area, length):
    inner = shape.polygon(1e-4, Err.INWARD).buffer(r, quad_segs=200)
    outer = shape.polygon(1e-4, Err.OUTWARD).buffer(r, quad_segs=200)
    assert inner.area < area + 1e-6
    assert outer.area == pytest.approx(area, rel=2e-5)
    assert inner.area == pytest.approx(area, rel=2e-5)
    assert outer.length == pytest.approx(length, rel=2e-5)
    assert shape.area + shape.outer.length * r + math.pi * r**2 == pytest.approx(area, abs=1e-6)


def test_inward_offset_of_a_rectangle():
    # (a - 2 r)(b - 2 r)
    assert rect(0, 0, 100, 60).polygon(1e-4, Err.INWARD).buffer(-3).area == pytest.approx(5076)


@given(
    x=st.floats(-500, 500),
    y=st.floats(-500, 500),
    w=st.floats(0.01, 900),
    h=st.floats(0.01, 900),
    share=st.floats(0, 1),
)
@settings(max_examples=60, deadline=None)
def test_every_rounded_rectangle_is_whole(x, y, w, h, share):
    r = share * min(w, h) / 2
    try:
        shape = rect(x, y, x + w, y + h, min(r, ((x + w) - x) / 2, ((y + h) - y) / 2))
    except DrawingError as error:
        pytest.fail(str(error))
    assert shape.area == pytest.approx(w * h - (4 - math.pi) * r**2, rel=1e-6, abs=1e-6)
    check_region(shape)


NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: rect(0, 0, NAN, 10), ["rect", "finite", "nan"]),
        (lambda: circle(0, INF, 3), ["circle", "finite", "inf"]),
        (lambda: slot(0, 0, 10, 0, NAN), ["slot", "finite"]),
        (lambda: polygon([(0, 0), (1, 0), (NAN, 1)]), ["polygon", "finite"]),
        (lambda: rect(10, 0, 5, 10), ["(10, 0) mm", "(5, 10) mm", "lower left corner first"]),
        (lambda: rect(0, 0, 10, 0), ["no size"]),
        (lambda: rect(0, 0, 40, 20, 10.5), ["10.5 mm", "half the shorter side", "10 mm"]),
        (lambda: rect(0, 0, 40, 20, -1), ["-1 mm", "between 0"]),
        (lambda: circle(0, 0, 0), ["radius", "0 mm", "more than 0"]),
        (lambda: circle(0, 0, -2), ["-2 mm"]),
        (lambda: slot(5, 6, 5, 6, 8), ["(5, 6) mm", "circle of radius 4 mm"]),
        (lambda: slot(0, 0, 10, 0, 0), ["width", "more than 0"]),
        (lambda: polygon([]), ["at least 3", "not 0"]),
        (lambda: polygon([(0, 0), (5, 0), (0, 0)]), ["at least 3", "not 2"]),
        (lambda: polygon([(0, 0), (5, 5), (10, 10)]), ["no area", "one line"]),
        (lambda: polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), ["crosses", "(5, 5) mm"]),
        (lambda: polygon([(0, 0), (9, 0), (9, 9), (4, 0), (0, 9)]), ["touches", "(4, 0) mm"]),
    ],
)
def test_what_cannot_be_cut_is_said_with_value_and_mend(make, words):
    with pytest.raises(DrawingError) as caught:
        make()
    for word in words:
        assert word in str(caught.value)


def test_arcs_that_cross_are_found():
    # Two half circles of radius 10 bulging towards each other across a strip 15 wide.
    rows = [
        (0, 0, 0),
        (1, 0, -1.0),
        (21, 0, 0),
        (22, 0, 0),
        (22, 15, 0),
        (21, 15, -1.0),
        (1, 15, 0),
    ]
    crossed = Region(outer=Loop(points=np.array([*rows, (0, 15, 0)], dtype=float)))
    with pytest.raises(DrawingError, match="the rim crosses or touches itself near"):
        check_region(crossed, "the rim")


def test_a_hole_across_the_edge_is_found():
    region = Region(outer=rect(0, 0, 20, 20).outer, holes=(circle(20, 10, 3).outer,))
    with pytest.raises(DrawingError, match=r"near \(20,"):
        check_region(region)
