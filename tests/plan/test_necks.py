import pytest
from shapely.geometry import Polygon, box

from toolpath.drawing.shapes import rect, slot
from toolpath.errors import EntryError
from toolpath.plan.necks import necks_of, parts_beyond
from toolpath.plan.pocket import plan_pocket


def lobes(width):
    low, high = 20 - width / 2, 20 + width / 2
    return rect(0, 0, 40, 40), rect(60, 0, 100, 40), rect(39, low, 61, high)


@pytest.mark.parametrize("width", [5.995, 6.0, 6.0004, 6.004, 6.01])
def test_a_neck_as_wide_as_the_cutter_is_cut(shop, judge, judge_parts, area, width):
    cut = shop.pocket(*lobes(width), depth=3.0)
    parts = plan_pocket(shop.job(cut), cut)
    judged = judge_parts(parts)
    neck = area(rect(41, 20 - width / 2, 59, 20 + width / 2))
    assert judged.cut_at(-3.0).intersection(neck).area == pytest.approx(neck.area, rel=1e-3)
    assert judged.overcut(area(*lobes(width)), 0.0, -3.0) <= 0.005
    judged.assert_descents_in_air()
    assert judge(parts[0]).steepest() <= cut.cutter.ramp + 1e-9
    assert parts[0].notes == ()
    assert parts[0].uncut_area <= 1e-4 * parts[0].reachable_area


@pytest.mark.parametrize("outline", [rect(0, 0, 40, 6), slot(0, 0, 40, 10, 6.0)])
def test_a_slot_of_the_cutter_is_cut_along_its_middle(shop, judge, judge_parts, area, outline):
    cut = shop.pocket(outline)
    parts = plan_pocket(shop.job(cut), cut)
    judged = judge_parts(parts)
    judge(parts[0]).assert_way_is_whole()
    assert judged.overcut(area(outline), 0.0, -6.0) <= 0.005
    # Straights and round ends of a slot of 6 (elementary); a rectangle keeps its corners.
    length = 41.231056 if outline is not None and outline.outer.points[:, 2].any() else 34.0
    assert judged.cut_at(-6.0).area == pytest.approx(6 * length + 28.274334, rel=2e-3)


def test_what_lies_beyond_a_narrower_neck_is_named_and_counted(shop):
    cut = shop.pocket(*lobes(5.9), depth=3.0)
    (part,) = plan_pocket(shop.job(cut), cut)
    (note,) = part.notes
    assert note.startswith("too narrow for the cutter at x 50.")
    # 20 x 5.9 less what the lobes' passes take at both mouths.
    assert 90.0 < part.uncut_area < 118.0


def test_corners_are_no_parts_of_their_own():
    # Corners of 90, 17 and 73 degrees; a disc of 3.
    triangle = Polygon([(0, 0), (80, 0), (80, 25)])
    reached = triangle.buffer(-3, quad_segs=64).buffer(3, quad_segs=64)
    assert parts_beyond(triangle, reached, 3.0) == ()
    arm = box(0, 0, 40, 40).union(box(39, 18, 60, 22))
    reached = arm.buffer(-3, quad_segs=64).buffer(3, quad_segs=64)
    (part,) = parts_beyond(arm, reached, 3.0)
    assert part.area == pytest.approx(20 * 4, rel=0.1)


def test_wide_rooms_have_no_necks():
    area = box(0, 0, 40, 40)
    assert necks_of(area, area.buffer(-3), 3.0).is_empty


def test_narrower_than_the_cutter_stays_an_error(shop):
    cut = shop.pocket(rect(0, 0, 40, 5.98))
    with pytest.raises(EntryError, match="does not fit"):
        plan_pocket(shop.job(cut), cut)
