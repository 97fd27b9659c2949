import math

import numpy as np
import pytest
from shapely.geometry import box

from toolpath.drawing.shapes import rect
from toolpath.motion.moves import Kind
from toolpath.plan.descend import Levels, cut_passes, go_down
from toolpath.plan.entry import AirEntry
from toolpath.plan.gone import Gone
from toolpath.plan.links import Run, web_of
from toolpath.plan.passes import Pass
from toolpath.plan.route import Route
from toolpath.plan.work import Work


def test_rapids_go_down_to_half_a_millimetre_above_what_is_known_to_be_gone(shop):
    gone = Gone(-2.0)
    gone.add(-5.0, box(0, 0, 20, 20))
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=(0.0, 0.0))
    # 3 mm of cutter and 0.3 mm of air all round fit at 10, 10 but not at 3.2, 10.
    for spot, low in (((10.0, 10.0), -4.5), ((3.2, 10.0), -1.0), ((50.0, 50.0), -1.0)):
        go_down(route, spot, -5.0, gone)
        assert route.at == (*spot, low)
    go_down(route, (10.0, 10.0), -5.1, gone)
    assert route.at[2] == -1.0


def test_rapids_go_all_the_way_where_what_lies_under_is_gone_too(shop):
    gone = Gone(0.0)
    gone.add(-5.0, box(0, 0, 20, 20))
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=(0.0, 0.0))
    for z, low in ((-2.0, -2.0), (-4.5, -4.5), (-4.6, -4.1)):
        go_down(route, (10.0, 10.0), z, gone)
        assert route.at[2] == low


class Known(Gone):
    """Cut to -5, but 0.4 mm more stands there than that says."""

    def touched(self, spot, cutter):
        return -4.6


def way(length):
    line = np.array([[5.0, 5.0], [5.0 + length, 5.0]])
    web = web_of(box(0, 0, 20, 20), (), 1.0)
    entry = AirEntry(spot=(5.0, 5.0), into=(5.0, 5.0))
    return Pass(web=web, entry=entry, runs=(Run(points=line),), turn=1.0)


def cut_at_five(shop, gone, length):
    gone.add(-6.0, box(0, 0, 20, 20))
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=(0.0, 0.0))
    cut = shop.pocket(rect(0, 0, 20, 20))
    work = Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)
    cut_passes(route, work, [way(length)], Levels(top=-4.0, heights=(-5.0,)), gone)
    return route


@pytest.mark.parametrize("length", [2.0, 20.0])
def test_where_something_stands_in_what_counts_as_air_the_way_down_is_a_ramp(shop, length):
    route = cut_at_five(shop, Known(0.0), length)
    feeds = [m for m in route.moves if m.kind is not Kind.RAPID]
    steep = [m for m in feeds if m.end[2] < m.start[2] and m.end[2] < -4.6]
    assert steep
    for move in steep:
        across = math.dist(move.start[:2], move.end[:2])
        slope = (move.start[2] - move.end[2]) / across
        assert math.atan(slope) <= route.cutter.ramp
    assert min(m.end[2] for m in feeds) == -5.0
    level = sum(m.length for m in feeds if m.start[2] == m.end[2] == -5.0)
    assert level >= length


def test_what_is_too_short_to_ramp_along_is_left(shop):
    assert cut_at_five(shop, Known(0.0), 0.15).moves == []
    assert cut_at_five(shop, Gone(0.0), 0.15).moves != []
