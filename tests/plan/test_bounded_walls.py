"""The last pass of a bounded way, on the stock as distances."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from toolpath.plan.bounded_walls import ROUND, Walls, ear, walk_ears, walk_walls
from toolpath.plan.corner_passes import Rounding
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.returns import Heading, Within

RADIUS, SWELL = 3.0, 0.3
AREA = box(3, 3, 47, 32)


def walk_in(area, gone, at=(25.0, 17.0)):
    cells = Cells.over(area, RADIUS)
    near = Near.fresh(cells, RADIUS, gone)
    heading = Heading(x=at[0], y=at[1], angle=0.0)
    return Walk(near=near, room=Within.of(cells, area), foot=np.array([at]), at=heading)


def walls_of(area=AREA):
    first = Rounding(radius=ROUND * RADIUS, cutter=RADIUS, bound=math.radians(70.0))
    return Walls.of(area, first)


def cut_by(walk):
    lines = [leg.points for leg in walk.legs if leg.kind is Kind.WALL]
    return shapely.union_all([LineString(line).buffer(RADIUS, quad_segs=64) for line in lines])


@pytest.mark.parametrize("degrees", [40.0, 70.0, 100.0])
def test_an_ear_meets_no_more_than_the_bound_and_opens_the_whole_hole(degrees):
    line = np.array([[20.0, 17.0], [21.2, 18.2]])
    hole = RADIUS + SWELL
    near = Near.fresh(Cells.over(AREA, RADIUS), RADIUS, Point(*line[0]).buffer(hole, quad_segs=128))
    way = np.vstack(ear(line, SWELL, RADIUS, math.radians(degrees)))
    met = np.degrees(near.engaged(way))
    assert 0.6 * degrees <= met.max() <= degrees + 5.0
    # A disc of the hole's radius pushed along the line, but for the scallops of its flanks.
    wanted = LineString(line).buffer(hole, quad_segs=128)
    got = LineString(way).buffer(RADIUS, quad_segs=128).union(Point(*line[0]).buffer(hole))
    assert got.difference(wanted.buffer(0.002)).is_empty
    assert wanted.difference(got).buffer(-0.01).is_empty
    along = (line[1] - line[0]) / math.dist(*line)
    assert got.distance(Point(line[1] + hole * along)) < 1e-3


def test_of_a_wall_only_what_is_left_is_walked():
    gone = box(0, 0, 50, 35).difference(box(15, 0, 25, 2))
    walk = walk_in(AREA, gone)
    walk_walls(walk, walls_of(), math.radians(70.0))
    walls = [leg for leg in walk.legs if leg.kind is Kind.WALL]
    assert len(walls) == 1
    x0, _, x1, _ = LineString(walls[0].points).bounds
    assert 8.0 < x0 < 13.0 and 24.9 < x1 < 32.0
    assert box(15, 0, 25, 2).difference(cut_by(walk)).area < 0.01
    assert walls[0].points[0, 0] < walls[0].points[-1, 0]  # climbing: the wall on the right


def test_a_wall_that_an_earlier_cutter_finished_is_not_walked():
    walk = walk_in(AREA, box(0, 0, 50, 35))
    walk_walls(walk, walls_of(), math.radians(70.0))
    assert walk.legs == []


def test_what_is_left_across_the_start_of_a_loop_is_one_piece():
    corner = box(0, 0, 8, 8).union(box(42, 0, 50, 8))
    walk = walk_in(AREA, box(0, 0, 50, 35).difference(corner.intersection(box(0, 0, 50, 1))))
    walk_walls(walk, walls_of(), math.radians(70.0))
    assert not any(leg.kind is Kind.LIFT for leg in walk.legs)
    left = box(0, 0, 50, 1).intersection(corner).difference(cut_by(walk))
    can = AREA.buffer(RADIUS, quad_segs=64)
    assert left.intersection(can).area < 0.01


def test_ears_are_visited_from_the_nearest_on():
    lines = [np.array([[x, 17.0], [x + 1.0, 17.0]]) for x in (10.0, 20.0, 40.0)]
    walk = walk_in(AREA, box(0, 0, 50, 35))
    walk_ears(walk, lines, SWELL, math.radians(70.0))
    kinds = [leg.kind for leg in walk.legs]
    begun = [walk.legs[i + 1].points[0, 0] for i, kind in enumerate(kinds) if kind is Kind.RETURN]
    assert begun == pytest.approx([19.7, 9.7, 39.7], abs=0.01)
    assert Polygon(walk.room.area.exterior).area > 0.0


def test_the_arcs_of_a_corner_are_cut_right_after_its_wall_and_straight_back_between():
    # An earlier cutter of 7 mm left its corners.
    gone = box(0, 0, 50, 35).buffer(-3.5).buffer(3.5, quad_segs=64)
    walk = walk_in(AREA, gone)
    walk_walls(walk, walls_of(), math.radians(70.0))
    walls = [leg.points for leg in walk.legs if leg.kind is Kind.WALL]
    assert sum(leg.kind is Kind.LIFT for leg in walk.legs) == 0
    corners = [tuple(LineString(points).centroid.coords[0]) for points in walls]
    which = [(x > 25.0, y > 17.5) for x, y in corners]
    changes = sum(one != two for one, two in pairwise(which))
    assert changes == 3 and len(set(which)) == 4  # each corner once
    for points in walls:  # all climb: counter-clockwise round the middle
        middle = points - np.array([25.0, 17.5])
        x, y = middle[:-1].T
        assert float((x * np.diff(middle[:, 1]) - y * np.diff(middle[:, 0])).sum()) > 0.0
    ways = [leg.points for leg in walk.legs if leg.kind is Kind.RETURN]
    within = [way for way in ways if math.dist(way[0], way[-1]) < 2.0]
    assert len(within) == len(walls) - 4
    for way in within:
        assert LineString(way).length == pytest.approx(math.dist(way[0], way[-1]))


def test_no_last_pass_leads_into_a_channel_that_stands():
    # Half of a channel of 7 mm was cleared but for a skin, the rest still stands: nobody may walk
    # the wall into it (elementary: there the whole leading half of the rim would be in stock).
    area = box(3, 3, 47, 4)
    gone = box(0, 0.05, 20, 6.95).buffer(-RADIUS).buffer(RADIUS, quad_segs=64)
    walk = walk_in(area, gone, (10.0, 3.5))
    walls = walls_of(area)
    walk_walls(walk, walls, math.radians(70.0))
    walked = [leg.points for leg in walk.legs if leg.kind is Kind.WALL]
    assert walked
    near = Near.fresh(walk.near.cells, RADIUS, gone)
    for points in walked:
        line = LineString(points).segmentize(0.1)
        met = np.degrees(near.engaged(np.asarray(line.coords), film=0.01))
        assert met.max() <= 85.0


def test_the_corners_at_the_end_of_a_channel_are_thinned_each_by_itself():
    # Loops as wide as the channel left its two corners and a skin (docs/decisions/0010).
    area = box(3, 3, 47, 5)
    gone = LineString([(4, 4), (46, 4)]).buffer(0.97 + RADIUS, quad_segs=128)
    walk = walk_in(area, gone, (25.0, 4.0))
    bound = math.radians(70.0)
    walk_walls(walk, walls_of(area), bound)
    near = Near.fresh(walk.near.cells, RADIUS, gone)
    for leg in walk.legs:
        if leg.kind is Kind.WALL:
            line = LineString(leg.points).segmentize(0.1)
            met = np.degrees(near.engaged(np.asarray(line.coords), film=0.02))
            assert met.max() <= 85.0
    left = area.buffer(RADIUS, quad_segs=64).difference(cut_by(walk).union(gone))
    assert left.buffer(-0.01).is_empty


@pytest.mark.parametrize("degrees", [12.0, 20.0])
def test_a_needle_is_thinned_to_its_tip(degrees):
    # All arcs climb into it one after another; what they leave at the tip is a film.
    half = math.radians(degrees / 2.0)
    tip = np.array([40.0, 20.0])
    flank = 30.0 * np.array([math.cos(half), math.sin(half)])
    area = Polygon([tip, tip - flank, tip - flank * [1.0, -1.0]])
    walls = walls_of(area)
    corners = [each for each in walls.corners if Point(tip).distance(LineString(each[0])) < 20.0]
    into = max(corners, key=len)
    assert len(into) > 20
    assert min(math.dist(arc.mean(axis=0), tip) for arc in into[:-1]) < 0.05
