import math

import numpy as np
import pytest
import shapely
from relief_scene import cutter, relief, target_of

from toolpath.job.model import Machine
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.follow import Band, follow, walk_trail
from toolpath.plan.route import Route

BAND = Band(floor=-9.0, top=0.0, tolerance=0.002)
WAVES = relief(lambda x, y: 4 + 1.5 * np.sin(x / 2) * np.cos(y / 3))


def test_paths_lie_on_the_lowest_tips_and_close_above():
    target = target_of(WAVES)
    line = np.array([[-9.0, -6.0], [8.0, 3.0], [8.0, 8.0]])
    (paths,) = follow(target, [line], BAND)
    (path,) = paths
    dense = shapely.segmentize(shapely.LineString(path), 0.013)
    places = shapely.get_coordinates(dense, include_z=True)
    over = places[:, 2] - target.found(places[:, :2]).tips
    assert over.min() > -0.001
    assert over.max() < 0.003
    assert len(path) < 80


def test_what_lies_beside_a_wall_is_left_out_unless_asked_for():
    target = target_of(relief(lambda x, y: 5 + 0 * x))
    line = np.array([[-9.9, 0.0], [9.9, 0.0]])
    (short,), (whole,) = follow(target, [line], BAND), follow(target, [line], BAND, walls=True)
    assert short[0][[0, -1], 0] == pytest.approx([-7.0, 7.0], abs=0.02)
    assert whole[0][[0, -1], 0] == pytest.approx([-9.9, 9.9], abs=0.11)


def test_nothing_is_cut_at_the_top():
    target = target_of(relief(lambda x, y: np.maximum(x, 0.0)))
    (paths,) = follow(target, [np.array([[-9.0, 0.0], [6.0, 0.0]])], BAND)
    # the ball rolls over the edge: 0.002 deep where R - sqrt(R^2 - x^2) is
    assert paths[0][0, 0] == pytest.approx(math.sqrt(2 * 3 * 0.002), abs=0.06)


def route_over(x, y):
    machine = Machine(
        travel=(600.0, 400.0, 90.0), feed_max=3000.0, spindle=(8000.0, 24000.0), safe_height=6.0
    )
    return Route(cutter=cutter(), machine=machine, safe=6.0, start=(x, y))


def upright(moves):
    return [m for m in moves if m.kind is Kind.LINE and m.start[:2] == m.end[:2]]


def nearly_level_rings():
    """Rings over a floor that heaves by some thousandths, one led to from the one before."""
    target = target_of(relief(lambda x, y: 4 + 0.004 * np.sin(2 * x) + 0.003 * np.cos(3 * y)))
    angles = np.linspace(0.0, 2 * np.pi, 181)
    rings = [r * np.column_stack([np.cos(angles), np.sin(angles)]) for r in (6.0, 5.5, 5.0)]
    lines = [rings[0]]
    for ring in rings[1:]:
        lines += [np.vstack([lines[-1][-1], ring[0]]), ring]
    return target, [path for paths in follow(target, lines, BAND, walls=True) for path in paths]


def test_arcs_carry_the_rise_and_fall_so_that_the_tip_nowhere_stands_still():
    target, paths = nearly_level_rings()
    route = route_over(*paths[0][0, :2])
    for path in paths:
        walk_trail(route, path, BAND.tolerance)
    assert len(upright(route.moves)) == 1  # the way down to the first
    moves = MoveTable.of(route.moves[1:])
    assert (moves.kind == Kind.ARC).sum() > 20
    row = np.repeat(np.arange(len(moves)), 200)
    tips = moves.at(row, np.tile(np.linspace(0.0, 1.0, 200), len(moves)))
    over = tips[:, 2] - target.found(tips[:, :2]).tips
    assert over.min() > -0.0011  # paths themselves: 0.0005 between places, and arcs aside
    assert over.max() < 3.0 * BAND.tolerance
    assert over.mean() < BAND.tolerance


def test_where_the_way_in_ended_too_low_or_a_hair_too_high_the_path_goes_on():
    angles = np.linspace(0.0, np.pi, 61)
    level = np.column_stack([5.0 * np.cos(angles), 5.0 * np.sin(angles), np.full(61, -3.0)])
    for first in (-3.0015, -2.9985):
        route = route_over(9.0, 0.0)
        route.straight(9.0, 0.0, -2.0)
        route.straight(5.0, 0.0, first)
        walk_trail(route, level, 0.002)
        assert len(upright(route.moves)) == 1
        assert min(m.end[2] for m in route.moves) >= -3.0
    route = route_over(9.0, 0.0)
    route.straight(5.0, 0.0, -2.5)
    walk_trail(route, level, 0.002)
    assert len(upright(route.moves)) == 1  # that high it is no hair
