import math

import numpy as np
import pytest

from toolpath.motion.moves import Kind
from toolpath.plan.route import Route
from toolpath.plan.surface import SAMPLE, Line, line_over, walk


class Dome:
    """Stands in for tips: a bound that is a dome, exact, without slack."""

    def lowest(self, xy, slack):
        away = np.maximum(np.hypot(*np.asarray(xy).T) - slack, 0.0)
        return np.where(away < 6.0, -2.0 - away**2 / 8.0, -np.inf)


def route_at(shop, start=(8.0, 0.0)):
    return Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=start)


def places_on(moves):
    """(n, 3) points of straight feed moves, close together."""
    share = np.linspace(0.0, 1.0, 41)[:, None]
    feeds = [m for m in moves if m.kind is Kind.LINE]
    return np.concatenate([(1 - share) * m.start + share * np.array(m.end) for m in feeds])


def test_a_line_stays_over_the_bound_and_close_to_it(shop):
    line = line_over(np.array([[8.0, 1.0], [-8.0, 1.0]]), Dome(), -5.0)
    assert line.heights[0] == line.heights[-1] == -5.0
    assert np.hypot(*np.diff(line.points, axis=0).T).max() <= SAMPLE + 1e-12
    route = route_at(shop, (8.0, 1.0))
    route.sink(-5.0)
    done = len(route.moves)
    walk(route, line)
    on = places_on(route.moves[done:])
    bound = np.maximum(Dome().lowest(on[:, :2], 0.0), -5.0)
    over = on[:, 2] - bound
    assert over.min() >= -1e-9
    # 0.04 and 0.05 more than asked at a slope of at most 1.25 over the slack of 0.08 and a sample
    away = np.hypot(*on[:, :2].T)
    assert over[np.abs(away - 6.0) > 0.3].max() <= 0.04 + 0.05 + 1.25 * (0.08 + 0.1)
    # 160 samples, but the curve of radius 4 needs a straight each 2 sqrt(2 * 4 * 0.05) = 1.3 mm
    assert len(route.moves) - done < 40


def test_a_level_line_is_walked_in_arcs(shop):
    angle = np.linspace(0, 2 * math.pi, 200)
    ring = np.column_stack([4 * np.cos(angle), 4 * np.sin(angle)])
    ring[-1] = ring[0]
    line = line_over(ring, Dome(), -5.0)
    route = route_at(shop, (4.0, 0.0))
    walk(route, line)
    arcs = [m for m in route.moves if m.kind is Kind.ARC]
    assert sum(abs(m.sweep) for m in arcs) == pytest.approx(2 * math.pi, abs=0.2)
    assert len(route.moves) < 10
    assert route.at[2] >= -4.0


def test_a_closed_line_may_begin_anywhere():
    points = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])
    line = Line(
        points=points, heights=np.array([0.0, 1, 2, 3, 0]), bound=np.array([0.1, 1.2, 2.3, 3.0])
    )
    found = line.starting_near((1.1, 1.1))
    assert found.points.tolist() == [[1, 1], [0, 1], [0, 0], [1, 0], [1, 1]]
    assert found.heights.tolist() == [2, 3, 0, 1, 2]
    assert found.bound.tolist() == [2.3, 3.0, 0.1, 1.2]
    assert line.starting_near((-1.0, -1.0)) is line


def test_a_ramp_goes_round_until_it_is_down_and_once_more():
    points = np.array([[0.0, 0], [5, 0], [5, 5], [0, 5], [0, 0]])
    line = Line(points=points, heights=np.full(5, -3.0), bound=np.full(4, -3.0))
    ramp = line.ramped(0.0, 0.05)
    # 3 mm at 0.05 are 60 mm: three rounds of 20, and one more at the foot
    assert len(ramp.points) == 1 + 4 * 4
    assert ramp.heights[0] == 0.0
    assert ramp.heights[12:] == pytest.approx(-3.0)
    assert np.diff(ramp.heights[:13]) == pytest.approx(-0.25)
    assert (ramp.bound <= np.minimum(ramp.heights[:-1], ramp.heights[1:])).all()
