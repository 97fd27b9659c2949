"""Channels cut to and fro, on the stock as distances; what is cut also by shapely."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from toolpath.plan.channel_arcs import WIDEST, cut_channels
from toolpath.plan.legs import Kind, Walk
from toolpath.plan.near import Cells, Near
from toolpath.plan.places import places_of
from toolpath.plan.returns import Heading, Within
from toolpath.plan.to_and_fro import SKIN

BOUND = math.radians(70.0)
DEAD_END = box(0, 0, 40, 30) | LineString([(20, 29), (20, 45)]).buffer(2.5, quad_segs=64)
THROUGH = box(0, 0, 30, 30) | box(29, 12, 45, 17.5) | box(44, 0, 70, 30)
BENT = box(0, 0, 30, 30) | LineString([(29, 15), (40, 15), (46, 26)]).buffer(2.5, quad_segs=64)


def reached(outline, radius):
    return outline.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)


def cut(outline, radius, larger, bound=BOUND):
    area = outline.buffer(-radius, quad_segs=64)
    cells = Cells.over(area, radius)
    near = Near.fresh(cells, radius, reached(outline, larger))
    room = Within.of(cells, area)
    walk = Walk(
        near=near, room=room, foot=np.array([[10.0, 10.0]]), at=Heading(x=10, y=10, angle=0)
    )
    before = near.copy()
    places = places_of(near, room.depth)
    place = max(places, key=lambda each: len(each.spots))
    return walk, before, cut_channels(walk, area, place, bound)


@pytest.mark.parametrize("outline", [DEAD_END, THROUGH, BENT], ids=["dead end", "through", "bent"])
@pytest.mark.parametrize("bound", [40.0, 70.0])
def test_a_channel_is_cut_without_ways_back_within_the_bound(outline, bound):
    radius, larger = 1.5, 3.0
    walk, before, found = cut(outline, radius, larger, math.radians(bound))
    assert found
    # One way to its begin; of what stays at the far mouth of one that leads through, one more.
    assert sum(leg.kind is not Kind.CUT for leg in walk.legs) <= (2 if outline is THROUGH else 1)
    ways = [leg.points for leg in walk.legs if leg.kind is Kind.CUT]
    for one, two in pairwise(walk.legs):
        if one.kind is two.kind is Kind.CUT:
            assert math.dist(one.points[-1], two.points[0]) < 1e-9
    for way in ways:
        assert np.degrees(before.engaged(way)).max() <= bound
    swept = shapely.union_all([LineString(way).buffer(radius, quad_segs=64) for way in ways])
    # Nothing of the walls is touched; what stays is a skin and bits on which the last pass meets
    # no more than acos(1 - 0.25) = 41 degrees.
    assert swept.within(outline.buffer(-(SKIN - 0.01) * radius))
    skinned = outline.buffer(-(SKIN + 0.02) * radius)
    gone = reached(outline, larger)
    left = reached(skinned, radius).difference(gone).difference(swept)
    assert left.intersection(swept.buffer(0.2)).buffer(-0.1 * radius).is_empty
    taken = swept.difference(gone).area
    length = sum(LineString(way).length for way in ways)
    ideal = taken / (radius * (1.0 - math.cos(math.radians(bound))))
    assert length < 2.3 * ideal


def test_what_is_wider_is_no_channel():
    wide = 2.0 * (WIDEST + 1.5) * 1.5
    outline = box(0, 0, 40, 30) | box(39, 10, 60, 10 + wide)
    walk, _, found = cut(outline, 1.5, wide / 2.0 + 1.0)
    assert not found and walk.legs == []


def test_corners_are_left_alone():
    walk, _, found = cut(box(0, 0, 40, 30), 1.5, 3.0)
    assert not found and walk.legs == []
