import math
from dataclasses import replace
from itertools import pairwise

import pytest

from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import ProfileSide, Shape, Side
from toolpath.motion.moves import Kind, Move
from toolpath.plan.feeds import with_feeds
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.programs import plan_cut

REST = "% there, less in tight curves, no slower than still cuts"


def level(part):
    z = min(move.end[2] for move in part.moves)
    return [m for m in part.moves if m.kind is not Kind.RAPID and m.start[2] == m.end[2] == z]


def same_way(before, after):
    """Whether the same path is walked, straight moves parted or not, these arcs as they were."""
    left = list(after.moves)
    for move in before.moves:
        part, place = left.pop(0), move.start
        while part.kind is Kind.LINE and math.dist(part.end, move.end) > 1e-9:
            between = math.dist(place, part.end) + math.dist(part.end, move.end)
            if part.start != place or between > math.dist(place, move.end) + 1e-9:
                return False
            place, part = part.end, left.pop(0)
        if (part.kind, part.start, part.end, part.sweep) != (
            move.kind,
            place,
            move.end,
            move.sweep,
        ):
            return False
    return not left


@pytest.fixture
def pocket(shop):
    return shop.pocket(rect(0, 0, 80, 60), depth=3.0)


def test_only_feeds_change_and_none_rises(shop, pocket):
    job = shop.job(pocket)
    (before,) = plan_pocket(job, pocket)
    (after,) = with_feeds(job, [before])
    assert same_way(before, after)
    assert len(after.moves) > len(before.moves)
    assert {m.feed for m in after.moves} <= {0.0, 300.0, 800.0, 1200.0}
    assert with_feeds(job, plan_pocket(job, pocket)) == plan_cut(job, pocket)


def test_the_first_ring_of_a_pocket_is_a_slot_and_is_noted(shop, pocket):
    (part,) = plan_cut(shop.job(pocket), pocket)
    slow = [m for m in level(part) if m.kind is Kind.LINE and m.feed < 1200.0]
    full = [m for m in level(part) if m.kind is Kind.LINE and m.feed == 1200.0]
    assert slow and full
    # Slots are slowed to 65 %, but not to where it rubs: 0.025 mm x 2 x 16000 = 800 mm/min.
    assert {m.feed for m in slow} == {800.0}
    # The innermost ring is 21.2 mm long from the hole of the helix, radius 2.7 + 3, about (50, 30).
    (first,) = slow
    assert 47.3 - 2.2 <= first.start[0] <= 47.3 and first.end[0] == pytest.approx(29.4, abs=0.01)
    # The flat turn at the foot of the helix takes the wedge that the turn before left, 0.875 mm of
    # 3 at most, and counts along its first half: half a stepdown in quarters: 1 - 0.35 / 2 = 0.82.
    length = first.length + math.pi * 2.7
    assert part.notes == (f"full width along {length:.0f} mm: fed at 65 to 82 {REST}",)


@pytest.mark.parametrize(
    ("depth", "share"), [(1.5, 0.825), (1.0, 0.825), (0.7, 0.9125), (0.3, 1.0)]
)
def test_shallow_slots_are_slowed_by_their_share_of_the_stepdown(shop, depth, share):
    shallow = shop.pocket(rect(0, 0, 80, 60), depth=depth, rpm=8000.0)
    (part,) = plan_cut(shop.job(shallow), shallow)
    slowest = min(m.feed for m in level(part) if m.kind is Kind.LINE)
    assert slowest == pytest.approx(1200.0 * share, rel=1e-6)
    assert any("full width" in note for note in part.notes) == (share < 1.0)


def test_what_goes_down_at_half_the_depth_is_not_slowed(shop):
    pocket = shop.pocket(rect(0, 0, 80, 60), depth=3.0, rpm=8000.0)
    (part,) = plan_cut(shop.job(pocket), pocket)
    helix = [m for m in part.moves if m.kind is Kind.ARC and m.end[2] < m.start[2] <= 0.6]
    # It is fed by its rim only: r / (r + R) with r 2.7 and R 3.
    assert helix and min(m.feed for m in helix) == pytest.approx(1200.0 * 2.7 / 5.7)


def test_a_profile_is_a_slot_all_round(shop):
    cut = shop.profile(rect(0, 0, 80, 60), side=ProfileSide.CENTRE, depth=3.0, rpm=8000.0)
    (part,) = plan_cut(shop.job(cut), cut)
    # The spiral comes down by 1.75 mm a turn, 0.58 of the stepdown: 1 - 0.35 x 0.75 = 0.7375. The
    # last turn takes its wedge, from 1.75 mm to nothing.
    spiral = [m for m in part.moves if m.end[2] < m.start[2] and m.start[2] < -1.3]
    assert all(m.feed == pytest.approx(1200.0 * 0.7375) for m in spiral[1:])
    slow = [m for m in part.moves if 400.0 < m.feed < 1200.0]
    length = sum(m.length for m in slow)
    assert sum(m.length for m in spiral[1:]) + 0.7 * 280.0 < length < 2 * 280.0
    assert part.notes == (f"full width along {length:.0f} mm: fed at 74 to 82 {REST}",)


