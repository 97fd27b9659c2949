import math

import numpy as np
import pytest

from toolpath.drawing.shapes import rect
from toolpath.plan.circuit import Circuit
from toolpath.plan.hops import RISE, Hops, walk_floor, walk_turn
from toolpath.plan.route import Route

FALL = math.tan(math.radians(3.0))
LOOP = Circuit(rect(0, 0, 100, 60).outer.points)


def hops(*spans, top=-8.0):
    first, last = np.array(spans, dtype=float).T
    return Hops(length=LOOP.length, first=first, last=last, top=top, fall=FALL)


def walked(shop, given, start, end):
    """Distance and height all along a turn, from the moves."""
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=start, start=(0.0, 0.0))
    walk_turn(route, LOOP, given, (start, end))
    reach = np.cumsum(
        [0.0, *(math.hypot(m.end[0] - m.start[0], m.end[1] - m.start[1]) for m in route.moves)]
    )
    return reach, np.array([start, *(m.end[2] for m in route.moves)])


def expected(given, where, start, end):
    """Written down again, tab by tab."""
    best = start + (end - start) * where / LOOP.length
    for first, last in zip(given.first, given.last, strict=True):
        for shift in (-LOOP.length, 0.0, LOOP.length):
            before, behind = first + shift - where, where - last - shift
            side = np.where(before > 0, RISE * before, np.where(behind > 0, FALL * behind, 0.0))
            best = np.maximum(best, given.top - side)
    return best


@pytest.mark.parametrize(("start", "end"), [(-10.0, -10.0), (-7.0, -10.0), (-8.0, -9.0), (0.5, -2)])
@pytest.mark.parametrize("spans", [[(60, 72)], [(40, 52), (200, 212)], [(20, 30), (90, 101)]])
def test_goes_over_the_tabs_and_on_as_without_them(shop, start, end, spans):
    given = hops(*spans)
    reach, height = walked(shop, given, start, end)
    where = np.linspace(0, LOOP.length, 2001)
    assert np.interp(where, reach, height) == pytest.approx(
        expected(given, where, start, end), abs=1e-6
    )
    assert height[-1] == end


def test_without_tabs_or_above_them_a_turn_is_one_even_descent(shop):
    for given in (None, hops((60, 72))):
        reach, height = walked(shop, given, 0.5, -2.5)
        assert height == pytest.approx(0.5 - 3.0 * reach / LOOP.length)


def test_a_hop_that_runs_over_the_end_goes_on_at_the_beginning():
    given = hops((LOOP.length - 5, LOOP.length + 7))
    assert given.least(np.array([0.0, 6.9, LOOP.length])) == pytest.approx([-8.0] * 3)
    assert given.least(np.array([7.0 + 10.0])) == pytest.approx([-8.0 - 10.0 * FALL])


@pytest.mark.parametrize("stepdown", [0.8, 1.0, 5.0])
def test_no_wedge_is_left_behind_a_tab(shop, stepdown):
    given = hops((20, 30))  # on the first side, from (0, 0) to (100, 0)
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=-10.0, start=(0.0, 0.0))
    walk_floor(route, LOOP, given, -10.0, stepdown)
    place = np.linspace(0.0, 100.0, 1001)
    # What the turn before left along that side, a place each 0.1 mm: the wedge behind the tab.
    lowest = np.clip(-8.0 - FALL * (place - 30.0), -10.0, -8.0) + 1e-9
    for move in route.moves:
        (x0, y0, z0), (x1, y1, z1) = move.start, move.end
        if y0 != 0.0 or y1 != 0.0 or x0 == x1:
            continue
        share = (place - x0) / (x1 - x0)
        on = (share >= -1e-9) & (share <= 1 + 1e-9)
        z = z0 + (z1 - z0) * share[on]
        behind = place[on] >= 20.0
        assert (lowest[on] - z)[behind].max(initial=0.0) <= stepdown + 0.01
        lowest[on] = np.minimum(lowest[on], z)
    # The floor right from the tab's end; over the tab its top.
    assert lowest[place >= 30.0] == pytest.approx(-10.0)
    assert lowest[(place >= 20.0) & (place < 30.0 - 1e-6)].min() == pytest.approx(-8.0, abs=1e-6)
    assert route.at[2] == -10.0
    steep = [(m.start[2] - m.end[2]) / m.length for m in route.moves if m.end[2] < m.start[2]]
    assert max(steep) <= FALL + 1e-9


def test_a_flat_turn_without_tabs_is_the_loop(shop):
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=-10.0, start=(0.0, 0.0))
    walk_floor(route, LOOP, None, -10.0, 1.0)
    assert sum(m.length for m in route.moves) == pytest.approx(320.0)
