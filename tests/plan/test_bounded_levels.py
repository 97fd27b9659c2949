import math
from dataclasses import replace

from shapely.geometry import Point, box

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Ledge
from toolpath.motion.moves import Kind
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.programs import plan_cut

BOUND = math.radians(70.0)


def planned(shop, cut):
    return plan_pocket(shop.job(cut), replace(cut, engage=BOUND))


def test_the_way_is_the_same_at_every_level(shop, judge):
    (part,) = planned(shop, shop.pocket(rect(0, 0, 50, 35), depth=9.0, stepdown=3.0))
    judged = judge(part)
    lengths = [sum(len(path) for path in judged.flat_paths(z)) for z in (-3.0, -6.0, -9.0)]
    assert lengths[0] == lengths[1] == lengths[2]
    assert part.lifts == 3
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()


def test_ways_back_are_lifted_and_never_rapid_below_the_face(shop, judge):
    (part,) = planned(shop, shop.pocket(rect(0, 0, 60, 40), depth=6.0, stepdown=6.0))
    lifted = [m for m in part.moves if m.start[2] == m.end[2] <= -5.6 and m.start[2] > -6.0]
    assert lifted and all(move.kind is not Kind.RAPID for move in lifted)
    low = [m for m in part.moves if m.kind is Kind.RAPID and max(m.start[2], m.end[2]) < 0.0]
    assert not low


def test_a_channel_as_wide_as_the_cutter_is_a_slot_cut_by_a_ramp(shop, judge):
    outline = (rect(0, 0, 40, 40), rect(39, 17, 70, 23.2))
    (part,) = planned(shop, shop.pocket(*outline, depth=3.0))
    judged = judge(part)
    assert judged.uncut_share(-3.0) <= 1e-4
    assert judged.overcut() <= 0.003
    assert judged.steepest() <= part.cutter.ramp + 1e-9


def test_several_cutters_and_finish(shop, judge_parts):
    cut = shop.pocket(rect(0, 0, 60, 40), islands=(circle(30, 20, 6),), depth=4.0)
    large = shop.cutter(diameter=10.0, name="flat 10")
    small = shop.cutter(diameter=4.0, name="flat 4", stepdown=4.0)
    parts = planned(shop, replace(cut, cutter=large, smaller=(small,), finish=0.3))
    judged = judge_parts(parts)
    assert [part.cutter.name for part in parts] == ["flat 10", "flat 4"]
    region = box(0, 0, 60, 40).difference(Point(30, 20).buffer(6.0, quad_segs=256))
    assert judged.uncut_share(region, -4.0) <= 2e-4
    assert judged.overcut(region, 0.0, -4.0) <= 0.003


def test_a_ledge_and_the_pocket_in_it(shop, judge_parts):
    cut = shop.pocket(rect(10, 10, 50, 40), depth=8.0, stepdown=4.0)
    cut = replace(cut, ledge=Ledge(outline=(rect(2, 2, 58, 48),), depth=3.0))
    judged = judge_parts(planned(shop, cut))
    assert judged.uncut_share(box(2, 2, 58, 48), -3.0) <= 1e-4
    assert judged.uncut_share(box(10, 10, 50, 40), -8.0) <= 1e-4


def test_a_slot_that_no_bound_can_be_kept_in_is_told(shop):
    # 18 mm of channel, as wide as the cutter and a little more, between two rooms.
    cut = shop.pocket(rect(0, 0, 30, 30), rect(48, 0, 78, 30), rect(29, 11.7, 49, 18.3))
    cut = replace(cut, engage=math.radians(70.0))
    notes = " ".join(note for part in plan_cut(shop.job(cut), cut) for note in part.notes)
    assert "full width along" in notes


def test_wide_places_that_only_channels_join_are_entered_once_each(shop, judge):
    # Two rooms, joined by a channel 2 mm wider than the cutter: no place for its turns.
    outline = (rect(0, 0, 30, 30), rect(29, 11, 46, 19), rect(45, 0, 75, 30))
    (part,) = planned(shop, shop.pocket(*outline, depth=3.0))
    # The channel is entered where a room was cleared, on its floor.
    judge(part).assert_straight_descents_in_air(above=0.0)
    assert part.lifts <= 4  # the two rooms, the channel, and its end for the walls
    assert part.uncut_area < 0.1


def test_a_thinner_cutter_comes_once_to_each_corner_and_level(shop, judge_parts):
    large = shop.cutter(diameter=10.0, name="flat 10", stepdown=6.0)
    small = shop.cutter(diameter=4.0, name="flat 4", stepdown=3.0)
    cut = shop.pocket(rect(0, 0, 60, 40), depth=6.0)
    parts = planned(shop, replace(cut, cutter=large, smaller=(small,)))
    assert parts[1].lifts == 4 * 2
    judged = judge_parts(parts)
    assert judged.uncut_share(box(0, 0, 60, 40), -6.0) <= 2e-4
