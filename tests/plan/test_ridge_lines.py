import numpy as np
import shapely

from toolpath.plan.ridge_lines import lines_through


def test_a_ridge_in_an_arc_gets_one_line_along_it():
    angle = np.linspace(0.2, 2.4, 300)
    rng = np.random.default_rng(5)
    places = 10.0 * np.column_stack([np.cos(angle), np.sin(angle)]) + rng.normal(0, 0.02, (300, 2))
    (line,) = lines_through(places, np.full(300, 0.6))
    path = shapely.LineString(line)
    assert abs(path.length - 22.0) < 1.0
    assert max(path.distance(shapely.Point(p)) for p in places) < 0.4 * 0.6


def test_every_place_is_passed_wherever_it_lies():
    rng = np.random.default_rng(6)
    places = rng.uniform(0, 8, (200, 2))
    apart = np.full(200, 0.5)
    lines = shapely.MultiLineString([each.tolist() for each in lines_through(places, apart)])
    assert max(lines.distance(shapely.Point(p)) for p in places) <= 0.4 * 0.5 + 1e-9
    assert lines_through(np.empty((0, 2)), np.empty(0)) == []
