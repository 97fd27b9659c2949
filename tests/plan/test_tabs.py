import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from independent import read
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon, box

from toolpath.blank.frames import Frame
from toolpath.drawing.outline import Err, Region, area_of
from toolpath.drawing.shapes import circle, rect, slot
from toolpath.errors import EntryError
from toolpath.job.model import Clamp, Cylinder, Hardness, Piece, ProfileSide, Side, Tabs
from toolpath.plan.circuit import Circuit
from toolpath.plan.profile import plan_profile, profile_loops
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.units import Unit

DEPTH = 42.5  # through the shop's blank of 42 mm and half a millimetre of board


def with_tabs(shop, *outline, count=3, width=6.0, height=2.0, finish=0.0, depth=DEPTH, **other):
    cut = shop.profile(*outline, depth=depth, stepdown=4.0, flute_length=45.0, **other)
    tabs = Tabs(count=count, width=width, height=height)
    return replace(cut, tabs=tabs, finish=finish)


def planned(shop, cut, pieces=(), clamps=()):
    job = replace(shop.job(cut, clamps=clamps), pieces=tuple(pieces))
    return plan_profile(job, cut)


def emitted(shop, found):
    """Feed moves of the text as dense polylines, back in the page frame of the face."""
    job = shop.job(found.cut)
    text = write_program(
        ProgramText(
            title=("tabs",),
            unit=Unit.MM,
            decimals=4,
            arcs=True,
            rpm=12000.0,
            spindle_wait=None,
            wait_in_ms=False,
            safe_height=6.0,
            sections=(
                Section(comment="rim", moves=Frame.of(job, found.cut.face).to_program(found.moves)),
            ),
        )
    ).text
    moves = [move for move in read(text) if not move.rapid]
    shift = np.array([-200.0, -200.0, 0.0])  # zero lower-left of a blank from -200 to 200
    assert found.cut.face is Side.FRONT
    return [move.points + shift for move in moves]


def runs_below(paths, height):
    """Connected parts of the way that lie at or below a height, cut exactly where they cross."""
    runs, open_run = [], None
    for path in paths:
        for a, b in pairwise(path):
            low, high = min(a[2], b[2]), max(a[2], b[2])
            if low > height:
                open_run = None
                continue
            share = [0.0, 1.0]
            if high > height:
                t = (height - a[2]) / (b[2] - a[2])
                share = [0.0, t] if a[2] <= height else [t, 1.0]
            first, last = (a + (b - a) * t for t in share)
            if open_run is None or share[0] > 0.0:
                open_run = [first]
                runs.append(open_run)
            open_run.append(last)
            if share[1] < 1.0:
                open_run = None
    return [np.array(run) for run in runs]


def points_below(paths, height):
    """(n, 2) places 0.05 mm apart or nearer, and both ends, of what runs at or below a height."""
    found = []
    for run in runs_below(paths, height):
        for a, b in pairwise(run[:, :2]):
            count = math.ceil(math.dist(a, b) / 0.05) + 1
            found.append(a + (b - a) * np.linspace(0, 1, count + 1)[:, None])
    return np.concatenate(found)


def tab_widths(paths, loop, spots, top, chord, radius=3.0):
    """Least distance between what the disc cuts on the two sides of each tab, just below its top;
    that of the places of its middle less two radii. A cut through the tab makes it nothing."""
    points = points_below(paths, top - 5e-4)
    found = []
    for spot in np.array(spots):
        place = loop.nearest(spot)
        before, after = loop.at(np.array([place - 0.01, place + 0.01]))
        reach = chord / 2.0 + 2.0
        near = points[np.hypot(*(points - spot).T) < reach]
        ahead = (near - spot) @ (after - before) > 0
        found.append(cKDTree(near[ahead]).query(near[~ahead])[0].min() - 2.0 * radius)
    return found


def random_outline(rng, kind):
    x, y = rng.uniform(-50, 20, 2)
    if kind == "rounded":
        w, h = rng.uniform(90, 140), rng.uniform(80, 120)
        return rect(x, y, x + w, y + h, rng.uniform(4, 30))
    if kind == "slot":
        return slot(x, y, x + rng.uniform(60, 110), y + rng.uniform(-30, 30), rng.uniform(40, 60))
    if kind == "disc":
        return circle(x, y, rng.uniform(45, 80))
    return shapely_free(rng, x, y)


def shapely_free(rng, x, y):
    """A bay cut into a rounded bar: arcs that bulge in and out."""
    base = Polygon([(x, y), (x + 130, y), (x + 130, y + 70), (x, y + 70)])
    shape = base.buffer(-12).buffer(12, quad_segs=64)
    shape = shape.difference(Point(x + 65, y + 95).buffer(rng.uniform(35, 50), quad_segs=90))
    shape = shape.buffer(-9, quad_segs=64).buffer(9, quad_segs=64)
    return Region(outer=rect(0, 0, 1, 1).outer.of_polygon(np.array(shape.exterior.coords)[:-1]))


