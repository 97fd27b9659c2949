import math

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from toolpath.drawing.outline import Err
from toolpath.drawing.shapes import circle
from toolpath.plan.rings import (
    chord_bound,
    flat_area,
    inner_offset,
    needless,
    offsets,
    polygons_of,
    quad_segments,
    rings_of,
    rooms_of,
    shortfall,
    shrunk,
    wall_offset,
)

STAR = Polygon(
    [
        (r * math.cos(a), r * math.sin(a))
        for r, a in zip([40, 18] * 7, np.linspace(0, 2 * np.pi, 14, endpoint=False), strict=True)
    ]
)


def test_rectangle_shrinks_to_its_inner_parallel_body():
    # (a - 2r)(b - 2r) = 94 * 54 and its perimeter (elementary): no bias where nothing is round.
    found = wall_offset(box(0, 0, 100, 60), 3.0, outward=False)
    assert found.area == pytest.approx(5076.0, abs=1e-9)
    assert found.length == pytest.approx(296.0, abs=1e-9)


def test_outward_offset_obeys_steiner():
    # A + P r + pi r^2 and P + 2 pi r for convex bodies (Steiner's formula; Federer 1969).
    found = wall_offset(box(0, 0, 100, 60), 3.0, outward=True)
    assert found.area == pytest.approx(6988.274334, abs=0.1)
    assert found.length == pytest.approx(338.849556, abs=0.01)
    assert found.area >= 6988.274334 - 0.01


def test_triangle_of_the_standard_is_offset_as_published():
    # NISTIR 6556, Tables 12 and 13: a 3-4-5 triangle offset by 1.0; area 6 + 12 + pi.
    found = wall_offset(Polygon([(2, 2), (2, -1), (-2, -1)]), 1.0, outward=True)
    assert found.area == pytest.approx(21.141593, abs=0.01)


@pytest.mark.parametrize("quad_segs", [8, 16, 64, 128])
def test_chord_bound_holds_and_is_reached(quad_segs):
    # A corner that turns by just under 1.5 nominal chords gets a single one (measured), so that
    # the usual sagitta d (1 - cos(90 deg / (2 n))) is exceeded 2.25 times, never more.
    bound = chord_bound(3.0, quad_segs)
    nominal = math.pi / 2 / quad_segs
    for chords, least in ((0.3, 0.0), (0.9, 0.0), (1.2, 0.6), (1.49, 0.95), (2.49, 0.6)):
        half = chords * nominal / 2
        side = 50 * np.array([math.cos(half), -math.sin(half)])
        island = Polygon([side, (0, 0), side * (-1, 1), (0, -60)])
        area = box(-90, -90, 90, 90).difference(island)
        found = shortfall(area.buffer(-3.0, quad_segs=quad_segs), area.boundary, 3.0)
        assert least * bound <= found <= bound * (1 + 1e-6)


@pytest.mark.parametrize("distance", [0.5, 3.0, 30.0])
def test_enough_chords_for_the_bound(distance):
    for bound in (1e-4, 1e-3):
        assert chord_bound(distance, quad_segments(distance, bound)) <= bound


@pytest.mark.parametrize("outward", [True, False])
@pytest.mark.parametrize(
    "area",
    [
        STAR,
        box(-60, -60, 60, 60).difference(STAR),
        box(-60, -60, 60, 60).difference(flat_area((circle(5, 5, 12),), 5e-4, Err.OUTWARD)),
    ],
)
def test_no_loop_comes_nearer_than_asked(area, outward):
    for distance in (1.0, 3.0, 8.0):
        loops = wall_offset(area, distance, outward=outward).boundary
        spots = shapely.line_interpolate_point(loops, np.linspace(0, 1, 4001), normalized=True)
        gaps = shapely.distance(area.boundary, spots)
        assert gaps.min() >= distance - 2e-5
        # Nor does it keep away for nothing: at most the offset tolerance, twice, beyond.
        assert np.median(gaps) <= distance + 4e-4


