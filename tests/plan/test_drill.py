import itertools
import math

import pytest

from toolpath.job.model import Shape
from toolpath.motion.moves import Kind
from toolpath.plan.drill import in_order, plan_drill

PLACES = ((50.0, 50.0), (0.0, 0.0), (10.0, 0.0), (50.0, 0.0), (0.0, 30.0))


def planned(shop, *at, **other):
    cut = shop.drill(*at, **other)
    return plan_drill(shop.job(cut), cut)


def pecks_of(found):
    return [m for m in found.moves if m.kind is Kind.LINE]


def test_nearest_hole_next_from_the_lower_left():
    assert in_order(PLACES) == (
        (0.0, 0.0),
        (10.0, 0.0),
        (0.0, 30.0),
        (50.0, 50.0),
        (50.0, 0.0),
    )


def test_point_of_a_drill_goes_deeper_by_its_cone(shop):
    found = planned(shop, (5.0, 5.0), shape=Shape.DRILL, diameter=6.0, angle=math.radians(118.0))
    # Height of the cone of a 118 degree point: r / tan(59 deg) = 1.8026 for 6 mm (elementary).
    assert found.floor == pytest.approx(10.0 + 1.8026, abs=1e-4)
    assert min(m.end[2] for m in found.moves) == -found.floor


@pytest.mark.parametrize(("depth", "peck", "count"), [(10.0, 4.0, 3), (8.0, 4.0, 2), (3.0, 9.0, 1)])
def test_pecks_are_equal_and_no_longer_than_asked(shop, depth, peck, count):
    found = planned(shop, (5.0, 5.0), depth=depth, peck=peck)
    bottoms = [0.0, *(m.end[2] for m in pecks_of(found))]
    bites = [above - below for above, below in itertools.pairwise(bottoms)]
    assert len(bites) == count
    assert bites == pytest.approx([depth / count] * count)
    assert all(m.feed == 300.0 for m in pecks_of(found))


def test_comes_out_after_each_peck_and_returns_just_above_the_bottom(shop, judge):
    found = planned(shop, (5.0, 5.0), (40.0, 5.0), depth=10.0, peck=4.0)
    judge(found).assert_way_is_whole()
    assert found.lifts == 2
    bottom = 0.0
    for before, peck in zip(found.moves, found.moves[1:], strict=False):
        if peck.kind is not Kind.LINE:
            continue
        first = before.start[2] == 6.0
        assert before.kind is Kind.RAPID
        assert before.end[2] == pytest.approx(1.0 if first else bottom + 0.5)
        assert first or before.start[2] == 1.0
        bottom = peck.end[2]


def test_every_hole_is_drilled_once(shop):
    found = planned(shop, *PLACES, depth=3.0, peck=9.0)
    assert sorted(m.end[:2] for m in pecks_of(found)) == sorted(PLACES)
