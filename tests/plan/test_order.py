"""Order of cuts; what depends on what is worked out by hand."""

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from toolpath.drawing.shapes import rect
from toolpath.job.model import MARK, PINS, Order, ProfileSide, Side, Tabs
from toolpath.motion.moves import Kind, Move
from toolpath.plan.order import in_order
from toolpath.plan.result import PlannedCut

SIX, THREE, DRILL = "flat 6", "flat 3", "drill 4"


def part(cut, cutter=None):
    """A part of a cut as if it were planned: it begins and ends at the cut's first point."""
    place = cut.at[0] if hasattr(cut, "at") else cut.outline[0].outer.points[0, :2]
    spot = (*map(float, place), 6.0)
    return PlannedCut(
        cut=cut,
        cutter=cutter or cut.cutter,
        moves=(Move(kind=Kind.RAPID, start=spot, end=spot),),
        floor=cut.depth,
        reachable_area=0.0,
        uncut_area=0.0,
        lifts=0,
    )


def pocket(shop, name, x, y=0.0, *, cutter=SIX, side=20.0, **other):
    diameter = float(cutter.split()[1])
    cut = shop.pocket(rect(x, y, x + side, y + side), name=name, diameter=diameter)
    return replace(cut, cutter=replace(cut.cutter, name=cutter), **other)


def outline(shop, name, *box, cutter=SIX, **other):
    cut = shop.profile(rect(*box), side=ProfileSide.OUTER)
    given = {"through": True} | other
    return replace(cut, name=name, cutter=replace(cut.cutter, name=cutter), **given)


def names(shop, *cuts, order=Order.BEST, parts=None):
    job = replace(shop.job(*cuts), order=order)
    found = in_order(job, parts or [part(cut) for cut in cuts])
    return [f"{each.cut.name} {each.cutter.name[-1]}" for each in found]


def changes(order):
    return sum(a[-1] != b[-1] for a, b in itertools.pairwise(order))


def test_one_cutter_after_the_other(shop):
    cuts = [
        pocket(shop, "a", 0),
        pocket(shop, "b", 40, cutter=THREE),
        pocket(shop, "c", 80),
        pocket(shop, "d", 120, cutter=THREE),
    ]
    assert names(shop, *cuts) == ["a 6", "c 6", "b 3", "d 3"]
    assert names(shop, *cuts, order=Order.AS_WRITTEN) == ["a 6", "b 3", "c 6", "d 3"]


def test_cuts_that_touch_keep_their_order(shop):
    cuts = [
        pocket(shop, "a", 0),
        pocket(shop, "b", 5, 5, cutter=THREE, side=10.0, below=3.0),
        pocket(shop, "c", 10, 10, side=4.0),
        pocket(shop, "d", 80, cutter=THREE),
    ]
    # c lies in b, which lies in a: three runs at least; d goes with b.
    assert names(shop, *cuts) == ["a 6", "b 3", "d 3", "c 6"]


def test_parts_of_a_cut_stay_in_order_and_run_with_those_of_others(shop):
    a, b = pocket(shop, "a", 0), pocket(shop, "b", 60)
    small = shop.cutter(diameter=3.0, name=THREE)
    parts = [part(a), part(a, small), part(b), part(b, small)]
    assert names(shop, a, b, parts=parts) == ["a 6", "b 6", "b 3", "a 3"]


def test_outlines_come_last_and_those_within_before_those_around(shop):
    tabs = Tabs(count=2, width=5, height=2)
    cuts = [
        outline(shop, "rim", -50, -50, 150, 150),
        outline(shop, "window", 100, 0, 140, 40, side=ProfileSide.INNER),
        pocket(shop, "a", 0),
        outline(shop, "held", -80, -80, 180, 180, through=False, tabs=tabs),
        outline(shop, "line", 0, 60, 40, 90, through=False),
    ]
    assert names(shop, *cuts) == ["a 6", "line 6", "window 6", "rim 6", "held 6"]


def test_a_hole_drilled_in_a_pocket_before_it_stays_before_it(shop):
    hole = replace(
        shop.drill((10.0, 10.0), name="start"), cutter=shop.cutter(diameter=4.0, name=DRILL)
    )
    cuts = [pocket(shop, "b", 60), hole, pocket(shop, "a", 0)]
    assert names(shop, *cuts) in (["start 4", "b 6", "a 6"], ["start 4", "a 6", "b 6"])


def test_register_pins_come_first(shop):
    drill = shop.cutter(diameter=4.0, name=DRILL)
    pins = [replace(shop.drill((10.0, 90.0), name=name), cutter=drill) for name in (PINS, MARK)]
    cuts = [*pins, pocket(shop, "a", 0), replace(pins[0], name="hole", at=((150.0, 0.0),))]
    assert names(shop, *cuts) == [f"{PINS} 4", f"{MARK} 4", "hole 4", "a 6"]


def test_of_equal_cuts_the_nearest_is_next(shop):
    xs = [0, 120, 40, 160, 80]
    cuts = [pocket(shop, str(x), x) for x in xs]
    assert names(shop, *cuts) == [f"{x} 6" for x in sorted(xs)]


def test_faces_stay_as_they_come(shop):
    cuts = [pocket(shop, "a", 0), pocket(shop, "b", 0, face=Side.BACK), pocket(shop, "c", 60)]
    ordered = sorted(cuts, key=lambda cut: cut.face is Side.BACK)
    assert names(shop, *ordered) == ["a 6", "c 6", "b 6"]


@pytest.mark.parametrize("seed", range(12))
def test_no_order_that_keeps_what_must_be_kept_has_fewer_changes(shop, seed):
    """Against every order of six cuts (brute force)."""
    rng = random.Random(seed)
    cuts = []
    for i in range(6):
        cutter = rng.choice([SIX, THREE, "flat 4"])
        x, y = rng.choice([0, 30, 60]), rng.choice([0, 30])
        cuts.append(pocket(shop, f"{'abcdef'[i]}", x + rng.choice([0, 6]), y, cutter=cutter))
    boxes = [cut.outline[0].outer.points for cut in cuts]

    def touch(i, j):
        low = np.maximum(boxes[i].min(axis=0), boxes[j].min(axis=0))
        high = np.minimum(boxes[i].max(axis=0), boxes[j].max(axis=0))
        return np.hypot(*np.maximum(low - high, 0.0)[:2]) <= 1.0

    pairs = [(i, j) for i, j in itertools.combinations(range(6), 2) if touch(i, j)]
    fewest = min(
        sum(cuts[a].cutter.name != cuts[b].cutter.name for a, b in itertools.pairwise(order))
        for order in itertools.permutations(range(6))
        if all(order.index(i) < order.index(j) for i, j in pairs)
    )
    found = names(shop, *cuts)
    assert changes(found) == fewest
    place = [next(k for k, name in enumerate(found) if name[0] == cut.name) for cut in cuts]
    assert all(place[i] < place[j] for i, j in pairs)