def test_inner_offsets_end_with_the_last_that_is_left():
    found = list(offsets(box(0, 0, 100, 60), [5.0 * k for k in range(1, 20)]))
    # (100 - 2d)(60 - 2d) for 5, 10 ... 25 mm (elementary); rings off the wall may be 2 um short.
    assert [each.area for each in found] == pytest.approx([4500, 3200, 2100, 1200, 500], abs=1.5)


def test_inner_offsets_do_not_breed_corners():
    area = box(-60, -60, 60, 60).difference(STAR)
    counts = [shapely.get_num_coordinates(each) for each in offsets(area, [3.0, 6.0, 9.0, 12.0])]
    assert max(counts) < 2 * min(counts)
    assert shortfall(inner_offset(area, 6.0), area.boundary, 6.0) <= 1e-6


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_outer_loops_and_holes_are_walked_opposite_ways(turn):
    polygon = box(0, 0, 60, 40).difference(box(20, 10, 30, 20))
    outer, hole = rings_of(polygon, 0, turn)
    assert shapely.LinearRing(outer.points).is_ccw == (turn > 0)
    assert shapely.LinearRing(hole.points).is_ccw == (turn < 0)
    assert (outer.length, hole.length) == (200.0, 40.0)


def test_needless_ring_is_within_reach_of_the_one_outside_it():
    assert needless(box(0, 0, 10, 1.0), radius=3.0, step=2.4)
    assert not needless(box(0, 0, 10, 1.4), radius=3.0, step=2.4)
    assert not needless(box(0, 0, 10, 0.1), radius=3.0, step=3.0)


def test_rooms_part_where_the_cutter_cannot_pass():
    lobes = MultiPolygon([box(0, 0, 40, 40), box(60, 0, 100, 40)])
    for width, count in ((5.9, 2), (6.1, 1)):
        neck = box(39, 20 - width / 2, 61, 20 + width / 2)
        rooms = rooms_of(lobes.union(neck), radius=3.0, step=2.4, turn=1.0)
        assert len(rooms) == count
        for room in rooms:
            grown = room.area.buffer(1e-6)
            assert all(grown.covers(ring.geometry) for ring in room.rings)


def test_no_room_where_the_cutter_does_not_fit():
    assert rooms_of(box(0, 0, 50, 5), radius=3.0, step=2.4, turn=1.0) == ()


def test_polygons_come_in_a_fixed_order_and_lines_are_left_out():
    mixed = shapely.GeometryCollection([box(5, 0, 6, 1), Point(0, 0), box(0, 0, 1, 1)])
    assert [part.bounds[0] for part in polygons_of(mixed)] == [0.0, 5.0]


@pytest.mark.parametrize("step", [1.2, 2.4, 5.4])
def test_rings_lie_whole_steps_from_the_wall(step):
    area = box(-60, -60, 60, 60).difference(STAR)
    (room,) = rooms_of(area, radius=3.0, step=step, turn=1.0)
    assert {ring.inset for ring in room.rings} >= {0, 1, 2}
    for ring in room.rings:
        gap = ring.geometry.distance(area.boundary)
        assert gap == pytest.approx(3.0 + step * ring.inset, abs=0.005)


def test_shrinking_leaves_nothing_outside_the_area():
    """The library alone makes a speck at (3.8, 17.4) of this sliver, 8 mm from its nearest wall."""
    corners = [(-2.739, 6.673), (7.374, 9.788), (7.133, 9.674), (6.886, 9.571), (6.569, 9.458)]
    sliver = Polygon([*corners, (6.378, 9.397), (14.068, -9.999)])
    speck = sliver.buffer(-8.4, quad_segs=4)
    assert speck.area > 1e-6
    assert speck.distance(sliver) > 7.0
    assert shrunk(sliver, 8.4, 4).is_empty
    for distance in np.arange(7.0, 9.5, 0.1):
        assert sliver.covers(shrunk(sliver, distance, 4).union(sliver))
        assert sliver.covers(inner_offset(sliver, distance).union(sliver))
