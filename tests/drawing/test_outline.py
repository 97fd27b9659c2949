import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from toolpath.drawing.outline import Err, Loop, Region, arc_centre, area_of

# The tool contours of NISTIR 6556, Tables 12 and 13: offsets of a 3-4-5 triangle by 1 and 1.5.
# Each row: end point, I and J of a G2 to it, or None for a G1. All arcs are clockwise.
TABLE_12 = (
    (2.0, 3.0),
    [
        ((3.0, 2.0), (0.0, -1.0)),
        ((3.0, -1.0), None),
        ((2.0, -2.0), (-1.0, 0.0)),
        ((-2.0, -2.0), None),
        ((-2.6, -0.2), (0.0, 1.0)),
        ((1.4, 2.8), None),
        ((2.0, 3.0), (0.6, -0.8)),
    ],
)
TABLE_13 = (
    (2.0, 3.5),
    [
        ((3.5, 2.0), (0.0, -1.5)),
        ((3.5, -1.0), None),
        ((2.0, -2.5), (-1.5, 0.0)),
        ((-2.0, -2.5), None),
        ((-2.9, 0.2), (0.0, 1.5)),
        ((1.1, 3.2), None),
        ((2.0, 3.5), (0.9, -1.2)),
    ],
)


def contour(table):
    start, rows = table
    points = []
    for end, centre in rows:
        bulge = 0.0
        if centre is not None:
            c = complex(*start) + complex(*centre)
            turn = (complex(*end) - c) / (complex(*start) - c)
            sweep = np.angle(turn) % (-2 * math.pi)  # clockwise
            bulge = math.tan(sweep / 4)
        points.append((*start, bulge))
        start = end
    return Loop(points=np.array(points))


def arc_loop(chord, bulge):
    """An arc over a chord along x, closed by the chord."""
    return Loop(points=np.array([(0.0, 0.0, bulge), (chord, 0.0, 0.0)]))


@pytest.mark.parametrize(
    ("table", "area", "length"),
    [
        (TABLE_12, 18 + math.pi, 12 + 2 * math.pi),
        (TABLE_13, 24 + 2.25 * math.pi, 12 + 3 * math.pi),
    ],
)
def test_published_contours(table, area, length):
    # NISTIR 6556 Tables 12 and 13; area and perimeter by Steiner's formula from the triangle
    # (area 6, perimeter 12): 21.141593, 18.283185 and 31.068583, 21.424778.
    loop = contour(table)
    assert loop.area == pytest.approx(-area, abs=1e-9)  # clockwise
    assert loop.length == pytest.approx(length, abs=1e-9)
    assert Region(outer=loop).area == pytest.approx(area, abs=1e-9)


def test_table_13_is_table_12_offset_by_a_half():
    inner, outer = contour(TABLE_12), contour(TABLE_13)
    assert -outer.area == pytest.approx(-inner.area + 0.5 * inner.length + 0.25 * math.pi)
    grown = Polygon(inner.flatten(1e-5, Err.OUTWARD)).buffer(0.5, quad_segs=400)
    assert grown.area == pytest.approx(-outer.area, abs=1e-3)


@pytest.mark.parametrize(
    ("bulge", "theta_deg", "radius", "sagitta"),
    [
        (1.0, 180.0, 5.0, 5.0),
        (-0.5, -106.260205, 6.25, -2.5),
        (0.414213562, 90.0, 7.071068, 2.071068),
        (0.267949192, 60.0, 10.0, 1.339746),
        (2.414213562, 270.0, 7.071068, 12.071068),
    ],
)
def test_bulge_geometry_over_a_chord_of_ten(bulge, theta_deg, radius, sagitta):
    # DXF polyline convention: bulge = tan(theta / 4); R = c (1 + b^2) / (4 |b|), sagitta = b c / 2.
    # A positive bulge turns counter-clockwise, so it lies right of its chord: below the x axis.
    centre, found = arc_centre(np.array([0.0, 0.0]), np.array([10.0, 0.0]), bulge)
    assert found == pytest.approx(radius, abs=1e-6)
    assert centre[0] == pytest.approx(5.0)
    far = centre[1] - math.copysign(radius, bulge)
    assert far == pytest.approx(-sagitta, abs=1e-6)
    theta = math.radians(theta_deg)
    loop = arc_loop(10.0, bulge)
    assert loop.length == pytest.approx(10 + radius * abs(theta), abs=1e-5)
    assert loop.area == pytest.approx(radius**2 / 2 * (theta - math.sin(theta)), abs=1e-5)


