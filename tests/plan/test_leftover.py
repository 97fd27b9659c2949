import re
from dataclasses import replace

import pytest
from shapely import unary_union
from shapely.geometry import box

from toolpath.drawing.shapes import circle, rect
from toolpath.plan.gone import Gone
from toolpath.plan.leftover import leftover_of, opening
from toolpath.plan.regions import layout_of
from toolpath.plan.tiers import tiers_of
from toolpath.plan.work import Work
from toolpath.units import Unit


def left(shop, cut, cleared, *, last=True, unit=Unit.MM):
    work = Work(job=replace(shop.job(cut), unit=unit), cut=cut, cutter=cut.cutter)
    tiers = tiers_of(cut)
    gone = Gone(0.0)
    gone.add(-cut.depth, cleared)
    return leftover_of(work, tiers, [layout_of(work, tier) for tier in tiers], gone, last=last)


def test_a_strip_along_the_wall_is_counted(shop):
    # A disc of 3 reaches 100 x 60 less four corners: 5992.274334 (elementary); 0.001 left along
    # 100 mm of wall is 0.1 mm².
    cut = shop.pocket(rect(0, 0, 100, 60))
    found = left(shop, cut, opening(box(0, 0.001, 100, 60), 3.0).union(box(3, 0.001, 97, 30)))
    assert found.reachable == pytest.approx(5992.274334, rel=1e-6)
    assert found.uncut == pytest.approx(0.1, rel=0.2)


def test_what_stands_is_named_with_its_place(shop):
    cut = shop.pocket(rect(0, 0, 100, 60))
    found = left(shop, cut, box(0, 0, 100, 60).difference(box(40, 20, 50, 30)))
    assert found.uncut == pytest.approx(100.0, rel=1e-3)
    assert found.notes == ("left standing at x 45.00 y 25.00: 100.0 mm²",)


def test_what_is_left_for_the_next_is_what_the_thinnest_can_reach(shop):
    cut = shop.pocket(rect(0, 0, 100, 60))
    cut = replace(cut, smaller=(shop.cutter(diameter=2.0, name="flat 2"),))
    found = left(shop, cut, opening(box(0, 0, 100, 60), 3.0), last=False)
    # Four corners: (1 - pi/4)(3² - 1²) each 0.8584 * 2 = 6.867 in all (elementary).
    assert found.uncut == pytest.approx(6.867, rel=1e-3)
    assert (
        "left for a thinner cutter at a depth of 6 mm: 6.9 mm² in 4 places, most at"
        in found.notes[0]
    )
    # The place named is in one of the four: 3 mm square in each corner hold them.
    x, y = (float(word) for word in re.findall(r"[xy] (\S+)", found.notes[0]))
    assert min(x, 100 - x) < 1.0
    assert min(y, 60 - y) < 1.0


def test_hairs_along_the_walls_join_no_places(shop):
    # Four corners and a hair of 0.011 mm all round, thicker than what is not counted.
    cut = shop.pocket(rect(0, 0, 100, 60))
    cut = replace(cut, smaller=(shop.cutter(diameter=2.0, name="flat 2"),))
    inner = opening(box(0.011, 0.011, 99.989, 59.989), 3.0)
    found = left(shop, cut, inner, last=False)
    assert "in 4 places, most at" in found.notes[0]
    x, y = (float(word) for word in re.findall(r"[xy] (\S+)", found.notes[0]))
    assert min(x, 100 - x) < 1.0
    assert min(y, 60 - y) < 1.0


def test_specks_are_said_together_and_inches_where_the_job_has_them(shop):
    cut = shop.pocket(rect(0, 0, 100, 60))
    specks = [box(x, 20, x + 0.1, 20.1) for x in (20, 40, 60)]
    found = left(shop, cut, box(0, 0, 100, 60).difference(unary_union(specks)))
    assert found.notes == ("left standing in 3 small places: 0.030 mm²",)
    hole = box(0, 0, 100, 60).difference(box(40, 20, 50, 30))
    found = left(shop, cut, hole, unit=Unit.INCH)
    assert found.notes == ("left standing at x 1.772 y 0.984: 0.1550 in² (100.0 mm²)",)


def test_the_opening_of_a_disc_is_itself(area):
    disc = area(circle(0, 0, 10))
    assert opening(disc, 3.0).area == pytest.approx(disc.area, rel=1e-4)
