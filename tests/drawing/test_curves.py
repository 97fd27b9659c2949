import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline, make_interp_spline

from toolpath.drawing import curves
from toolpath.drawing.curves import Run, ellipse, mapped, spline, turn_path
from toolpath.drawing.outline import Err, Loop
from toolpath.errors import DrawingError

TOL = 0.0005


def chords(run):
    assert not run.points[:, 2].any()
    return shapely.LineString(run.points[:, :2])


def assert_within(run, truth, tolerance):
    """Both ways: no point of the truth is further from the chords, no chord from the truth."""
    assert run.error <= tolerance
    line, dense = chords(run), shapely.LineString(truth)
    assert shapely.distance(line, shapely.points(truth)).max() <= tolerance
    middles = (run.points[1:, :2] + run.points[:-1, :2]) / 2
    sampled = shapely.distance(dense, shapely.points(middles)).max()
    assert sampled <= tolerance + np.hypot(*np.diff(truth, axis=0).T).max() ** 2
    assert run.points[[0, -1], :2] == pytest.approx(truth[[0, -1]], abs=1e-9)


def matrix_cubic(control, count=400):
    """A uniform cubic B-spline by its matrix formula (from memory, any textbook of curves):
    p(u) = [1 u u^2 u^3] / 6 . M . [P0 P1 P2 P3]."""
    m = np.array([[1, 4, 1, 0], [-3, 0, 3, 0], [3, -6, 3, 0], [-1, 3, -3, 1]]) / 6
    u = np.linspace(0, 1, count)[:, None] ** np.arange(4)
    return np.concatenate([u @ m @ control[i : i + 4] for i in range(len(control) - 3)])


CONTROL = np.array([(0, 0), (30, 40), (60, -20), (90, 35), (120, 0), (100, -50), (40, -60)], float)


@pytest.mark.parametrize("tolerance", [0.1, TOL])
def test_an_unclamped_cubic_follows_its_matrix_formula(tolerance):
    run = spline(CONTROL, np.arange(11.0), 3, tolerance)
    assert_within(run, matrix_cubic(CONTROL), tolerance)


def test_a_closed_periodic_cubic_closes():
    wrapped = np.vstack([CONTROL, CONTROL[:3]])
    run = spline(wrapped, np.arange(14.0) * 7 - 3, 3, TOL)
    assert_within(run, matrix_cubic(wrapped), TOL)
    assert run.points[0, :2] == pytest.approx(run.points[-1, :2], abs=1e-9)


def test_uneven_clamped_knots_follow_de_boor():
    knots = np.array([0, 0, 0, 0, 1, 1, 5, 9, 9, 9, 9.0])
    run = spline(CONTROL, knots, 3, TOL)
    u = np.linspace(0, 9, 6000)
    assert_within(run, np.array([de_boor(x, CONTROL, knots, 3) for x in u]), TOL)


def de_boor(u, control, knots, k):
    """Cox and de Boor's recursion, straight from its definition."""
    span = min(int(np.searchsorted(knots, u, "right")) - 1, len(control) - 1)
    d = [control[j + span - k] for j in range(k + 1)]
    for r in range(1, k + 1):
        for j in range(k, r - 1, -1):
            low, high = knots[j + span - k], knots[j + 1 + span - r]
            share = (u - low) / (high - low)
            d[j] = (1 - share) * d[j - 1] + share * d[j]
    return d[k]


def test_a_curve_through_points_passes_them():
    t = np.linspace(0, 5, 12)
    through = np.column_stack([20 * np.cos(t), 12 * np.sin(t)])
    made = make_interp_spline(t, through, k=5)
    run = spline(made.c, made.t, 5, TOL)
    assert shapely.distance(chords(run), shapely.points(through)).max() <= TOL


def nine_point_circle(radius):
    w = math.sqrt(0.5)
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    knots = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4.0])
    return np.array(square, float) * radius, knots, np.array([1, w, 1, w, 1, w, 1, w, 1])


@pytest.mark.parametrize("tolerance", [0.05, TOL])
def test_the_nine_point_nurbs_circle_is_a_circle(tolerance):
    # The rational quadratic circle of nine points is exact (from memory: any textbook on NURBS).
    control, knots, weights = nine_point_circle(25.0)
    run = spline(control, knots, 2, tolerance, weights)
    reach = np.hypot(*run.points[:, :2].T)
    assert reach == pytest.approx(25.0, abs=1e-9)
    middles = (run.points[1:, :2] + run.points[:-1, :2]) / 2
    sagitta = 25.0 - np.hypot(*middles.T)
    assert sagitta.min() >= 0 and sagitta.max() <= run.error <= tolerance
    area = shapely.Polygon(run.points[:, :2]).area
    assert area == pytest.approx(math.pi * 625, abs=50 * math.pi * tolerance)
    # the hull bound is at most about twice the truth, so chords are not wasted
    assert len(run.points) < 4 * math.pi / math.acos(1 - tolerance / 25.0)


