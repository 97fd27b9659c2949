"""What tabs stand in: thickness less what both faces lose, sums that anybody can do. The blank of
the shop is 42 mm thick, from -200 to 200."""

from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Point

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import Side, Skim, Surface
from toolpath.plan.circuit import Circuit
from toolpath.plan.footing import Footing
from toolpath.plan.profile import profile_loops


@pytest.fixture
def footing(shop):
    """Under a part of 120 by 80, with other cuts of the job, and changes of the job."""

    def made(*others, within=0.0, **changes):
        cut = replace(shop.profile(rect(0, 0, 120, 80), depth=42.5), through=True)
        job = shop.job(*others, cut)
        job = replace(job, blank=replace(job.blank, thickness_within=within), **changes)
        return Footing.along(job, cut, tuple(Circuit(edges) for edges in profile_loops(cut)))

    return made


@pytest.fixture
def skim(shop):
    def made(face, depth):
        outline = (rect(-200, -200, 200, 200),)
        return Skim(name="skim", face=face, cutter=shop.cutter(), depth=depth, outline=outline)

    return made


def choices(footing, height=2.0):
    return list(footing.choices(height, -42.5))


def test_a_whole_blank(footing):
    found = footing(within=0.3)
    assert (found.bottom, found.top) == pytest.approx((-41.7, 0.0))
    ((bottom, area),) = choices(found)
    assert bottom == pytest.approx(-41.7) and area.is_empty


def test_what_the_skims_leave_whichever_comes_first(footing, skim):
    assert footing(skim(Side.BACK, 2.0), within=0.3).bottom == pytest.approx(-39.7)
    assert footing(skim(Side.FRONT, 1.0)).top == -1.0


def test_a_measured_face_counts_at_its_worst_place_along_the_loop(footing):
    # 0.01 mm lower for each millimetre along x: the rim of the cutter reaches x = 126.
    corners = ((0.0, -100.0), (200.0, -100.0), (0.0, 100.0), (200.0, 100.0))
    surface = Surface(places=corners, heights=(0.0, -2.0, 0.0, -2.0))
    found = footing(surfaces={Side.BACK: surface})
    assert found.bottom == pytest.approx(-42.0 + 1.26, abs=0.005)
    assert footing(surfaces={Side.FRONT: surface}).top == pytest.approx(-1.26, abs=0.005)


def test_cuts_from_below_are_gone_beside_first_and_over_them_last(shop, footing):
    cavity = shop.pocket(circle(60, 0, 10), depth=15.0, face=Side.BACK)
    first, last = choices(footing(cavity))
    assert first[0] == -42.0
    # The middle of the cutter keeps its radius from the cavity.
    assert first[1].contains(Point(60, -12.9)) and not first[1].intersects(Point(60, -13.1))
    assert last[0] == pytest.approx(-42.0 + 15.0) and last[1].is_empty


def test_over_a_hole_right_through_nothing_ever_stands(shop, footing):
    hole = replace(shop.pocket(circle(60, 0, 10), depth=42.5, face=Side.BACK), through=True)
    first, last = choices(footing(hole))
    assert last[0] == -42.0
    assert shapely.equals(first[1], last[1]) and last[1].contains(Point(60, 0))


def test_cuts_of_this_face_count_where_they_are_deeper_than_the_tops(shop, footing):
    shallow, deep = (
        shop.pocket(circle(60, 0, 10), depth=depth, name=name)
        for depth, name in ((39.0, "shallow"), (41.0, "deep"))
    )
    assert len(choices(footing(shallow))) == 1
    first, last = choices(footing(shallow, deep))
    assert first[1].contains(Point(60, 0)) and last[1].is_empty


def test_what_is_far_from_the_loop_is_left_alone(shop, footing):
    cavity = shop.pocket(circle(60, 40, 10), depth=15.0, face=Side.BACK)
    assert len(choices(footing(cavity))) == 1
