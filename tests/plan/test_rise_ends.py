"""Ends of passes over a rising floor, against areas that shapely makes."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from toolpath.plan.rise_ends import Ends

RADIUS = 3.0
AREA = box(0, 0, 20, 12)
ENDS = Ends(centres=AREA, radius=RADIUS)


def passes(xs):
    return shapely.union_all([LineString([(x, 0.002), (x, 11.0)]) for x in xs])


@pytest.mark.parametrize("outward", [1.0, -1.0])
def test_a_wall_is_gone_over_where_passes_left_a_skin_and_nowhere_else(outward):
    ring = shapely.get_coordinates(AREA.exterior.normalize())
    ring = ring if (shapely.is_ccw(LineString(ring)) == (outward < 0)) else ring[::-1]
    passed = passes([*np.arange(0.0, 8.0, 0.2), *np.arange(11.0, 20.1, 0.2)])
    passed = passed.union(LineString([(0, 0.5), (0, 12), (20, 12), (20, 0.5)]))
    (stretch,) = ENDS.unfinished(ring, passed, outward)
    assert (stretch[:, 1] == 0.0).all()
    assert 7.8 < stretch[:, 0].min() < 8.6 and 10.4 < stretch[:, 0].max() < 11.2
    # What stands beside the walls once the stretch is walked, to the chords of shapely's rounds.
    wide = AREA.exterior.buffer(RADIUS, quad_segs=64).difference(AREA.buffer(0.0))
    cut = passed.union(LineString(stretch)).buffer(RADIUS, quad_segs=64)
    assert wide.difference(cut).buffer(-0.01).is_empty


def test_a_pass_turns_aside_along_the_wall_to_where_was_passed():
    passed = LineString([(5, 0), (5, 12)])
    way = ENDS.turned_aside(np.array([[5.4, 8.0], [5.4, 4.0], [5.4, 0.0]]), passed)
    assert AREA.buffer(1e-3).covers(LineString(way))
    last = np.diff(way, axis=0)[-1]
    assert last[0] < 0.0 and abs(last[1]) < 0.15 * abs(last[0])
    assert abs(way[-1, 1]) < 0.01 and way[-1, 0] < 5.4


def test_a_pass_that_meets_a_slanted_wall_turns_on_to_it():
    area = shapely.Polygon([(0, 0), (20, 6), (20, 12), (0, 12)])
    passed = LineString([(9.6, 2.88), (9.6, 12)])
    way = Ends(centres=area, radius=RADIUS).turned_aside(
        np.array([[10.0, 11.0], [10.0, 3.0]]), passed
    )
    assert area.buffer(1e-3).covers(LineString(way))
    assert area.exterior.distance(shapely.Point(way[-1])) < 0.02


def test_short_passes_have_no_room_for_two_turns():
    assert ENDS.end_of(np.array([[5.0, 0.0], [5.0, 2.0]])) is None
    assert ENDS.end_of(np.array([[5.0, 0.0], [5.0, 8.0]])) is not None