@pytest.mark.parametrize(
    ("kind", "side", "finish"),
    [
        ("rounded", ProfileSide.OUTER, 0.3),
        ("slot", ProfileSide.INNER, 0.0),
        ("disc", ProfileSide.OUTER, 0.0),
        ("disc", ProfileSide.INNER, 0.3),
        ("free", ProfileSide.OUTER, 0.0),
        ("free", ProfileSide.INNER, 0.3),
    ],
)
def test_tabs_of_the_text_have_their_width_and_height_and_the_rest_is_cut_through(
    shop, kind, side, finish
):
    rng = np.random.default_rng([len(kind), len(side.value), int(10 * finish)])
    outline = random_outline(rng, kind)
    cut = with_tabs(shop, outline, side=side, width=float(rng.uniform(4, 9)), finish=finish)
    assert_tabs_and_through(shop, cut)


@pytest.mark.parametrize("finish", [0.0, 0.3])
@pytest.mark.parametrize(
    ("outline", "side", "count"),
    [
        (circle(0, 0, 15), ProfileSide.OUTER, 4),
        (circle(0, 0, 25), ProfileSide.OUTER, 4),
        (circle(0, 0, 45), ProfileSide.OUTER, 8),
        (circle(0, 0, 20), ProfileSide.INNER, 3),
        (rect(0, 0, 60, 60), ProfileSide.OUTER, 4),
        (rect(0, 0, 36, 30, 5), ProfileSide.INNER, 2),
    ],
)
def test_a_small_outline_gets_all_its_tabs(shop, outline, side, count, finish):
    cut = with_tabs(shop, outline, side=side, count=count, width=5.0, finish=finish)
    assert_tabs_and_through(shop, cut)


def assert_tabs_and_through(shop, cut):
    """Measured in the text: all tabs there, each as wide and high as asked, all else open."""
    found = planned(shop, cut)
    count = cut.tabs.count
    assert len(found.tabs) == count, found.notes
    paths = emitted(shop, found)
    top = -42.0 + cut.tabs.height
    loop = Circuit(profile_loops(cut)[0])
    widths = tab_widths(paths, loop, found.tabs, top, cut.tabs.width + 6.0)
    assert widths == pytest.approx([cut.tabs.width] * count, abs=0.05)
    # All round, the tabs too, it went down to their top along the wall.
    wall = loop.points(0.2)
    reached = cKDTree(points_below(paths, top + 1e-4)).query(wall)[0]
    assert reached.max() < 0.06
    # At the floor the loop is closed only at the tabs, and right behind each it is open.
    through = cKDTree(points_below(paths, -DEPTH + 1e-4)).query(wall)[0] < 0.06
    closed = np.flatnonzero(through & ~np.roll(through, -1))
    assert len(closed) == count
    at_tabs = cKDTree(wall).query(np.array(found.tabs))[1]
    assert not through[at_tabs].any()
    kept = count * (cut.tabs.width + 6.0 + (cut.tabs.height + 0.5) / math.tan(math.radians(30)))
    assert (~through).mean() * loop.length < kept + 0.8 * count


@pytest.mark.parametrize("finish", [0.0, 0.3])
@pytest.mark.parametrize("side", list(ProfileSide))
def test_descends_no_steeper_than_the_ramp_and_never_deeper_than_a_stepdown(
    shop, judge, side, finish
):
    cut = with_tabs(shop, rect(0, 0, 110, 80, 12), side=side, finish=finish)
    judged = judge(planned(shop, cut))
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()
    assert judged.steepest() <= math.radians(3.0)
    assert judged.fastest_down() <= 300.0 * (1 + 1e-9)
    # Up to a tab at 30 degrees at most.
    ups = [m for m in judged.feeds if m.end[2] > m.start[2]]
    assert ups
    assert all((m.end[2] - m.start[2]) / m.length <= 0.5 + 1e-9 for m in ups)


def test_a_cut_that_stays_in_the_blank_measures_its_tabs_from_its_floor(shop):
    cut = with_tabs(shop, rect(0, 0, 110, 80), depth=10.0, height=1.5)
    paths = emitted(shop, planned(shop, cut))
    heights = {round(float(z), 6) for path in paths for z in path[:, 2] if -10 < z < -8.4}
    levels = {z for z in heights if sum((abs(p[:, 2] - z) < 1e-9).all() for p in paths) >= 3}
    assert -8.5 in levels


def test_a_blank_of_doubtful_thickness_measures_them_from_the_thinnest(shop):
    cut = replace(with_tabs(shop, rect(0, 0, 110, 80)), depth=43.0)
    job = shop.job(cut)
    job = replace(job, blank=replace(job.blank, thickness_within=0.5))
    level = [
        m.start[2]
        for m in plan_profile(job, cut).moves
        if m.feed and m.start[2] == m.end[2] and -43.0 < m.start[2] < -39
    ]
    assert set(level) == {-41.5 + 2.0}


