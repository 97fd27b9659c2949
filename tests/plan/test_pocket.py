import math

import numpy as np
import pytest
from shapely.geometry import Polygon

from toolpath.drawing.outline import Loop, Region
from toolpath.drawing.shapes import circle, rect, slot
from toolpath.errors import EntryError
from toolpath.job.model import Side
from toolpath.plan.pocket import plan_pocket

L_SHAPE = Region(
    outer=Loop.of_polygon([(0, 0), (60, 0), (60, 20), (25, 20), (25, 50), (0, 50)]),
)
TRIANGLE = Region(outer=Loop.of_polygon([(0, 0), (80, 0), (80, 25)]))
QUARTER = math.tan(math.pi / 8)
DRAWN = Region(
    # A half round end, a straight, an arc that bulges inward and a rounded corner, as drawn.
    outer=Loop(
        points=np.array(
            [
                [0.0, 0.0, 0.0],
                [50.0, 0.0, 1.0],
                [50.0, 30.0, 0.0],
                [35.0, 30.0, -0.3],
                [15.0, 30.0, 0.0],
                [5.0, 30.0, QUARTER],
                [0.0, 25.0, 0.0],
            ]
        )
    )
)


def lobes(width):
    low, high = 20 - width / 2, 20 + width / 2
    return rect(0, 0, 40, 40), rect(60, 0, 100, 40), rect(39, low, 61, high)


ORDINARY = {
    "rect": ((rect(0, 0, 60, 40),), ()),
    "L": ((L_SHAPE,), ()),
    "islands": ((rect(0, 0, 100, 60),), (circle(30, 30, 8), rect(60, 20, 80, 40))),
    "circle": ((circle(0, 0, 25),), ()),
    "dumbbell": (lobes(12), ()),
}
ODD = {
    "neck just passable": (lobes(6.1), ()),
    "neck too narrow": (lobes(5.9), ()),
    "acute": ((TRIANGLE,), ()),
    "arcs": ((DRAWN,), ()),
    "islands nearly touching": ((rect(0, 0, 80, 60),), (circle(30, 30, 8), circle(46.2, 30, 8))),
    "slot of the cutter and 0.1": ((slot(0, 0, 40, 10, 6.1),), ()),
    "only a ramp fits": ((circle(0, 0, 4),), ()),
    "tiny helix": ((circle(0, 0, 6),), ()),
}


def planned(shop, outline, islands=(), **other):
    cut = shop.pocket(*outline, islands=islands, **other)
    return only(plan_pocket(shop.job(cut), cut))


def only(parts):
    (part,) = parts
    return part


def assert_cleared(judged, levels):
    """The measured targets of every pocket, on the emitted moves."""
    cut = judged.planned.cut
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()
    for level in range(1, levels + 1):
        assert judged.uncut_share(-cut.depth * level / levels) <= 1e-4
    assert judged.overcut() <= 0.003
    assert judged.nearest_to_wall(-cut.depth) >= judged.radius - 0.001
    assert min(move.end[2] for move in judged.feeds) == -cut.depth
    assert judged.steepest() <= cut.cutter.ramp + 1e-9
    assert judged.fastest_down() <= cut.cutter.plunge * (1 + 1e-9)


@pytest.mark.parametrize("name", ORDINARY)
def test_ordinary_pocket_is_cleared_within_its_feed_length(shop, judge, name):
    outline, islands = ORDINARY[name]
    judged = judge(planned(shop, outline, islands))
    assert_cleared(judged, levels=2)
    assert judged.planned.lifts <= 2
    # Lanes a stepover apart would measure area / stepover (elementary); a tenth is for ways in.
    assert judged.feed_length() <= 1.10 * 2 * judged.region().area / 2.4


@pytest.mark.parametrize("name", ODD)
def test_odd_pocket_is_cleared(shop, judge, name):
    outline, islands = ODD[name]
    judged = judge(planned(shop, outline, islands))
    assert_cleared(judged, levels=2)
    regions = 2 if name == "neck too narrow" else 1
    assert judged.planned.lifts <= 2 * regions


@pytest.mark.parametrize("stepover", [0.2, 0.3, 0.5, 0.55, 0.7, 0.9])
@pytest.mark.parametrize("name", ["islands", "acute", "neck just passable"])
def test_every_stepover_leaves_nothing(shop, judge, stepover, name):
    outline, islands = (ORDINARY | ODD)[name]
    judged = judge(planned(shop, outline, islands, depth=2.0, stepover=stepover))
    assert_cleared(judged, levels=1)
    assert judged.planned.lifts == 1


@pytest.mark.parametrize("seed", range(30))
def test_random_pocket_is_cleared(shop, judge, seed):
    rng = np.random.default_rng(seed)
    region, middle = random_region(rng)
    islands = (circle(*middle, 3.0),) if seed % 3 == 0 else ()
    face = Side.BACK if seed % 2 else Side.FRONT
    stepover = float(rng.choice([0.25, 0.4, 0.6, 0.85]))
    judged = judge(planned(shop, (region,), islands, stepover=stepover, face=face, depth=3))
    assert_cleared(judged, levels=1)