@pytest.mark.parametrize("bulge", [1e-12, -1e-9, 1e-6, 0.99e-3, 1.01e-3, -1e-2])
def test_hardly_bent_arcs_keep_their_area(bulge):
    # For small b the segment is a parabola's: 2/3 chord x sagitta = c^2 b / 3 (Archimedes), the
    # next term b^2 / 5 of it.
    exact = 100.0**2 * bulge / 3 * (1 + bulge**2 / 5)
    assert arc_loop(100.0, bulge).area == pytest.approx(exact, rel=1e-6)


@pytest.mark.parametrize("bulge", [1e-12, -1e-10, 1e-7])
@pytest.mark.parametrize("err", list(Err))
def test_hardly_bent_arcs_are_flattened_where_they_are(bulge, err):
    points = np.array([(0.0, 0.0, bulge), (100.0, 0.0, 0.0), (50.0, 80.0, 0.0)])
    corners = Loop(points=points).flatten(5e-4, err)
    # the sagitta is b c / 2; a tangent stands at most twice as far off
    assert corners[1:2, 1] == pytest.approx([-bulge * 100 / 2], abs=abs(bulge) * 60 + 1e-13)
    assert np.ptp(corners[:, 0]) <= 100.0 + 1e-9


def test_an_arc_of_no_length_is_nothing():
    points = np.array([(0, 0, 0), (10, 0, 0.5), (10, 0, 0), (5, 8, 0)], dtype=float)
    loop = Loop(points=points)
    assert loop.area == pytest.approx(40.0)
    assert Polygon(loop.flatten(0.01, Err.OUTWARD)).area == pytest.approx(40.0)


@pytest.mark.parametrize("tolerance", [0.1, 0.0005])
@pytest.mark.parametrize("convex", [True, False])
@pytest.mark.parametrize("reverse", [True, False])
def test_flattening_errs_on_its_side_and_by_no_more(tolerance, convex, reverse):
    # A square with a half circle of radius 10 out of or into one side; truth is distance to its
    # centre.
    rows = [(-10, 0, 1 if convex else -1), (10, 0, 0), (20, 0, 0), (20, 30, 0), (-20, 30, 0)]
    loop = Loop(points=np.array([*rows, (-20, 0, 0)], dtype=float))
    loop = loop.reversed() if reverse else loop
    for err in Err:
        corners = loop.flatten(tolerance, err)
        assert Polygon(corners).is_valid
        x, y = corners.T
        low = corners[(np.abs(x) < 15) & (np.abs(y) > 1e-9) & (y < 29)]
        ends = np.array([[-10.0, 0.0], [10.0, 0.0]])
        arc = np.vstack(
            [ends[:1], low[np.argsort(np.arctan2(-low[:, 0], np.abs(low[:, 1])))[::-1]], ends[1:]]
        )
        middles = (arc[1:] + arc[:-1]) / 2
        reach = np.hypot(*np.vstack([arc, middles]).T) - 10.0
        outside_circle = (err is Err.OUTWARD) == convex
        if outside_circle:
            assert reach.min() >= -1e-12 and 0.3 * tolerance < reach.max() <= tolerance * 1.0001
        else:
            assert reach.max() <= 1e-12 and -tolerance * 1.0001 <= reach.min() < -0.3 * tolerance


@given(
    corners=st.lists(st.floats(5.0, 20.0), min_size=3, max_size=8),
    bulges=st.lists(st.floats(-0.3, 1.0), min_size=8, max_size=8),
    tolerance=st.sampled_from([0.2, 0.01, 0.0005]),
)
@settings(max_examples=60, deadline=None)
def test_flattenings_bracket_the_area(corners, bulges, tolerance):
    n = len(corners)
    angles = 2 * np.pi * np.arange(n) / n
    rows = [
        (r * np.cos(a), r * np.sin(a), b) for r, a, b in zip(corners, angles, bulges, strict=False)
    ]
    loop = Loop(points=np.array(rows))
    turned = loop.reversed()
    assert turned.area == pytest.approx(-loop.area, rel=1e-9, abs=1e-9)
    assert turned.length == pytest.approx(loop.length, rel=1e-9)
    if loop.area < 1.0:
        return
    areas = {}
    for err in Err:
        x, y = loop.flatten(tolerance, err).T
        areas[err] = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert areas[Err.INWARD] <= loop.area + 1e-7 <= areas[Err.OUTWARD] + 2e-7
    assert areas[Err.OUTWARD] - areas[Err.INWARD] <= 2 * tolerance * loop.length + 1e-7


