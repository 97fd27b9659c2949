import math

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from toolpath.plan.entry import Helix, RingRamp, ToAndFro, clear_link, find_entry
from toolpath.plan.links import groups_of, web_of
from toolpath.plan.rings import rooms_of
from toolpath.plan.route import Route

SLOPE = math.tan(math.radians(3.0))


def way_into(area):
    (room,) = rooms_of(area, radius=3.0, step=2.4, turn=1.0)
    web = web_of(room.area, room.rings, 2.4)
    return room, web, find_entry(web, groups_of(web)[0], room.area, diameter=6.0, turn=1.0)


def descended(shop, entry, drop):
    route = Route(
        cutter=shop.cutter(),
        machine=shop.machine(),
        safe=drop,
        start=entry.start(SLOPE, drop),
    )
    entry.descend(route, SLOPE, 0.0)
    return route


@pytest.mark.parametrize("width", [9.1, 12.0, 40.0])
def test_helix_where_its_path_fits_and_it_lies_inside(width):
    room, _, way = way_into(box(0, 0, 60, width))
    assert isinstance(way.entry, Helix)
    path = Point(way.entry.centre).buffer(way.entry.radius, quad_segs=64)
    assert room.area.buffer(1e-6).covers(path)
    # 0.25 to 0.45 of the diameter, as large as fits.
    fits = min(0.45 * 6.0, (width - 6.0) / 2)
    assert way.entry.radius == pytest.approx(fits, abs=0.02)


@pytest.mark.parametrize("width", [6.02, 6.1, 6.25])
def test_to_and_fro_in_the_middle_of_a_channel_hardly_wider_than_the_cutter(width):
    room, _, way = way_into(box(0, 0, 60, width))
    assert isinstance(way.entry, ToAndFro)
    assert np.allclose(way.entry.line[:, 1], width / 2.0)
    assert np.ptp(way.entry.line[:, 0]) == pytest.approx(54.0, abs=0.01)
    assert room.area.covers(LineString(way.entry.foot))


@pytest.mark.parametrize("width", [6.5, 7.0, 8.9])
def test_ramp_where_no_helix_fits(width):
    _, web, way = way_into(box(0, 0, 60, width))
    assert isinstance(way.entry, RingRamp)
    assert np.allclose(way.entry.loop[0], way.start)
    assert web.rings[way.ring].geometry.distance(Point(way.start)) < 1e-9


def test_no_way_into_almost_a_point():
    assert way_into(box(0, 0, 6.2, 6.2))[2] is None


@pytest.mark.parametrize("drop", [0.2, 3.2, 12.0])
@pytest.mark.parametrize("width", [6.1, 6.5, 8.0, 30.0])
def test_descends_to_its_end_no_steeper_than_told(shop, width, drop):
    _, _, way = way_into(box(0, 0, 40, width))
    route = descended(shop, way.entry, drop)
    assert route.at == pytest.approx((*way.entry.end, 0.0))
    for move in route.moves:
        fall = move.start[2] - move.end[2]
        flat = math.sqrt(move.length**2 - fall**2)
        assert fall <= SLOPE * flat * 1.002


def test_helix_ends_with_a_flat_turn_and_foot_is_that_turn(shop):
    helix = Helix(centre=(10.0, 20.0), radius=2.0, angle=0.5, turn=-1.0)
    route = descended(shop, helix, 3.0)
    flat = [move for move in route.moves if move.start[2] == move.end[2] == 0.0]
    assert sum(move.sweep for move in flat) == pytest.approx(-2 * math.pi)
    assert LineString(helix.foot).length == pytest.approx(4 * math.pi, rel=1e-3)
    assert helix.foot[0] == pytest.approx(helix.end)


@pytest.mark.parametrize("drop", [0.5, 3.2])
def test_to_and_fro_ends_with_a_level_leg_over_its_whole_line(shop, drop):
    entry = ToAndFro.along(np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 10.0]]))
    route = descended(shop, entry, drop)
    level = [m for m in route.moves if m.start[2] == m.end[2]]
    assert sum(m.length for m in level) == pytest.approx(30.0)
    assert level[-1].end == pytest.approx((0.0, 0.0, 0.0))
    slanting = sum(math.dist(m.start[:2], m.end[:2]) for m in route.moves) - 30.0
    assert slanting / 30.0 == pytest.approx(round(slanting / 30.0))


def test_short_ring_is_gone_round_as_often_as_the_slope_needs(shop):
    loop = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
    _, _, way = way_into(box(0, 0, 7, 7))
    assert isinstance(way.entry, RingRamp)
    assert LineString(way.entry.loop).length == pytest.approx(LineString(loop).length)
    route = descended(shop, way.entry, 3.0)
    length = sum(math.dist(m.start[:2], m.end[:2]) for m in route.moves)
    assert length == pytest.approx(3.0 / SLOPE, rel=1e-6)


def test_links_are_clear_inside_a_room_only():
    _, web, _ = way_into(box(0, 0, 60, 60).difference(box(20, 20, 40, 40)))
    assert clear_link(web, (5.0, 5.0), (55.0, 5.0))
    assert not clear_link(web, (5.0, 30.0), (55.0, 30.0))
