from dataclasses import replace

import pytest
import shapely
from shapely.geometry import box

from toolpath.drawing.shapes import circle, rect
from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.plan.gone import Gone
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.rest import rest_of, rest_passes, thick_of
from toolpath.plan.work import Work

ARM = (rect(0, 0, 60, 40), rect(59, 18, 100, 22.5))
BEYOND = (rect(0, 0, 60, 40), rect(59, 18, 70, 24), rect(69, 0, 100, 40))
ISLANDS = (rect(20, 12, 40, 30), circle(60, 25, 8))
CASES = {
    "corners": ((rect(0, 0, 80, 50),), ()),
    "arm": (ARM, ()),
    "room beyond": (BEYOND, ()),
    "islands": ((rect(0, 0, 80, 50),), ISLANDS),
}


def in_two(shop, outline, islands=(), **other):
    cut = shop.pocket(*outline, islands=islands, name="cavity", **other)
    large = shop.cutter(diameter=10.0, name="flat 10")
    small = shop.cutter(diameter=4.0, name="flat 4", stepdown=2.0)
    return replace(cut, cutter=large, smaller=(small,))


@pytest.mark.parametrize("face", list(Side))
@pytest.mark.parametrize("name", CASES)
def test_two_cutters_leave_nothing_that_the_smaller_can_reach(
    shop, judge, judge_parts, area, name, face
):
    outline, islands = CASES[name]
    cut = in_two(shop, outline, islands, face=face)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    whole = area(*outline, minus=islands)
    assert [part.cutter.name for part in judged.parts] == ["flat 10", "flat 4"]
    assert judged.uncut_share(whole, -6.0) <= 1e-4
    assert judged.overcut(whole, 0.0, -6.0) <= 0.002
    judged.assert_descents_in_air()
    for part in judged.parts:
        judge(part).assert_way_is_whole()
        assert judge(part).steepest() <= part.cutter.ramp + 1e-9
    first, last = judged.parts
    assert first.uncut_area > 5.0 > last.uncut_area
    assert "left for a thinner cutter" in first.notes[0]
    assert last.notes == ()


def test_the_smaller_cutter_stays_near_what_is_left(shop, judge):
    cut = in_two(shop, ARM)
    first, last = plan_pocket(shop.job(cut), cut)
    alone = replace(cut, cutter=last.cutter, smaller=())
    (whole,) = plan_pocket(shop.job(alone), alone)
    assert judge(last).feed_length() < 0.15 * judge(whole).feed_length()
    left = box(59, 18, 100, 22.5).buffer(-0.2)
    touched = shapely.union_all(
        [
            shapely.linestrings([m.start[:2], m.end[:2]]).buffer(2.0)
            for m in last.moves
            if m.start[2] == m.end[2] == -6.0
        ]
    )
    assert touched.intersection(left).area > 0.9 * left.area
    assert first.cutter.name == "flat 10"


def test_a_cutter_that_has_nothing_to_take_has_no_part(shop):
    cut = in_two(shop, (circle(0, 0, 20),))
    (only,) = plan_pocket(shop.job(cut), cut)
    assert only.cutter.name == "flat 10"
    cut = in_two(shop, (rect(0, 0, 60, 8),))
    (only,) = plan_pocket(shop.job(cut), cut)
    assert only.cutter.name == "flat 4"
    cut = in_two(shop, (rect(0, 0, 60, 3.5),))
    with pytest.raises(EntryError, match=r"the widest place is 3\.5"):
        plan_pocket(shop.job(cut), cut)


def test_what_is_left_is_begun_in_the_open(shop):
    # A square of 40 from which 30 was cut: the ways through the rest begin in the cleared part.
    cut = shop.pocket(rect(0, 0, 40, 40))
    work = Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)
    gone = Gone(0.0)
    gone.add(-6.0, box(0, 0, 30, 40))
    centres = box(3, 3, 37, 37)
    rest = rest_of(work, centres, centres, -6.0, gone)
    passes = rest_passes(rest, centres)
    # 0.3 mm of air all round, and 0.01 mm more: 30 - 3 - 0.31.
    assert [each.entry.spot[0] for each in passes] == pytest.approx([26.69] * len(passes), abs=0.01)
    assert rest_of(work, box(3, 3, 20, 37), centres, -6.0, gone) is None


def test_thin_tails_of_stock_are_no_stock():
    tail = box(0, 0, 10, 0.008).union(box(10, 0, 12, 2))
    assert thick_of(tail).bounds == pytest.approx((10, 0, 12, 2), abs=0.01)