def test_a_loop_with_an_error_is_moved_by_it():
    # A rectangle 40 x 20 drawn to within 0.01: what is removed stays within 39.98 x 19.98 and what
    # is kept reaches 40.02 x 20.02, both by two hundredths of the error more at most.
    corners = [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)]
    for reverse in (False, True):
        points = Loop.of_polygon(corners).points
        loop = Loop(points=points, error=0.01)
        loop = loop.reversed() if reverse else loop
        inner = Polygon(loop.flatten(0.0005, Err.INWARD))
        outer = Polygon(loop.flatten(0.0005, Err.OUTWARD))
        assert shapely.box(0.0103, 0.0103, 39.9897, 19.9897).within(inner)
        assert inner.within(shapely.box(0.01, 0.01, 39.99, 19.99))
        assert outer.contains(shapely.box(-0.01, -0.01, 40.01, 20.01))
        assert outer.within(shapely.box(-0.0103, -0.0103, 40.0103, 20.0103))
        assert inner.exterior.is_ccw is not reverse and outer.exterior.is_ccw is not reverse
        assert loop.area == pytest.approx(-800.0 if reverse else 800.0)


def test_a_neck_thinner_than_the_error_falls_off_on_the_safe_side():
    dumbbell = shapely.union_all(
        [shapely.box(0, 0, 10, 10), shapely.box(20, 0, 26, 6), shapely.box(9, 3, 21, 3.001)]
    )
    points = Loop.of_polygon(list(dumbbell.exterior.coords)[:-1]).points
    loop = Loop(points=points, error=0.001)
    inner = Polygon(loop.flatten(0.0005, Err.INWARD))
    assert inner.within(shapely.box(0.001, 0.001, 9.999, 9.999)) and inner.area > 99.9
    assert Polygon(loop.flatten(0.0005, Err.OUTWARD)).contains(dumbbell)
    with pytest.raises(ValueError, match="thinner than twice"):
        Loop(points=points, error=6.0).flatten(0.0005, Err.INWARD)


def test_holes_err_the_other_way():
    ring = Region(
        outer=Loop(points=np.array([(-20.0, 0.0, 1.0), (20.0, 0.0, 1.0)])),
        holes=(Loop(points=np.array([(-5.0, 0.0, 1.0), (5.0, 0.0, 1.0)]), error=0.01),),
    )
    assert ring.outer.area > 0 > ring.holes[0].area
    assert ring.holes[0].error == 0.01
    assert ring.area == pytest.approx(math.pi * (400 - 25))
    inward, outward = (ring.polygon(0.01, err) for err in (Err.INWARD, Err.OUTWARD))
    centre = Point(0, 0)
    assert inward.interiors[0].distance(centre) >= 5.01
    assert max(centre.distance(Point(p)) for p in outward.interiors[0].coords) <= 4.99 + 1e-9
    assert inward.area < ring.area < outward.area
    assert inward.difference(outward).area < 1e-9


def test_the_area_of_an_outline_is_the_sum_of_its_regions():
    far = Region(outer=Loop.of_polygon([(50, 0), (60, 0), (60, 10), (50, 10)]))
    near = Region(outer=Loop.of_polygon([(0, 0), (0, 10), (10, 10), (10, 0)]))
    assert area_of((near, far), 0.01, Err.INWARD).area == pytest.approx(200.0)
    assert area_of((), 0.01, Err.INWARD).is_empty


@pytest.mark.parametrize(
    ("points", "error"),
    [
        (np.zeros((1, 3)), 0.0),
        (np.zeros((4, 2)), 0.0),
        (np.array([(0, 0, math.nan), (1, 1, 0)]), 0.0),
        (np.array([(0, 0, 1), (1, 1, 1)]), -0.1),
        (np.array([(0, 0, 1), (1, 1, 1)]), math.inf),
    ],
)
def test_what_is_no_loop(points, error):
    with pytest.raises(ValueError):
        Loop(points=points, error=error)


def test_points_are_a_read_only_copy():
    mine = np.array([(0.0, 0.0, 1.0), (1.0, 0.0, 1.0)])
    loop = Loop(points=mine)
    mine[0, 0] = 99.0
    assert loop.points[0, 0] == 0.0
    with pytest.raises(ValueError):
        loop.points[0, 0] = 1.0
