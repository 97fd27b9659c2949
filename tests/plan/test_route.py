import math
from dataclasses import replace

import numpy as np
import pytest

from toolpath.drawing.shapes import rect
from toolpath.motion.moves import Kind
from toolpath.plan.curves import curves_of
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.route import Route


def route_at(shop, **cutter):
    return Route(cutter=shop.cutter(**cutter), machine=shop.machine(), safe=6.0, start=(5.0, 0.0))


def test_helix_has_the_length_of_a_helix(shop):
    route = route_at(shop)
    route.turn((0.0, 0.0), 2 * math.pi, 5.0)
    # One turn, radius 5, pitch 1: sqrt((2 pi 5)^2 + 1) = 31.431838 (elementary).
    assert sum(move.length for move in route.moves) == pytest.approx(31.431838, abs=1e-6)
    assert all(abs(move.sweep) <= math.pi + 1e-9 for move in route.moves)
    assert route.at == pytest.approx((5.0, 0.0, 5.0))


def test_height_goes_evenly_over_several_curves(shop):
    route = route_at(shop)
    angles = np.linspace(0, 2 * np.pi, 721)
    points = 5.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    route.along(curves_of(points, 0.002) * 2, 4.0)
    slopes = [(m.start[2] - m.end[2]) / m.length for m in route.moves]
    assert max(slopes) == pytest.approx(min(slopes), rel=1e-3)
    assert route.at[2] == 4.0


@pytest.mark.parametrize("drop", [0.1, 5.0, 50.0])
def test_slanting_moves_never_sink_faster_than_the_plunge(shop, drop):
    route = route_at(shop)
    route.straight(15.0, 0.0, 6.0 - drop)
    (move,) = route.moves
    assert move.feed * drop / move.length <= 300.0 * (1 + 1e-9)
    assert move.feed <= 1200.0
    assert move.feed == 1200.0 or move.feed * drop / move.length == pytest.approx(300.0)


def test_rapids_are_one_axis_at_a_time_and_lifts_are_counted(shop):
    route = route_at(shop)
    route.lift()
    assert route.moves == []
    route.rapid_z(1.0)
    route.sink(-1.0)
    route.lift()
    route.over(20.0, 20.0)
    route.rapid_z(1.0)
    route.lift()
    assert route.lifts == 2
    kinds = [move.kind for move in route.moves]
    assert kinds == [Kind.RAPID, Kind.LINE, Kind.RAPID, Kind.RAPID, Kind.RAPID, Kind.RAPID]
    assert route.moves[1].feed == 300.0


def test_chips_are_cleared_at_the_safe_height_at_the_next_lift(shop):
    cut = replace(shop.pocket(rect(0, 0, 60, 40), depth=21.0), clear_chips=60.0)
    (part,) = plan_pocket(shop.job(cut), cut)
    moves, spent = part.moves, [0.0]
    for i, move in enumerate(moves):
        if i in part.pauses:
            assert moves[i - 1].end[2] == 6.0
            spent.append(0.0)
        spent[-1] += 60.0 * move.length / move.feed if move.feed else 0.0
    # A level of 60 x 40 takes some 50 seconds: no pause before a minute, and none after two levels.
    assert len(part.pauses) >= 2
    assert all(60.0 <= each <= 120.0 for each in spent[:-1])
    assert plan_pocket(shop.job(cut), replace(cut, clear_chips=0.0))[0].pauses == ()


def test_only_a_feed_move_from_elsewhere_ends_higher(shop):
    route = route_at(shop)
    route.rapid_z(1.0)
    route.end_higher(1.5)
    assert route.at[2] == 1.0
    route.straight(8.0, 0.0, -2.0)
    assert route.stands_over((8.0, 0.0))
    route.end_higher(-1.999)
    assert route.at == route.moves[-1].end == (8.0, 0.0, -1.999)
    route.sink(-2.0)
    route.end_higher(-1.999)
    assert route.moves[-1].end[2] == -2.0