def test_weights_equal_to_each_other_change_nothing():
    knots = np.arange(11.0)
    plain = spline(CONTROL, knots, 3, TOL)
    weighted = spline(CONTROL, knots, 3, TOL, np.full(7, 2.5))
    assert weighted.points == pytest.approx(plain.points, abs=1e-9)


def test_degree_one_is_its_polygon():
    run = spline(CONTROL[:3], np.array([0, 0, 1, 2, 2.0]), 1, TOL)
    assert run.points[:, :2] == pytest.approx(CONTROL[:3])
    assert run.error == 0.0


@given(
    control=st.lists(
        st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=5, max_size=9, unique=True
    ),
    steps=st.lists(st.sampled_from([0.0, 0.3, 1.0, 4.0]), min_size=20, max_size=20),
    weights=st.lists(st.floats(0.1, 10), min_size=9, max_size=9),
    degree=st.integers(1, 4),
)
@settings(max_examples=30, deadline=None)
def test_no_point_of_a_spline_is_further_than_the_bound(control, steps, weights, degree):
    n, k = len(control), degree
    knots = np.cumsum(steps[: n + k + 1])
    knots[1:] += 0.01 * np.arange(n + k)  # no knot so often repeated that the curve jumps
    points, w = np.array(control, dtype=float), np.array(weights[:n])
    run = spline(points, knots, k, 0.02, w)
    above = BSpline(knots, points * w[:, None], k)
    below = BSpline(knots, w, k)
    u = np.linspace(knots[k], knots[n], 500)
    truth = above(u) / below(u)[:, None]
    far = shapely.distance(chords(run), shapely.points(truth)).max()
    assert far <= run.error + 1e-9 and run.error <= 0.02


@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("axes", [(60.0, 25.0), (200.0, 3.0), (10.0, 9.99)])
def test_a_flattened_ellipse_lies_on_its_safe_side(axes, inside):
    # (x / a)^2 + (y / b)^2 decides exactly. Corners and middles of chords: the ellipse is convex,
    # so a chord inside has both ends inside, and one outside has its whole length outside only if
    # the nearest point of it is; the latter is found from the line's distance after scaling.
    a, b = axes
    run = ellipse(np.zeros(2), np.diag([a, b]), 0.0, 2 * math.pi, TOL)
    loop = Loop(points=run.points[:-1], error=run.error)
    corners = loop.flatten(TOL, Err.INWARD if inside else Err.OUTWARD)
    scaled = corners / (a, b)
    if inside:
        assert (np.hypot(*scaled.T) < 1.0).all()
        assert shapely.Polygon(corners).area > math.pi * a * b - 4 * (a + b) * 3.1 * TOL
    else:
        edges = shapely.linestrings(np.stack([scaled, np.roll(scaled, -1, axis=0)], axis=1))
        assert shapely.distance(edges, shapely.Point(0, 0)).min() > 1.0
        assert shapely.Polygon(corners).area < math.pi * a * b + 4 * (a + b) * 3.1 * TOL


def test_a_spline_pocket_lies_inside_the_true_curve():
    control, knots, weights = nine_point_circle(25.0)
    run = spline(control, knots, 2, TOL, weights)
    loop = Loop(points=run.points[:-1], error=run.error)
    assert np.hypot(*loop.flatten(TOL, Err.INWARD).T).max() < 25.0
    outer = shapely.LinearRing(loop.flatten(TOL, Err.OUTWARD))
    assert outer.distance(shapely.Point(0, 0)) > 25.0


def test_conjugate_axes_need_not_be_square():
    # A circle of 10 sheared by x += y: area is kept, pi 100; conjugate half axes (10, 0), (10, 10).
    run = ellipse(np.array([5.0, 6.0]), np.array([[10, 10], [0, 10.0]]), 0.0, 2 * math.pi, TOL)
    xy = run.points[:, :2] - (5, 6)
    assert np.hypot(xy[:, 0] - xy[:, 1], xy[:, 1]) == pytest.approx(10.0)
    assert shapely.Polygon(xy).area == pytest.approx(100 * math.pi, abs=0.1)


def test_an_even_ellipse_stays_an_arc():
    run = ellipse(np.zeros(2), np.array([[0, -7], [7, 0.0]]), 0.0, 2 * math.pi, TOL)
    assert run.error == 0.0 and len(run.points) == 3
    assert Loop(points=run.points[:-1]).area == pytest.approx(49 * math.pi)


