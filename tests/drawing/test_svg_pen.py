import math

import numpy as np
import pytest
import shapely

from toolpath.drawing.chain import chain
from toolpath.drawing.outline import Err
from toolpath.drawing.svg_pen import Pen, draw_ellipse, draw_polygon, draw_rect, read_points
from toolpath.errors import DrawingError


def drawn(data, matrix=None):
    pen = Pen()
    if matrix is not None:
        pen.matrix = np.array(matrix, dtype=float)
    pen.path(data)
    return pen


def area(data):
    return sum(region.area for region in chain(drawn(data).runs, 0.01, "x"))


# Areas by their closed formulas; the same square in every way of the grammar (SVG 1.1, 8.3).
@pytest.mark.parametrize(
    "data",
    [
        "M0 0L10 0L10 10L0 10Z",
        "m0,0 10,0 0,10 -10,0z",
        "M0 0H10V10H0Z",
        "M 0 0 h10v10h-10 z",
        "M0,0,10,0,10,10,0,10,0,0",
        "M-.0.0L1e1-0 10+10 0,10.z",
        "M0 0L10 0L10 10L0 10",
    ],
)
def test_straight_paths(data):
    pen = drawn(data)
    (run,) = pen.runs
    assert run.error == 0.0
    assert run.points[:4, :2].tolist() == [[0, 0], [10, 0], [10, 10], [0, 10]]
    assert (len(run.points) == 5) is (data != "M0 0L10 0L10 10L0 10")


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("M10 0a10 10 0 0 1-20 0a10 10 0 0 1 20 0z", math.pi * 100),
        ("M10 0a10 10 0 01-20 0a10 10 0 0120 0z", math.pi * 100),
        # F.6.6: radii too small are enlarged until they reach.
        ("M10 0a1 1 0 0 1-20 0a3 3 0 1 1 20 0z", math.pi * 100),
        # The segment of a quarter turn (chord 10 sqrt 2): r² (pi / 2 - 1) / 2, and the rest of it.
        ("M10 0A10 10 0 0 1 0 10Z", 100 * (math.pi / 2 - 1) / 2),
        ("M10 0A10 10 0 1 0 0 10Z", 100 * (math.pi - (math.pi / 2 - 1) / 2)),
        # F.6.2: no radius is a line, no length nothing.
        ("M0 0L10 0A0 5 0 0 1 10 10a5 5 0 1 1 0 0L0 10Z", 100),
    ],
)
def test_arcs_of_circles_stay_arcs(data, expected):
    runs = drawn(data).runs
    assert all(run.error == 0.0 for run in runs)
    assert area(data) == pytest.approx(expected, rel=1e-9)


# The curve by its polynomials (Bernstein's form), at points so close that chords do not matter.
def bezier_area(points):
    t = np.linspace(0.0, 1.0, 20001)
    weights = [math.comb(3, i) * t**i * (1 - t) ** (3 - i) for i in range(4)]
    x, y = (sum(w * p[axis] for w, p in zip(weights, points, strict=True)) for axis in (0, 1))
    return abs(float(shapely.Polygon(np.column_stack([x, y])).area))


@pytest.mark.parametrize(
    ("data", "control"),
    [
        ("M0 0C0 40 60 40 60 0Z", [(0, 0), (0, 40), (60, 40), (60, 0)]),
        ("M0 0c0 40 60 40 60 0z", [(0, 0), (0, 40), (60, 40), (60, 0)]),
        ("M0 0Q30 60 60 0Z", [(0, 0), (20, 40), (40, 40), (60, 0)]),
        ("M0 0S60 40 60 0Z", [(0, 0), (0, 0), (60, 40), (60, 0)]),
    ],
)
def test_curves_are_followed_within_the_tolerance(data, control):
    (run,) = drawn(data).runs
    assert 0.0 < run.error <= 0.0005
    assert area(data) == pytest.approx(bezier_area(control), abs=0.0005 * 160)


def test_smooth_curves_mirror_the_control_before():
    # SVG 1.1, 8.3.6 and 8.3.7: the same as with the mirrored control written out.
    for short, long in [
        ("M0 0C0 9 20 9 20 0S40-9 40 0Z", "M0 0C0 9 20 9 20 0C20-9 40-9 40 0Z"),
        ("M0 0Q10 9 20 0T40 0Z", "M0 0Q10 9 20 0Q30-9 40 0Z"),
    ]:
        a, b = drawn(short).runs[0].points, drawn(long).runs[0].points
        assert a == pytest.approx(b)


def test_curves_that_are_straight_have_no_error():
    (run,) = drawn("M0 0C1 0 2 0 3 0L3 3Q1.5 3 0 3Z").runs
    assert run.error == 0.0 and len(run.points) == 5


