"""Areas in plan by their formulas (elementary)."""

import math
from dataclasses import replace

import pytest
from shapely.geometry import Point

from toolpath.drawing.shapes import rect
from toolpath.job.model import Ledge, Skim
from toolpath.plan.footprint import footprint


def test_a_pocket_takes_its_outline_or_its_ledge(shop):
    cut = shop.pocket(rect(0, 0, 40, 30))
    assert footprint(cut).area == pytest.approx(1200.0)
    with_ledge = replace(cut, ledge=Ledge(outline=(rect(-5, -5, 45, 35),), depth=2.0))
    assert footprint(with_ledge).area == pytest.approx(2000.0)


def test_a_shank_wider_than_its_cutter_takes_more(shop):
    cut = shop.pocket(rect(0, 0, 40, 30), shank=10.0)
    assert footprint(cut).bounds == pytest.approx((-2.0, -2.0, 42.0, 32.0))


def test_a_profile_takes_a_band_on_either_side(shop):
    area = footprint(replace(shop.profile(rect(0, 0, 40, 30)), finish=0.5))
    assert area.bounds == pytest.approx((-6.5, -6.5, 46.5, 36.5))
    assert area.distance(Point(20, 15)) == pytest.approx(15.0 - 6.5)


def test_holes_and_a_skim(shop):
    holes = shop.drill((0.0, 0.0), (50.0, 0.0), diameter=8.0)
    assert footprint(holes).area == pytest.approx(2 * math.pi * 16.0, rel=0.02)
    cut = shop.profile(rect(0, 0, 40, 30))
    skim = Skim(name="skim", face=cut.face, cutter=cut.cutter, depth=1.0, outline=cut.outline)
    assert footprint(skim).bounds == pytest.approx((-6.0, -6.0, 46.0, 36.0))