@pytest.mark.parametrize("face", [Side.FRONT, Side.BACK])
def test_inside_corners_are_fed_by_the_rim(shop, face):
    # A corner of radius 6 with a cutter of radius 3: the centre goes round 3,
    # f r / (r + R) = f / 2.
    cut = shop.pocket(rect(0, 0, 80, 60, corner=6), depth=1.0, face=face, rpm=8000.0)
    (part,) = plan_cut(shop.job(cut), cut)
    corners = [
        m
        for m in level(part)
        if m.kind is Kind.ARC and math.dist(m.start[:2], m.centre) == pytest.approx(3.0, abs=0.01)
    ]
    assert len(corners) >= 4
    assert all(m.feed == pytest.approx(600.0, rel=0.06) and m.feed <= 601.0 for m in corners)


def test_round_an_island_the_feed_stays(shop):
    cut = shop.pocket(rect(0, 0, 90, 90), islands=[circle(45, 45, 10)], depth=1.0, rpm=8000.0)
    (part,) = plan_cut(shop.job(cut), cut)
    around = [
        m
        for m in level(part)
        if m.kind is Kind.ARC and math.dist(m.centre, (45, 45)) < 0.05
        and math.dist(m.start[:2], m.centre) == pytest.approx(13.0, abs=0.05)
    ]  # fmt: skip
    assert around and all(m.feed >= 1200.0 / 1.05 for m in around)


def test_a_chip_raises_the_feed_of_thin_lanes_only(shop):
    def planned(**other):
        cut = shop.pocket(rect(0, 0, 80, 60), depth=1.0, stepover=0.1, **other)
        return plan_cut(shop.job(cut), cut)[0]

    plain, kept = planned(), planned(chip=0.0375)
    assert same_way(plain, kept)
    assert max(m.feed for m in plain.moves) == 1200.0
    # Lanes of a tenth of the diameter, 0.6 mm, taken as a cell of 0.4 mm wider: 1 mm in 6 gives
    # 1200 / (2 sqrt(1/6 x 5/6)) = 1610; corners of rings are wider.
    lanes = [m.feed for m in level(kept) if m.kind is Kind.LINE and m.length > 20.0]
    assert 1500.0 <= max(lanes) <= 1200.0 / 0.6
    machine = shop.machine(feed_max=1300.0)
    cut = shop.pocket(rect(0, 0, 80, 60), depth=1.0, stepover=0.1, chip=0.0375)
    (part,) = plan_cut(shop.job(cut, machine=machine), cut)
    assert max(m.feed for m in part.moves) == 1300.0


def test_what_goes_down_never_sinks_faster_than_it_plunges(shop, judge):
    cut = shop.pocket(rect(0, 0, 60, 50), depth=9.0, chip=0.0375, ramp=30.0)
    (part,) = plan_cut(shop.job(cut), cut)
    assert judge(part).fastest_down() <= 300.0 * (1 + 1e-9)


def test_drills_are_left_alone(shop):
    cut = shop.drill((10, 10), shape=Shape.DRILL, angle=math.pi / 2)
    job = shop.job(cut)
    (part,) = plan_cut(job, cut)
    assert {m.feed for m in part.moves} <= {0.0, 300.0}


def test_parts_of_a_cut_know_what_those_before_took(shop):
    wide, thin = shop.cutter(), shop.cutter(diameter=3.0, name="flat 3", shank=3.0)
    cut = shop.pocket(rect(0, 0, 50, 40), depth=2.0)
    cut = replace(cut, cutter=wide, smaller=(thin,))
    first, second = plan_cut(shop.job(cut), cut)
    assert any("full width" in note for note in first.notes)
    assert not any("full width" in note for note in second.notes)


def test_an_arc_is_parted_where_its_slot_begins(shop, pocket):
    # A field of lines 4 apart clears x 15 to 40, y -4 to 24, 3 mm deep and a radius beyond; then
    # half a circle of radius 15 about (15, 0) goes through it, and on from about x 12 in full.
    job = shop.job(pocket)
    (part,) = plan_pocket(job, pocket)
    places = [(x, y) for x in range(15, 41, 4) for y in ((-4, 24) if x % 8 == 7 else (24, -4))]
    places += [(40, 0), (30, 0)]
    moves = [
        Move(kind=Kind.LINE, start=(*start, -3.0), end=(*end, -3.0), feed=1200.0)
        for start, end in pairwise(places)
    ]
    arc = {"centre": (15.0, 0.0), "sweep": math.pi, "feed": 1200.0}
    moves.append(Move(kind=Kind.ARC, start=(30.0, 0.0, -3.0), end=(0.0, 0.0, -3.0), **arc))
    (after,) = with_feeds(job, [replace(part, moves=tuple(moves))])
    arcs = [m for m in after.moves if m.kind is Kind.ARC]
    assert len(arcs) == 2
    assert arcs[0].start == (30.0, 0.0, -3.0) and arcs[-1].end == (0.0, 0.0, -3.0)
    assert arcs[0].end == arcs[1].start
    assert math.dist(arcs[1].start[:2], (15, 0)) == pytest.approx(15, abs=1e-9)
    assert sum(m.sweep for m in arcs) == pytest.approx(math.pi, abs=1e-12)
    assert arcs[1].feed < arcs[0].feed
    assert arcs[1].start[0] == pytest.approx(12.0, abs=2.5)  # stretches are 2 mm long