def test_curves_lines_and_arcs_keep_their_order():
    (run,) = drawn("M0 0H10Q15 5 10 10H0A5 5 0 0 1 0 0Z").runs
    flat = chain([run], 0.01, "x")[0].polygon(1e-4, Err.OUTWARD)
    # The square, two thirds of 10 by 2.5 under the parabola, half a circle of 5 on the left.
    assert flat.area == pytest.approx(100 + 2 / 3 * 25 + math.pi * 12.5, abs=0.03)
    assert flat.bounds == pytest.approx((-5, 0, 12.5, 10), abs=0.002)


def test_maps_that_keep_shapes_keep_arcs_and_turn_their_sense():
    circle = "M10 0a10 10 0 0 1-20 0a10 10 0 0 1 20 0z"
    (run,) = drawn(circle, [[0, -2, 7], [-2, 0, 8], [0, 0, 1]]).runs
    assert run.error == 0.0 and (run.points[:2, 2] < -0.99).all()
    (region,) = chain([run], 0.01, "x")
    assert region.area == pytest.approx(math.pi * 400)
    (run,) = drawn(circle, [[2, 0, 7], [0, 1, 8], [0, 0, 1]]).runs
    assert run.error == 0.0005
    (region,) = chain([run], 0.01, "x")
    assert region.area == pytest.approx(math.pi * 200, abs=0.05)


def test_a_turned_ellipse_reaches_as_far_as_its_formula_says():
    # Support of an ellipse turned by 30 degrees: sqrt((20 cos)² + (10 sin)²) along x.
    (run,) = drawn("M17.320508 10A20 10 30 1 1-17.320508-10A20 10 30 1 1 17.320508 10Z").runs
    reach = math.hypot(20 * math.cos(math.pi / 6), 10 * math.sin(math.pi / 6))
    assert np.abs(run.points[:, 0]).max() == pytest.approx(reach, abs=0.002)


def test_basic_shapes():
    pen = Pen()
    draw_rect(pen, (0, 0), (40, 20), (3, 3))
    draw_rect(pen, (100, 0), (40, 20), (0, 5))
    draw_rect(pen, (200, 0), (40, 20), (99, 10))
    draw_ellipse(pen, (300, 0), (10, 10))
    draw_ellipse(pen, (400, 0), (20, 10))
    draw_polygon(pen, read_points("500,0 510,0 510-10"))
    areas = [region.area for region in chain(pen.runs, 0.01, "x")]
    corner = 4 - math.pi
    # 9.2: radii of more than half a side are cut to it: the third is an ellipse of 20 by 10.
    expected = [800 - corner * 9, 800, 200 * math.pi, 100 * math.pi, 200 * math.pi, 50]
    assert areas == pytest.approx(expected, abs=0.05)


WRONG = [
    ("M0 0L5", "too few numbers"),
    ("L5 5", "breaks off"),
    ("M0 0 a5 5 0 2 0 3 3", "too few numbers"),
    ("M0 0L5 5 x 3", '"x"'),
    ("M0 0L nan 3", '"nn"'),
    ("M0 0L5,5..", "holds"),
    ("M0 0H1e400", "reaches beyond"),
    ("M0 0H1e9V5z", "reaches beyond 1 km"),
    ("M0 0C1e300 1e300 -1e300 5 9 9z", "reaches beyond"),
    ("M0 0A1e-320 1e-320 0 0 1 9 9z", "radius|reaches beyond"),
    ("M0 0h1v1z" * 2001, "more than 2000 paths"),
    ("M0 0" + "h1" * 200_001, "more than 200000 edges"),
    ("M0 0" + "s9 9 9 0" * 40_000, "200000"),
    ("M0 0" + "a1 1 0 0 1 1 1" * 20_001, "more than 20000 arcs"),
    ("M0 0" + "h1" * 500_000, "more than 1000000 characters"),
]


@pytest.mark.parametrize(("data", "words"), WRONG, ids=[data[:20] for data, _ in WRONG])
def test_what_is_no_path(data, words):
    with pytest.raises(DrawingError, match=words):
        drawn(data)


def test_shapes_without_a_size_and_odd_points():
    for draw in (
        lambda pen: draw_rect(pen, (0, 0), (0, 5), (0, 0)),
        lambda pen: draw_ellipse(pen, (0, 0), (5, -1)),
        lambda pen: draw_polygon(pen, [(0, 0)]),
        lambda pen: draw_polygon(pen, read_points("1 2 3")),
        lambda pen: draw_polygon(pen, read_points("1 2 three 4")),
        lambda pen: draw_polygon(pen, [(0, 0), (math.nan, 1), (3, 3)]),
    ):
        with pytest.raises(DrawingError):
            draw(Pen())
