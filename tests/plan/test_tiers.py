from dataclasses import replace

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Ledge
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.tiers import planned_area, tiers_of

POCKET, RIM = rect(0, 0, 60, 40), rect(-8, -8, 68, 48)
ISLAND = circle(30, 20, 5)


def ledged(shop, **other):
    cut = shop.pocket(POCKET, islands=(ISLAND,), depth=9.0)
    return replace(cut, ledge=Ledge(outline=(RIM,), depth=3.2), **other)


def test_a_ledge_is_a_tier_of_its_own_above_the_pocket(shop):
    ledge, pocket = tiers_of(ledged(shop))
    assert (ledge.top, ledge.floor, pocket.top, pocket.floor) == (0.0, -3.2, -3.2, -9.0)
    # Rectangles less the island (elementary), its arc drawn outward.
    assert ledge.area.area == pytest.approx(76 * 56 - 78.5398, abs=0.05)
    assert pocket.area.area == pytest.approx(60 * 40 - 78.5398, abs=0.05)
    assert pocket.levels(3.0) == pytest.approx((-6.1, -9.0))
    assert pocket.levels(3.0)[-1] == -9.0


def test_what_lies_above_below_is_no_tier(shop):
    (pocket,) = tiers_of(ledged(shop, below=3.2))
    assert (pocket.top, pocket.floor) == (-3.2, -9.0)
    ledge, _ = tiers_of(ledged(shop, below=1.0))
    assert (ledge.top, ledge.floor) == (-1.0, -3.2)


def test_an_area_never_grows_when_it_is_planned():
    area = planned_area((circle(0, 0, 20),), (circle(5, 0, 4),))
    # pi (20² - 4²), elementary.
    assert 1206.371579 - 0.1 < area.area < 1206.371579


def test_both_floors_are_cleared_and_no_wall_is_passed(shop, judge_parts, area):
    cut = ledged(shop)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    rim, pocket = area(RIM, minus=(ISLAND,)), area(POCKET, minus=(ISLAND,))
    assert judged.uncut_share(rim, -3.2) <= 1e-4
    assert judged.uncut_share(pocket, -9.0) <= 1e-4
    assert judged.overcut(rim, 0.0, -3.2) <= 0.002
    assert judged.overcut(pocket, -3.2, -9.0) <= 0.002
    judged.assert_descents_in_air()
    assert judged.parts[0].lifts <= 5


def test_below_begins_there(shop, judge_parts, area):
    cut = replace(shop.pocket(POCKET, depth=9.0), below=6.0)
    judged = judge_parts(plan_pocket(shop.job(cut), cut))
    (part,) = judged.parts
    flats = {m.end[2] for m in part.moves if m.start[2] == m.end[2] < 0}
    assert flats == {-9.0}
    # The first rapid down ends 1 mm above the material, the ramp begins half a millimetre above.
    down = [m.end[2] for m in part.moves if m.start[:2] == m.end[:2] and m.end[2] < m.start[2]]
    assert down[:2] == [-5.0, -5.5]
    assert judged.uncut_share(area(POCKET), -9.0) <= 1e-4
