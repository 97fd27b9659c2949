import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from toolpath.drawing.shapes import rect, slot
from toolpath.job.model import Clamp, ProfileSide, Side, Tabs
from toolpath.motion.moves import Kind
from toolpath.plan.profile import plan_profile


def finished(shop, outline, *, finish=0.4, side=ProfileSide.OUTER, below=0.0, **other):
    cut = replace(shop.profile(outline, side=side, **other), finish=finish, below=below)
    return plan_profile(shop.job(cut), cut)


@pytest.mark.parametrize("side", [ProfileSide.OUTER, ProfileSide.INNER])
@pytest.mark.parametrize("face", list(Side))
def test_levels_stay_off_the_wall_and_the_last_turn_runs_along_it(shop, judge, side, face):
    found = finished(shop, rect(0, 0, 100, 60), side=side, face=face)
    judged = judge(found)
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()
    wall = box(0, 0, 100, 60)
    inside = box(0, 0, 100, 60).boundary
    slanting = [m for m in judged.feeds if m.start[2] != m.end[2] and m.start[:2] != m.end[:2]]
    gaps = [inside.distance(shapely.Point(m.end[:2])) for m in slanting]
    assert min(gaps) >= 3.0 + 0.4 - 0.002
    flat = list(judged.flat_paths(-6.0))
    near = min(LineString(path[:, :2]).distance(inside) for path in flat)
    assert near == pytest.approx(3.0, abs=0.002)
    swept = shapely.union_all([LineString(p[:, :2]).buffer(3.0, quad_segs=64) for p in flat])
    if side is ProfileSide.OUTER:
        assert swept.intersection(wall.buffer(-0.003)).is_empty
        assert (wall.buffer(6.0, quad_segs=64) - wall).difference(swept).area < 0.3
    else:
        assert wall.buffer(0.003).covers(swept)
        ring = wall.buffer(-3).buffer(3, quad_segs=64).difference(wall.buffer(-6.0))
        assert ring.difference(swept).area < 0.3
    assert found.lifts == 1


def at_the_wall(judged):
    """Heights at which something goes all round the wall of the rectangle, top first."""
    wall = box(0, 0, 100, 60).boundary
    heights = {m.start[2] for m in judged.feeds if m.start[2] == m.end[2]}
    near = {z: [p for p in judged.flat_paths(z) if nears(p, wall)] for z in heights}
    long = {z: sum(LineString(p[:, :2]).length for p in paths) for z, paths in near.items()}
    return sorted((z for z, length in long.items() if length > 300.0), reverse=True)


def nears(path, wall):
    """Whether a path touches the wall with a rim of 3 mm all along."""
    return shapely.distance(wall, shapely.points(path[:, :2])).max() < 3.001


@pytest.mark.parametrize(
    ("cutter", "heights"),
    [
        # Four diameters are the most that takes a wall at once, if the flutes are that long
        # (common practice, no source).
        ({"reach": 24.0, "flute_length": 16.0}, [-16.0]),
        ({"reach": 24.1, "flute_length": 16.0}, [-4.0, -8.0, -12.0, -16.0]),
        ({"reach": 24.0, "flute_length": 15.0}, [-4.0, -8.0, -12.0, -16.0]),
    ],
)
@pytest.mark.parametrize("tabs", [None, Tabs(count=3, width=6.0, height=3.0)])
def test_a_cutter_that_bends_takes_the_wall_level_by_level(shop, judge, cutter, heights, tabs):
    cut = replace(shop.profile(rect(0, 0, 100, 60), depth=16.0, stepdown=4.0, **cutter), tabs=tabs)
    cut = replace(cut, finish=0.4)
    judged = judge(plan_profile(shop.job(cut), cut))
    judged.assert_way_is_whole()
    judged.assert_straight_descents_in_air()
    assert judged.steepest() <= math.radians(3.0)
    assert judged.planned.lifts == 1
    assert at_the_wall(judged) == pytest.approx(heights)
    assert len(judged.planned.tabs) == (3 if tabs else 0)
    for spot in judged.planned.tabs:
        assert judged.cut_at(-16.0).distance(shapely.Point(spot)) >= 3.0 - 0.05


@pytest.mark.parametrize("outline", [rect(0, 0, 100, 60), slot(0, 0, 70, 0, 40)])
def test_the_last_pass_comes_and_goes_at_tangents(shop, outline):
    found = finished(shop, outline)
    last = [m for m in found.moves if m.kind is not Kind.RAPID and m.start[2] == m.end[2] == -6.0]
    turns = []
    for a, b in itertools.pairwise(last):
        change = heading(b, 0) - heading(a, 1)
        turns.append(abs(math.remainder(change, 2 * math.pi)))
    # Nowhere a corner: the way over to the wall and off it is as smooth as the rest.
    assert max(turns) < math.radians(6.0)


def heading(move, at):
    """Direction at the beginning (0) or the end (1) of a move."""
    if move.kind is Kind.LINE:
        return math.atan2(move.end[1] - move.start[1], move.end[0] - move.start[0])
    spot = (move.start, move.end)[at]
    angle = math.atan2(spot[1] - move.centre[1], spot[0] - move.centre[0])
    return angle + math.copysign(math.pi / 2, move.sweep)


def test_a_neck_that_only_the_last_pass_fits_into_is_still_cut(shop, judge):
    # Two rooms joined by a neck of 6.6 mm: with 0.4 mm left on the walls they fall apart.
    rooms = shapely.union_all([box(0, 0, 40, 40), box(60, 0, 100, 40), box(30, 16.7, 70, 23.3)])
    outline = shop.polygon(shapely.get_coordinates(rooms.exterior)[:-1])
    judged = judge(finished(shop, outline, side=ProfileSide.INNER, stepdown=3.0))
    judged.assert_way_is_whole()
    assert judged.steepest() <= math.radians(3.0)
    swept = shapely.union_all(
        [LineString(p[:, :2]).buffer(3.0, quad_segs=32) for p in judged.flat_paths(-6.0)]
    )
    assert box(45, 16.71, 55, 23.29).difference(swept).area < 1e-6
    assert rooms.buffer(0.003).covers(swept)


def test_begins_below_what_was_cut_before(shop):
    found = finished(shop, rect(0, 0, 100, 60), finish=0.0, below=4.0, depth=9.0)
    downs = [m.end[2] for m in found.moves if m.kind is Kind.RAPID and m.end[2] < m.start[2]]
    assert downs == [-3.0]
    first = next(m for m in found.moves if m.kind is not Kind.RAPID and m.start[:2] != m.end[:2])
    assert first.start[2] == -3.5
    plain = finished(shop, rect(0, 0, 100, 60), finish=0.0, depth=5.0)
    assert sum(m.length for m in found.moves if m.feed) == pytest.approx(
        sum(m.length for m in plain.moves if m.feed)
    )


def test_begins_where_no_clamp_stands(shop):
    cut = shop.profile(rect(0, 0, 100, 60))
    clamp = Clamp(name="clamp[1]", face=Side.FRONT, outline=(rect(-40, -40, 60, -14),), height=9.0)
    found = plan_profile(shop.job(cut, clamps=[clamp]), cut)
    spot = shapely.Point(found.moves[0].start[:2])
    assert box(-40, -40, 60, -14).distance(spot) >= 11.0 + 2.0
    assert np.isfinite(found.floor)
