"""Ways of bounded engagement, measured on the emitted text by a raster that shares no code."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from engagement import Block, trace
from shapely.geometry import Point, Polygon, box

from toolpath.drawing.outline import Loop, Region
from toolpath.drawing.shapes import circle, rect, slot
from toolpath.job.model import Side
from toolpath.plan.bounded import Clearing, Room, bounded_way
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.returns import Heading, Within
from toolpath.plan.work import Work
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.units import Unit

L_SHAPE = Region(outer=Loop.of_polygon([(0, 0), (60, 0), (60, 25), (30, 25), (30, 50), (0, 50)]))
CASES = {
    "rect": ((rect(0, 0, 50, 35),), ()),
    "round": ((circle(0, 0, 22),), ()),
    "slot": ((slot(0, 0, 40, 8, 24),), ()),
    "L": ((L_SHAPE,), ()),
    "island": ((rect(0, 0, 60, 50),), (circle(28, 24, 8),)),
}


def text_of(parts):
    """The parts of one cutter as a program of their page frame."""
    moves = tuple(move for part in parts for move in part.moves)
    spec = ProgramText(
        title=("cavity",),
        unit=Unit.MM,
        decimals=4,
        arcs=True,
        rpm=16000.0,
        spindle_wait=5.0,
        wait_in_ms=False,
        safe_height=6.0,
        sections=(Section(comment="cavity", moves=moves),),
    )
    return write_program(spec).text


def planned(shop, outline, islands=(), *, engage=70.0, **other):
    cut = replace(shop.pocket(*outline, islands=islands, **other), engage=math.radians(engage))
    (part,) = plan_pocket(shop.job(cut), cut)
    return part


def assert_bounded(part, engage):
    met = trace(text_of([part]), part.cutter.radius)
    assert met.share_within(engage + 5.0) >= 0.99
    assert met.worst <= engage + 15.0, met.worst_place()
    return met


@pytest.mark.parametrize("name", CASES)
def test_no_more_of_the_rim_is_engaged_than_asked(shop, judge, name):
    outline, islands = CASES[name]
    part = planned(shop, outline, islands, depth=8.0, stepdown=8.0)
    met = assert_bounded(part, 70.0)
    judged = judge(part)
    ideal = judged.reachable().area / (3.0 * (1.0 - math.cos(math.radians(70.0))))
    assert met.engaged_length <= 1.4 * ideal
    assert met.feed_length <= 2.0 * ideal + 200.0  # and the helix down
    assert part.lifts == 1
    assert judged.uncut_share(-8.0) <= 1e-4
    assert judged.overcut() <= 0.003
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()


@pytest.mark.parametrize("corner", [3.02, 3.6, 4.2])
def test_corners_drawn_a_little_rounder_than_the_cutter(shop, judge, corner):
    part = planned(shop, (rect(0, 0, 50, 35, corner=corner),), depth=3.0)
    assert_bounded(part, 70.0)
    judged = judge(part)
    assert judged.uncut_share(-3.0) <= 1e-4 and judged.overcut() <= 0.003


@pytest.mark.parametrize("engage", [40.0, 100.0])
def test_other_bounds(shop, judge, engage):
    part = planned(shop, *CASES["slot"], engage=engage, depth=3.0)
    assert_bounded(part, engage)
    assert judge(part).uncut_share(-3.0) <= 1e-4


def test_no_way_begins_beyond_a_wall(shop, judge):
    # Beside this island a front begins 0.03 mm from the wall.
    part = planned(shop, (circle(0, 0, 30),), (circle(3, 2, 18),), engage=60.0, depth=3.0)
    assert judge(part).overcut() <= 0.003


@pytest.mark.parametrize("engage", [45.0, 70.0])
@pytest.mark.parametrize("room", [0.52, 0.58, 0.64])
@pytest.mark.parametrize("shape", ["channel", "ring"])
def test_narrow_rooms_whose_corners_have_little_room_to_be_rounded(
    shop, judge, shape, room, engage
):
    wide = 6.0 * (1.0 + room)
    island = rect(wide, wide, wide + 24.0, wide + 20.0)
    outlines = {
        "channel": ((rect(0, 0, 40, wide),), ()),
        "ring": ((rect(0, 0, 24.0 + 2.0 * wide, 20.0 + 2.0 * wide),), (island,)),
    }
    part = planned(shop, *outlines[shape], engage=engage, depth=3.0)
    assert_bounded(part, engage)
    assert judge(part).uncut_share(-3.0) <= 1e-4


@pytest.mark.parametrize("seed", range(4))
def test_random_outlines(shop, judge, seed):
    rng = np.random.default_rng(seed)
    angle = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
    swell = 24.0 + sum(
        rng.uniform(0.0, 5.0 / k) * np.sin(k * angle + rng.uniform(0.0, 6.0)) for k in (2, 3, 5)
    )
    corners = np.column_stack([swell * np.cos(angle), swell * np.sin(angle)])
    outline = (Region(outer=Loop.of_polygon(corners)),)
    face = Side.BACK if seed % 2 else Side.FRONT
    part = planned(shop, outline, face=face, depth=3.0)
    assert_bounded(part, 70.0)
    judged = judge(part)
    assert judged.uncut_share(-3.0) <= 1e-4
    assert judged.overcut() <= 0.003


@pytest.mark.parametrize("face", Side)
def test_the_last_pass_climbs_on_both_faces(shop, judge, face):
    part = planned(shop, *CASES["rect"], face=face, depth=3.0)
    judged = judge(part)
    sides = judged.wall_sides(judged.region().boundary, -3.0)
    assert sides and set(sides) == {-1.0 if face is Side.FRONT else 1.0}


def test_plain_passes_meet_more_in_corners(shop):
    cut = shop.pocket(rect(0, 0, 50, 35), depth=3.0, stepover=0.329)
    met = trace(text_of(plan_pocket(shop.job(cut), cut)), 3.0)
    assert met.worst > 120.0


def test_a_thinner_cutter_clears_a_channel_without_much_air(shop, judge):
    """Of all that it is fed, ways down too, against the area over radius x (1 - cos 70 degrees)."""
    outline = (rect(0, 0, 40, 30), slot(20, 29, 20, 45, 5))
    cut = replace(shop.pocket(*outline, depth=3.0), engage=math.radians(70.0))
    small = shop.cutter(diameter=3.0, name="flat 3", stepdown=3.0)
    cut = replace(cut, cutter=shop.cutter(diameter=6.0, stepdown=3.0), smaller=(small,))
    first, last = plan_pocket(shop.job(cut), cut)
    left = first.uncut_area - last.uncut_area
    ideal = left / (1.5 * (1.0 - math.cos(math.radians(70.0))))
    assert judge(last).feed_length() < 3.0 * ideal
    assert_bounded_after(first, last)


def assert_bounded_after(first, last):
    block = Block.over(-10, -10, 60, 60)
    trace(text_of([first]), first.cutter.radius, block=block)
    met = trace(text_of([last]), last.cutter.radius, block=block)
    assert met.share_within(75.0) >= 0.99
    assert met.worst <= 85.0, met.worst_place()
    assert met.engaged_length > 0.75 * met.feed_length


def work_of(shop):
    cut = shop.pocket(rect(0, 0, 50, 35), depth=3.0)
    return Work(job=shop.job(cut), cut=cut, cutter=cut.cutter)


def test_what_is_gone_is_not_cut_again(shop):
    area, gone = box(3, 3, 47, 32), box(-1, -1, 30, 36)
    way = bounded_way(work_of(shop), Room(area=area, gone=gone, bound=math.radians(70.0)))
    x, y = way.entry.spot
    assert gone.covers(Point(x, y).buffer(3.4))
    cuts = [leg for leg in way.legs if leg.kind is Kind.CUT]
    assert cuts and all(leg.points[:, 0].max() > 26.0 for leg in cuts)
    assert not any(leg.kind is Kind.LIFT for leg in way.legs)
    left = area.buffer(3.0).difference(gone).difference(way.swept(3.0))
    assert left.buffer(-0.01).is_empty


def test_there_may_be_no_way_in(shop):
    room = Room(area=box(0, 0, 2, 40), gone=Polygon(), bound=1.2)
    assert bounded_way(work_of(shop), room) is None


def test_the_back_is_the_mirror_image(shop):
    front = planned(shop, *CASES["rect"], depth=3.0)
    back = planned(shop, *CASES["rect"], face=Side.BACK, depth=3.0)
    assert len(back.moves) == pytest.approx(len(front.moves), rel=0.2)
    spots = shapely.points([move.end[:2] for move in back.moves])
    assert shapely.covers(box(-0.001, -0.001, 50.001, 35.001), spots).all()


@pytest.mark.parametrize("step", [0.3, 1.0, 1.974, 3.0, 4.5])
def test_the_raster_sees_the_angle_of_a_straight_front(step):
    """acos(1 - step / radius): elementary, and in any handbook of milling."""
    text = (
        "G21\nG0 X0 Y0 Z6\nG1 Z-1 F100\nG1 X40\nG0 Z6\n"
        f"G0 X0 Y{-step}\nG0 Z1\nG1 Z-1\nG1 X40\nG0 Z6\n"
    )
    met = trace(text, 3.0)
    x, y = met.spots[:, 0], met.spots[:, 1]
    second = (y < -step / 2.0) & (x > 10.0) & (x < 35.0) & (met.spots[:, 2] < 0.0)
    wanted = math.degrees(math.acos(1.0 - step / 3.0))
    assert np.abs(met.angle[second] - wanted).max() < 1.5


def test_what_a_way_that_comes_to_nothing_met_still_stands():
    # A skin of 0.05 mm engages acos(1 - 0.05 / 3) = 10 degrees: no stock worth a way.
    area = box(3, 3, 47, 32)
    skin = box(10, 0, 40, 0.05)
    near = Near.fresh(Cells.over(area, 3.0), 3.0, box(0, 0, 50, 35).difference(skin))
    begin = Heading(x=8.0, y=3.0, angle=0.0)
    inside = Within.of(near.cells, area)
    walk = Walk(near=near, room=inside, foot=begin.place[None], at=begin)
    before = near.walked.copy()
    clearing = Clearing(walk=walk, area=area, bound=math.radians(70.0))
    assert clearing._pass(inside.depth, begin, 1.0) is None
    np.testing.assert_array_equal(near.walked, before)
    assert walk.legs == []
