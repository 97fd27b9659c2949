import math
from itertools import pairwise

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from toolpath.plan.corner_arcs import FILM, LESS, beyond, channels, rounded, roundings, shrink

BOUND = math.radians(70.0)


@pytest.mark.parametrize("turn", [40.0, 90.0, 120.0, 150.0])
@pytest.mark.parametrize("bound", [30.0, 70.0, 110.0])
@pytest.mark.parametrize("size", [0.0, 0.2, 0.65])
def test_the_next_rounding_meets_no_more_than_the_bound(turn, bound, size):
    """Dense places on the rim of a cutter, for size 0 of a very large one, against the rounding
    before, by shapely."""
    share = shrink(math.radians(turn), math.radians(bound), size)
    half = math.radians(turn) / 2.0
    far = 400.0
    wedge = Polygon([(0, 0), *[(s * far * math.cos(half), -far * math.sin(half)) for s in (1, -1)]])
    before = wedge.buffer(-1.0, quad_segs=256).buffer(1.0, quad_segs=256)
    middle = np.array([0.0, -share / math.cos(half)])
    reach, most = 1.0 / size if size else 60.0, 0.0
    lean = np.linspace(-math.pi / 2, math.pi / 2, 361)
    for at in np.linspace(-half, half, 9):
        out = math.pi / 2 - at
        place = middle + share * np.array([math.cos(out), math.sin(out)])
        heading = out + math.pi / 2
        rim = place + reach * np.column_stack([np.cos(heading + lean), np.sin(heading + lean)])
        met = [before.distance(Point(spot)) > reach + 1e-4 for spot in rim]
        most = max(most, float(np.mean(met)) * 180.0)
    assert most <= bound + (1.0 if size else 6.0) or share == pytest.approx(0.97)


def test_a_large_rounding_is_followed_by_a_larger_share_of_it():
    small, large = (shrink(math.pi / 2, math.radians(66.0), size) for size in (0.0, 0.65))
    assert large > 1.2 * small


def test_roundings_end_in_the_corner():
    radii = roundings(math.pi / 2, 1.5, BOUND, 3.0)
    assert radii[-1] == 0.0
    assert all(a > b for a, b in pairwise(radii))
    assert radii[-2] * (math.sqrt(2) - 1) <= FILM


@pytest.mark.parametrize(("half", "by"), [(1.55, 1.95 * LESS**2), (1.9, 1.95 * LESS)])
def test_where_there_is_little_room_corners_are_rounded_less(half, by):
    """Half the width of a channel is less than the rounding: by the next that there is room for."""
    channel = box(0, 0, 30, 2 * half)
    found = rounded(channel, 1.95, 3.0)
    assert found.covers(box(2.0, 0, 28.0, 2 * half).buffer(-1e-6))
    # A corner rounded by r leaves the point r (1 - 1 / sqrt 2) from both walls (elementary).
    least = by * (1.0 - 1.0 / math.sqrt(2.0)) - 0.002
    gone = Point(least - 0.02, least - 0.02)
    assert channel.covers(gone) and not found.covers(gone)


def test_rounded_areas_keep_their_walls_and_channels():
    area = box(0, 0, 30, 20) | box(29, 9, 50, 10.5)
    found = rounded(area, 1.5, 3.0)
    assert found.covers(LineString([(3, 0), (27, 0)]).buffer(1e-6).intersection(area))
    assert not found.covers(Point(0.1, 0.1))
    assert found.covers(Point(45, 9.7))


def test_corners_are_no_channels():
    needle = Polygon([(0, 0), (60, 0), (60, 12)])
    assert channels(needle, 1.0, 3.0).is_empty
    assert not channels(box(0, 0, 20, 20) | box(19, 9, 40, 10), 1.0, 3.0).is_empty


def test_what_lies_beyond_is_walked_climbing():
    wide, narrow = box(0, 0, 10, 10), box(0, 0, 10, 10).buffer(-2).buffer(2)
    arcs = beyond(wide, narrow, 1.0)
    assert len(arcs) == 4
    for arc in arcs:
        a, b = arc[1] - arc[0], arc[-1] - arc[-2]
        assert a[0] * b[1] - a[1] * b[0] > 0