def random_region(rng):
    while True:
        count, reach = rng.integers(5, 14), rng.uniform(20, 45)
        angles = np.sort(rng.uniform(0, 2 * np.pi, count))
        far = reach * rng.uniform(0.3, 1.0, count)
        corners = np.column_stack([far * np.cos(angles), far * np.sin(angles)])
        polygon = Polygon(corners)
        if polygon.is_valid and polygon.area > 300:
            spot = polygon.representative_point()
            return Region(outer=Loop.of_polygon(corners)), (spot.x, spot.y)


@pytest.mark.parametrize(("face", "right"), [(Side.FRONT, -1.0), (Side.BACK, 1.0)])
@pytest.mark.parametrize("name", ["rect", "islands", "arcs", "only a ramp fits"])
def test_climbs_with_the_wall_on_the_right_as_seen_on_the_machine(shop, judge, face, right, name):
    # Climb milling with M3: material right of travel (common practice). The page of the back is a
    # mirror image of what is seen on the machine.
    outline, islands = (ORDINARY | ODD)[name]
    judged = judge(planned(shop, outline, islands, face=face))
    sides = judged.wall_sides(judged.region().boundary, -6.0)
    assert len(sides) >= 2
    assert set(sides) == {right}


def test_helix_turns_the_climbing_way_on_both_faces(shop, judge):
    for face, way in ((Side.FRONT, 1.0), (Side.BACK, -1.0)):
        judged = judge(planned(shop, (rect(0, 0, 60, 40),), face=face))
        falling = [m.sweep for m in judged.feeds if m.sweep and m.end[2] < m.start[2]]
        assert falling
        assert {math.copysign(1.0, sweep) for sweep in falling} == {way}


def test_reachable_area_of_a_rectangle(shop):
    # What a disc reaches of 100 x 60: A - 4 (1 - pi/4) r^2 = 5992.274334 (elementary).
    found = planned(shop, (rect(0, 0, 100, 60),), depth=2.0)
    assert found.reachable_area == pytest.approx(5992.274334, rel=1e-6)
    assert found.uncut_area <= 1e-6 * found.reachable_area
    assert found.floor == 2.0
    assert found.notes == ()


@pytest.mark.parametrize("ramp", [1.0, 10.0, 40.0])
def test_descends_no_steeper_than_the_ramp_and_no_faster_than_the_plunge(shop, judge, ramp):
    for outline in ((rect(0, 0, 60, 40),), (slot(0, 0, 40, 0, 6.4),)):
        judged = judge(planned(shop, outline, ramp=ramp))
        assert 0.5 * math.radians(ramp) < judged.steepest() <= math.radians(ramp)
        assert judged.fastest_down() <= 300.0 * (1 + 1e-9)
        judged.assert_straight_descents_in_air()


def test_helix_leaves_no_post(shop, judge):
    judged = judge(planned(shop, (rect(0, 0, 60, 40),), depth=2.0))
    turns = [m for m in judged.feeds if m.sweep]
    radii = {round(math.dist(m.start[:2], m.centre), 6) for m in turns if m.end[2] < m.start[2]}
    # Path radius 0.25 to 0.45 of the diameter: under half, so that the middle goes too.
    assert len(radii) == 1
    assert 0.25 * 6 <= radii.pop() <= 0.45 * 6


def test_levels_are_equal_and_the_floor_exact(shop, judge):
    judged = judge(planned(shop, (rect(0, 0, 40, 30),), depth=10.0))
    flats = sorted({m.end[2] for m in judged.feeds if m.end[2] == m.start[2] < 0})
    assert flats == pytest.approx([-10.0, -7.5, -5.0, -2.5])
    assert flats[0] == -10.0


def test_wide_pocket_lifts_once_a_level_and_comes_down_in_cleared_stock(shop, judge):
    judged = judge(planned(shop, (rect(0, 0, 150, 120),), depth=9.0, stepover=0.45))
    assert judged.planned.lifts <= 3
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()


@pytest.mark.parametrize("outline", [circle(10, 20, 3.1), rect(0, 0, 6.2, 6.2)])
def test_a_loop_that_is_almost_a_point_has_no_way_in(shop, outline):
    cut = shop.pocket(outline)
    with pytest.raises(EntryError, match=r'cut "cavity": no way in at x .* thinner cutter'):
        plan_pocket(shop.job(cut), cut)


def test_a_pocket_narrower_than_the_cutter_is_refused_with_its_width(shop):
    cut = shop.pocket(rect(0, 0, 50, 5))
    with pytest.raises(EntryError, match=r'cut "cavity": the 6 mm cutter .* widest place is 5'):
        plan_pocket(shop.job(cut), cut)


def test_islands_that_fill_the_pocket_are_refused(shop):
    cut = shop.pocket(rect(0, 0, 50, 50), islands=(rect(-1, -1, 51, 51),))
    with pytest.raises(EntryError, match="does not fit"):
        plan_pocket(shop.job(cut), cut)


def test_feed_never_passes_the_machine(shop, judge):
    cut = shop.pocket(rect(0, 0, 30, 30), feed=5000.0)
    judged = judge(only(plan_pocket(shop.job(cut, machine=shop.machine(feed_max=800.0)), cut)))
    assert max(move.feed for move in judged.feeds) == 800.0