@pytest.mark.parametrize(
    ("first", "last", "sweep"),
    [(350, 10, 20), (0, 360, 360), (45, 45, 360), (10, 350, 340), (-90, 90, 180), (720, 90, 90)],
)
def test_turns_run_counter_clockwise(first, last, sweep):
    path = turn_path(math.radians(first), math.radians(last))
    assert 4 * np.degrees(np.arctan(path[:-1, 2])).sum() == pytest.approx(sweep)
    assert np.hypot(*path[:, :2].T) == pytest.approx(1.0)
    assert path[-1, :2] == pytest.approx(
        [math.cos(math.radians(last)), math.sin(math.radians(last))]
    )
    assert (np.abs(path[:, 2]) <= 1 + 1e-12).all()


TURN = np.array([[0.0, -2.0], [2.0, 0.0]])
MIRROR = np.array([[-1.0, 0.0], [0.0, 1.0]])


@pytest.mark.parametrize(("linear", "sign"), [(TURN, 1), (MIRROR, -1), (TURN @ MIRROR, -1)])
def test_maps_that_keep_shapes_keep_arcs(linear, sign):
    path = np.array([(0, 0, 0.5), (10, 0, 2.414213562), (10, 10, 9)], float)
    run = mapped(path, linear, np.array([3.0, 4.0]), TOL)
    assert run.error == 0.0
    assert len(run.points) == 4  # the arc of 270 degrees is two of 135
    assert run.points[[0, 1, 3], :2] == pytest.approx(path[:, :2] @ linear.T + (3, 4))
    assert run.points[:3, 2] == pytest.approx(
        sign * np.array([0.5, math.tan(math.radians(135 / 4)), math.tan(math.radians(135 / 4))])
    )
    # both halves stand on the circle of the whole: R = c (1 + b^2) / (4 b) = 7.071068
    centre = np.array([15.0, 5.0]) @ linear.T + (3, 4)
    scale = math.sqrt(abs(np.linalg.det(linear)))
    assert np.hypot(*(run.points[1:, :2] - centre).T) == pytest.approx(7.071068 * scale, abs=1e-6)


def test_arcs_too_flat_to_have_a_centre_are_lines():
    # sagitta = b c / 2: 0.5e-6 mm and 50e-6 mm over a chord of 100 mm
    path = np.array([(0, 0, 1e-8), (100, 0, 1e-6), (100, 100, 0)], float)
    run = mapped(path, np.eye(2), np.zeros(2), TOL)
    assert run.points[:, 2] == pytest.approx([0.0, 1e-6, 0.0], abs=1e-20)


def test_uneven_scale_turns_an_arc_into_part_of_an_ellipse():
    path = np.array([(10, 0, 1.0), (-10, 0, 0.0), (-20, 0, 0.0)])
    run = mapped(path, np.diag([3.0, 0.5]), np.zeros(2), TOL)
    arc = run.points[:-1]
    assert (arc[:, 0] / 30) ** 2 + (arc[:, 1] / 5) ** 2 == pytest.approx(1.0)
    assert 0 < run.error <= TOL and run.points[-1, 0] == -60


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: mapped(turn_path(0, 1), np.diag([1.0, 0.0]), np.zeros(2), TOL), "squeezed"),
        (lambda: spline(CONTROL, np.arange(10.0), 3, TOL), "10 knots"),
        (lambda: spline(CONTROL, np.arange(11.0)[::-1], 3, TOL), "fall"),
        (lambda: spline(CONTROL, np.zeros(11), 3, TOL), "span nothing"),
        (lambda: spline(CONTROL, np.arange(11.0), 3, TOL, np.array([1, 1, 0, 1, 1, 1, 1.0])), "0"),
        (lambda: spline(CONTROL, np.arange(11.0), 3, TOL, np.ones(3)), "3 weights"),
        (lambda: spline(CONTROL * math.nan, np.arange(11.0), 3, TOL), "not finite"),
        (lambda: spline(CONTROL, np.arange(7.0), 0, TOL), "degree of 0"),
        (lambda: spline(CONTROL, np.arange(20.0), 12, TOL), "degree of 12"),
        (lambda: spline(CONTROL * 1e15, np.arange(11.0), 3, TOL), "unit of the drawing"),
        (lambda: spline(CONTROL, np.array([0, 0, 0, 1, 1, 1, 2, 2, 2, 2.0]), 2, TOL), "jumps"),
        (lambda: ellipse(np.zeros(2), np.diag([1e9, 1e8]), 0, 6.28, TOL), "unit of the drawing"),
    ],
)
def test_broken_curves_are_refused(make, words):
    with pytest.raises(DrawingError, match=words):
        make()


def test_the_worst_case_of_halving_is_bounded(monkeypatch):
    monkeypatch.setattr(curves, "MOST_POINTS", 100)
    with pytest.raises(DrawingError, match="more than 100 chords"):
        spline(CONTROL, np.arange(11.0), 3, TOL)


def test_runs_have_no_error_unless_they_say_so():
    assert Run(points=np.zeros((2, 3))).error == 0.0
