"""Corners cut to and fro, on the stock as distances; what is cut also by shapely."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from toolpath.plan.corner_arcs import SPARE
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.places import places_of
from toolpath.plan.returns import Heading, Within
from toolpath.plan.to_and_fro import SKIN, SMALLEST, cut_to_and_fro, smallest

BOUND = math.radians(70.0)


def cut(radius, outline, gone, place=0):
    area = outline.buffer(-radius, join_style="mitre")
    cells = Cells.over(area, radius)
    near = Near.fresh(cells, radius, gone)
    room = Within.of(cells, area)
    middle = np.array(outline.centroid.coords[0])
    at = Heading(x=middle[0], y=middle[1], angle=0.0)
    walk = Walk(near=near, room=room, foot=middle[None], at=at)
    before = near.copy()
    last = cut_to_and_fro(walk, area, places_of(near, room.depth)[place], BOUND)
    return walk, before, last


def round_by(outline, radius):
    return outline.buffer(-radius, join_style="mitre").buffer(radius, quad_segs=256)


@pytest.mark.parametrize("radius, larger", [(2.0, 5.0), (1.5, 3.0), (1.0, 3.0), (0.5, 3.0)])
@pytest.mark.parametrize("outline", [box(0, 0, 40, 30), Polygon([(0, 0), (40, 0), (20, 34)])])
def test_a_corner_is_cut_without_ways_back_within_the_bound(radius, larger, outline):
    gone = round_by(outline, larger)
    walk, before, last = cut(radius, outline, gone)
    assert last is not None and last <= 0.65 * radius
    assert [leg.kind for leg in walk.legs if leg.kind is not Kind.CUT] == [Kind.RETURN]
    ways = [leg.points for leg in walk.legs if leg.kind is Kind.CUT]
    for one, two in pairwise(ways):
        assert math.dist(one[-1], two[0]) < 1e-9
    for way in ways:
        assert np.degrees(before.engaged(way)).max() <= 70.0
    swept = shapely.union_all([LineString(way).buffer(radius, quad_segs=64) for way in ways])
    # Nothing of the walls is touched, and what stays in the corner is a skin and a rounding.
    assert swept.within(outline.buffer(-(SKIN - 0.01) * radius))
    can = round_by(outline.buffer(-SKIN * radius, join_style="mitre"), radius + last)
    corner = swept.centroid.buffer(larger)
    left = can.difference(gone).intersection(corner).difference(swept)
    assert left.buffer(-0.02 * radius).is_empty


def test_a_square_corner_is_cut_deep_before_its_last_passes():
    outline = box(0, 0, 40, 30)
    for radius, larger in ((2.0, 5.0), (1.5, 3.0), (1.0, 3.0)):
        _, _, last = cut(radius, outline, round_by(outline, larger))
        assert last < 0.15 * radius


@pytest.mark.parametrize("bound", [40.0, 55.0, 70.0, 100.0])
def test_all_of_the_skin_round_the_last_rounding_is_no_more_than_the_bound(bound):
    """The rim of a cutter of radius 1 about (1, 0) x (last + SKIN), looked at place by place: what
    lies further than last + 1 from the middle of the rounding stands."""

    def met(last):
        angle = np.radians(np.linspace(0.0, 180.0, 18001))
        x, y = last + SKIN + np.cos(angle), np.sin(angle)
        return np.count_nonzero(np.hypot(x, y) > last + 1.0) * 0.01

    last = smallest(math.radians(bound))
    most = bound - math.degrees(SPARE)
    assert met(last) <= most + 0.02
    assert last == SMALLEST or met(0.98 * last) > most


def test_what_is_no_corner_is_left_alone():
    outline = box(0, 0, 40, 30) | box(39, 12, 60, 16.5)
    gone = round_by(box(0, 0, 40, 30), 2.0)
    walk, _, last = cut(2.0, outline, gone)
    assert last is None and walk.legs == []