def test_tabs_stand_on_the_straight_sides_and_evenly(shop):
    found = planned(shop, with_tabs(shop, rect(0, 0, 120, 80, 15), count=4, height=1.5))
    assert len(found.tabs) == 4
    for x, y in found.tabs:
        on_long = 15 + 6 <= x <= 105 - 6 and (y < 0 or y > 80)
        on_short = 15 + 6 <= y <= 65 - 6 and (x < 0 or x > 120)
        assert on_long or on_short, (x, y)
    loop = Circuit(profile_loops(found.cut)[0])
    places = np.sort([loop.nearest(np.array(spot)) for spot in found.tabs])
    gaps = np.diff(np.append(places, places[0] + loop.length))
    assert gaps.max() < 1.35 * loop.length / 4


def test_tabs_keep_away_from_pieces_and_clamps(shop):
    cut = with_tabs(shop, rect(0, 0, 120, 80), count=4, height=1.5)
    free = planned(shop, cut)
    below = min(free.tabs, key=lambda spot: spot[1])
    cog = Piece(
        name="cog",
        solid=Cylinder(diameter=30.0, height=6.0),
        at=(below[0], below[1] - 5.0),
        measured_from=Side.FRONT,
        depth=8.0,
        clearance=1.0,
        hardness=Hardness.METAL,
    )
    clamp = Clamp(name="clamp[1]", face=Side.FRONT, outline=(rect(-60, 25, -20, 55),), height=12.0)
    kept = planned(shop, cut, [cog], [clamp])
    near = Point(cog.at).buffer(15.0)
    stand = area_of(clamp.outline, 1e-4, Err.OUTWARD)

    def least(found, area):
        loop = Circuit(profile_loops(cut)[0])
        middles = [loop.nearest(np.array(spot)) for spot in found.tabs]
        ways = [loop.at(np.linspace(m - 6, m + 6, 40)) for m in middles]
        return min(LineString(way).distance(area) for way in ways)

    assert len(kept.tabs) == 4
    assert least(free, near) < 3.0, "the test needs a tab that the piece pushes away"
    assert least(kept, near) > 3.0
    assert least(kept, stand) > 11.0 + 1.0


def test_fewer_are_made_where_there_is_no_room_and_it_is_said(shop):
    found = planned(shop, with_tabs(shop, rect(0, 0, 50, 40), count=12))
    assert 6 <= len(found.tabs) < 12
    assert found.notes[0].startswith(f"{len(found.tabs)} of 12 tabs fit round X 25 mm, Y 20 mm: ")


def test_each_part_gets_its_tabs(shop):
    cut = with_tabs(shop, rect(-180, 0, -60, 80), rect(0, 0, 120, 80), count=2)
    found = planned(shop, cut)
    assert sorted(x < -30 for x, _ in found.tabs) == [False, False, True, True]


def test_a_hole_that_the_cutter_clears_needs_no_tab(shop):
    frame = Region(outer=rect(0, 0, 120, 80).outer, holes=(circle(30, 30, 5.5).outer,))
    found = planned(shop, with_tabs(shop, frame, count=2))
    assert len(found.tabs) == 2
    assert all(Point(spot).distance(Point(30, 30)) > 20 for spot in found.tabs)


def test_no_tab_stands_where_another_stretch_of_the_path_would_cut_through_it(shop):
    # A long neck of 11 mm: along it the cutter's path comes back 5 mm beside itself.
    rooms = shapely.union_all(
        [box(-190, 0, -140, 60), box(140, 0, 190, 60), box(-150, 24.5, 150, 35.5)]
    )
    outline = shop.polygon(shapely.get_coordinates(rooms.exterior)[:-1])
    cut = with_tabs(shop, outline, side=ProfileSide.INNER, count=4, height=1.0)
    found = planned(shop, cut)
    assert len(found.tabs) == 4
    assert all(abs(x) > 140 for x, _ in found.tabs)
    # Wide enough that the paths keep apart, it is as good as any other run.
    wide = shapely.union_all([box(-190, 0, -140, 60), box(140, 0, 190, 60), box(-150, 20, 150, 40)])
    free = shop.polygon(shapely.get_coordinates(wide.exterior)[:-1])
    found = planned(shop, replace(cut, outline=(free,)))
    assert any(abs(x) < 140 for x, _ in found.tabs)


def test_a_loop_without_room_for_a_tab_is_refused(shop):
    with pytest.raises(EntryError, match=r'"rim": no tab fits round X 7.5 mm.*narrower or lower'):
        planned(shop, with_tabs(shop, rect(0, 0, 15, 15), side=ProfileSide.INNER))
