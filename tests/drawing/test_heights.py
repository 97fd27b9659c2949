import numpy as np
import pytest
import shapely
from scipy.interpolate import RegularGridInterpolator

from toolpath.drawing import heights
from toolpath.drawing.heights import grid_surface, is_point_list, point_surface
from toolpath.errors import DrawingError


def over(surface, places):
    """Height of the surface over places (n, 2), by barycentric coordinates in plan."""
    found = np.full(len(places), np.nan)
    for triangle in surface.triangles:
        a, b, c = surface.points[triangle]
        matrix = np.array([[b[0] - a[0], c[0] - a[0]], [b[1] - a[1], c[1] - a[1]]])
        share = np.linalg.solve(matrix, (places - a[:2]).T)
        inside = (share >= -1e-9).all(axis=0) & (share.sum(axis=0) <= 1.0 + 1e-9)
        found[inside] = a[2] + share[0, inside] * (b[2] - a[2]) + share[1, inside] * (c[2] - a[2])
    return found


def plan_area(surface):
    corners = surface.points[surface.triangles][:, :, :2]
    rings = np.concatenate([corners, corners[:, :1]], axis=1)
    areas = [shapely.LinearRing(ring) for ring in rings]
    assert all(ring.is_ccw for ring in areas)
    return sum(shapely.Polygon(ring).area for ring in areas)


def test_the_samples_lie_at_the_corners_of_the_grid():
    surface = grid_surface(np.array([[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]), (20.0, 30.0))
    assert surface.points.tolist() == [
        *([0, 0, 0], [10, 0, 1], [20, 0, 2]),
        *([0, 30, 3], [10, 30, 4], [20, 30, 5]),
    ]
    assert len(surface.triangles) == 4 and plan_area(surface) == pytest.approx(600)
    assert not surface.points.flags.writeable and not surface.triangles.flags.writeable


def test_the_surface_is_never_lower_than_either_way_to_be_linear():
    # Against scipy's bilinear interpolation, and against both splits of each square.
    rng = np.random.default_rng(5)
    grid = rng.uniform(0.0, 9.0, (6, 5))
    surface = grid_surface(grid, (40.0, 60.0))
    places = rng.uniform((0, 0), (40, 60), (4000, 2))
    found = over(surface, places)
    y, x = np.linspace(0, 60, 6), np.linspace(0, 40, 5)
    assert (found >= RegularGridInterpolator((y, x), grid)(places[:, ::-1]) - 1e-9).all()
    column, row = np.floor(places / (10, 12)).astype(int).T
    u, v = (places / (10, 12) - np.column_stack([column, row])).T
    a, b = grid[row, column], grid[row, column + 1]
    c, d = grid[row + 1, column + 1], grid[row + 1, column]
    rising = np.where(u >= v, a + (b - a) * u + (c - b) * v, a + (c - d) * u + (d - a) * v)
    falling = np.where(
        u + v <= 1, a + (b - a) * u + (d - a) * v, c + (d - c) * (1 - u) + (b - c) * (1 - v)
    )
    assert found == pytest.approx(np.maximum(rising, falling), abs=1e-9)


def points_file(tmp_path, rows, header="x,y,z", sep=","):
    path = tmp_path / "pebble.csv"
    lines = [header, *(sep.join(str(value) for value in row) for row in rows)]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


DOME = [(0, 0, 1), (10, 0, 1), (10, 10, 1), (0, 10, 1), (5, 5, 4)]


@pytest.mark.parametrize(
    ("header", "sep", "known"),
    [
        ("x,y,z", ",", True),
        ("X; Y; Z", ";", True),
        ("x\ty\tz", "\t", True),
        (" x y z ", " ", True),
        ("1,2,3", ",", False),
        ("x,y", ",", False),
    ],
)
def test_a_list_of_points_is_known_by_its_first_line(tmp_path, header, sep, known):
    path = points_file(tmp_path, DOME, header, sep)
    assert is_point_list(path) is known
    assert not is_point_list(path.rename(tmp_path / "pebble.npy"))


def test_points_are_joined_to_a_surface(tmp_path):
    surface = point_surface(points_file(tmp_path, DOME), 25.4)
    assert plan_area(surface) == pytest.approx(254.0**2)
    places = np.array([(5, 5), (2.5, 5), (5, 1), (9, 9)]) * 25.4
    # A pyramid of height 3 on a block of 1: 1 + 3 times the share of the way in.
    assert over(surface, places) == pytest.approx(np.array([4, 2.5, 1.6, 1.6]) * 25.4)


def test_every_point_measured_stands_in_the_surface(tmp_path):
    rng = np.random.default_rng(8)
    rows = np.column_stack([rng.uniform(0, 50, (300, 2)), rng.uniform(0, 9, 300)])
    surface = point_surface(points_file(tmp_path, rows.tolist()), 1.0)
    assert set(np.unique(surface.triangles)) == set(range(300))
    hull = shapely.MultiPoint(rows[:, :2]).convex_hull
    assert plan_area(surface) == pytest.approx(hull.area, rel=1e-9)


WRONG = [
    (DOME[:2], "it holds 2 points"),
    ([*DOME, (10, 0, 2)], r"points 2 and 6 lie at one place, \(10, 0\) mm: keep the higher"),
    ([*DOME, (1e-14, 0, 2)], "lie at one place"),
    ([(i, 2 * i, 1) for i in range(9)], "lie on one line"),
    ([*DOME, (3, 4, -0.5)], "point 6 has z = -0.5"),
    ([(x, y, 0) for x, y, _ in DOME], "every z is 0"),
    ([*DOME, (3, "nan", 4)], "point 6 is not three numbers"),
    ([*DOME, (3, 1e300, 4)], "point 6 is not three numbers"),
    ([*DOME, (3, 4)], "as many in every line"),
    ([(1, 2, 3, 4)] * 3, "its lines hold 4 numbers"),
    ([], "no number"),
]


@pytest.mark.parametrize(("rows", "words"), WRONG)
def test_lists_that_cannot_be_used(tmp_path, rows, words):
    with pytest.raises(DrawingError, match=words) as caught:
        point_surface(points_file(tmp_path, rows), 1.0)
    assert str(caught.value).startswith("pebble.csv: ")


def test_a_list_may_be_too_long(tmp_path, monkeypatch):
    monkeypatch.setattr(heights, "MOST_POINTS", 4)
    with pytest.raises(DrawingError, match="it holds 5 points: from 3 to 4 are read"):
        point_surface(points_file(tmp_path, DOME), 1.0)
