import math

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon, box

from toolpath.plan.near import Cells, Near
from toolpath.plan.returns import Heading, Within, way_back

RADIUS = 3.0


def cleared(room, lines):
    cells = Cells.over(room, RADIUS)
    near = Near.fresh(cells, RADIUS, Polygon())
    for line in lines:
        near.sweep(np.array(line, dtype=float))
    return near, Within.of(cells, room)


def rows_of(y0, y1):
    return [[(5.0, y), (75.0, y)] for y in np.arange(y0, y1, 2.0)]


@pytest.mark.parametrize("seed", range(12))
def test_ways_in_the_open_leave_and_arrive_along_the_cuts(seed):
    rng = np.random.default_rng(seed)
    room = box(0, 0, 80, 60)
    near, within = cleared(room, rows_of(4, 56))
    ends = rng.uniform([20, 20], [60, 40], (2, 2))
    first, last = (
        Heading(x=x, y=y, angle=angle)
        for (x, y), angle in zip(ends, rng.uniform(-4, 4, 2), strict=True)
    )
    way = way_back(near, within, first, last)
    assert np.allclose(way[0], first.place) and np.allclose(way[-1], last.place)
    steps = np.diff(way, axis=0)
    steps = steps[np.hypot(*steps.T) > 1e-9]
    heading = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((np.diff(heading) + math.pi) % (2 * math.pi) - math.pi)
    assert turn.max() < 0.25
    for angle, found in ((first.angle, heading[0]), (last.angle, heading[-1])):
        assert abs((angle - found + math.pi) % (2 * math.pi) - math.pi) < 0.25
    straight = math.dist(*ends)
    assert straight - 1e-9 <= LineString(way).length <= straight + 4 * math.pi * RADIUS


def test_a_way_goes_round_what_stands():
    room = box(0, 0, 80, 60)
    lines = [[(10, 10 + k), (70, 10 + k)] for k in (0, 2)]
    lines += [[(70 + k, 10), (70 + k, 50)] for k in (-2, 0)]
    lines += [[(10, 50 - k), (70, 50 - k)] for k in (0, 2)]
    near, within = cleared(room, lines)
    way = way_back(near, within, Heading(x=10, y=10, angle=0.0), Heading(x=10, y=50, angle=math.pi))
    walked = near.copy().engaged(way, chip=0.15)
    assert np.degrees(walked).max() < 1.0
    assert LineString(way).length > 100.0


def test_there_may_be_no_way():
    room = box(0, 0, 80, 60)
    near, within = cleared(room, [[(10, 10), (70, 10)], [(10, 50), (70, 50)]])
    ends = Heading(x=20, y=10, angle=0.0), Heading(x=20, y=50, angle=0.0)
    assert way_back(near, within, *ends) is None
