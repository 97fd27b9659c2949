"""Placed and turned outlines, against shapely's own affine maps and unions."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from toolpath.check.frames import frame_of
from toolpath.check.prisms import convex_like, feet_of, placed_outline
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import Drift, Prism, Side, TurnOver

AT = (70.0, 60.0)


def half_disc(radius=10.0):
    """A half disc and its true area as many chords: right of the y axis."""
    # The bulge of a half circle is tan(180 degrees / 4) = 1 (DXF reference, group 42).
    loop = Loop(points=np.array([[0.0, -radius, 1.0], [0.0, radius, 0.0]]))
    angle = np.linspace(-math.pi / 2.0, math.pi / 2.0, 20001)
    return Region(outer=loop), shapely.Polygon(
        radius * np.column_stack([np.cos(angle), np.sin(angle)])
    )


def star(rng, points=7):
    angle = np.sort(rng.uniform(0.0, math.tau, points))
    radius = rng.uniform(3.0, 14.0, points)
    xy = np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None] + rng.uniform(-9, 9, 2)
    return Region(outer=Loop.of_polygon(xy)), shapely.Polygon(xy)


def placed(polygon, turn):
    """A polygon turned, then moved so that its box's middle is at AT."""
    turned = affinity.rotate(polygon, turn, origin=(0, 0), use_radians=True)
    x0, y0, x1, y1 = turned.bounds
    return affinity.translate(turned, AT[0] - (x0 + x1) / 2.0, AT[1] - (y0 + y1) / 2.0)


def feet(kit, region, side=Side.FRONT, turn_over=TurnOver.LEFT_RIGHT, **changes):
    prism = Prism(outline=region if isinstance(region, tuple) else (region,), height=6.0)
    piece = kit.piece(prism, at=AT, **changes)
    frame = frame_of(kit.job((piece,), turn_over=turn_over), side)
    return feet_of(piece, prism, frame)


def in_program(polygon, side, turn_over):
    """The kit's blank spans x 10 to 130 and y 20 to 100."""
    if side is Side.FRONT:
        return affinity.translate(polygon, -10.0, -20.0)
    if turn_over is TurnOver.LEFT_RIGHT:
        return affinity.affine_transform(polygon, [-1, 0, 0, 1, 130, -20])
    return affinity.affine_transform(polygon, [1, 0, 0, -1, -10, 100])


@pytest.mark.parametrize("turn", [0.0, 0.4, 2.0, -1.1])
def test_the_middle_of_the_box_is_that_of_true_arcs(kit, turn):
    region, true = half_disc()
    made = placed_outline(kit.piece(None, at=AT, turn=turn), Prism(outline=(region,), height=6.0))
    expected = placed(true, turn)
    expected = shapely.get_coordinates(placed(true, turn))
    for corner in made[0].outer.points[:, :2]:
        assert np.hypot(*(expected - corner).T).min() < 1e-6


@pytest.mark.parametrize(
    ("side", "turn_over"), [(Side.FRONT, TurnOver.LEFT_RIGHT), *((Side.BACK, t) for t in TurnOver)]
)
def test_it_lies_where_it_should_on_both_faces(kit, side, turn_over):
    region, true = half_disc()
    found = feet(kit, region, side, turn_over, turn=0.4)
    whole = shapely.union_all(list(found.areas))
    expected = in_program(placed(true, 0.4), side, turn_over)
    assert found.pad == 0.0
    assert expected.difference(whole).area < 1e-5  # the chords of the half disc, 20000 of them
    assert whole.hausdorff_distance(expected) < 0.002
    assert expected.buffer(0.002).covers(whole)


def test_holes_and_parts(kit):
    ring, disc = kit.circle(0.0, 0.0, 8.0), kit.circle(20.0, 0.0, 3.0)
    hole = kit.circle(0.0, 0.0, 4.0).outer
    outline = (Region(outer=ring.outer, holes=(hole,)), disc)
    found = feet(kit, outline)
    whole = shapely.union_all(list(found.areas))
    assert whole.area == pytest.approx(math.pi * (64.0 - 16.0 + 9.0), rel=1e-3)
    # The box spans x -8 to 23: its middle, 7.5, is at the program's 60.
    assert not whole.covers(shapely.Point(60.0 - 7.5, 40.0))
    assert whole.covers(shapely.Point(60.0 + 12.5, 40.0))


@pytest.mark.parametrize("turn", [0.02, 0.3, 1.5])
@pytest.mark.parametrize("seed", range(3))
def test_what_a_turn_covers(kit, turn, seed):
    region, polygon = star(np.random.default_rng(seed))
    found = feet(kit, region, turn=0.7, drift=Drift(side=0.5, turn=turn))
    whole = shapely.union_all(list(found.areas)).buffer(found.pad, quad_segs=64)
    nominal = in_program(placed(polygon, 0.7), Side.FRONT, TurnOver.LEFT_RIGHT)
    for angle in np.linspace(-turn, turn, 61):
        copy = affinity.rotate(nominal, angle, origin=(60, 40), use_radians=True)
        assert shapely.distance(whole, shapely.points(shapely.get_coordinates(copy))).max() < 1e-4
        assert copy.difference(whole.buffer(1e-4)).area < 1e-6
    # Every place of its edge, turned back by some angle, is as good as in the outline.
    edge = shapely.get_coordinates(whole.segmentize(0.5))[::3] - (60.0, 40.0)
    angles = np.linspace(-turn, turn, 800)[:, None]
    cos, sin = np.cos(angles), np.sin(angles)
    x, y = edge[:, 0] * cos + edge[:, 1] * sin, edge[:, 1] * cos - edge[:, 0] * sin
    away = shapely.distance(nominal, shapely.points(x + 60.0, y + 40.0)).min(axis=0)
    # Places between two angles: half of 3 rad / 799 at 20 mm is 0.04 mm off at most.
    assert away.max() < 0.05 + 20.0 * turn / 800.0


def test_a_hole_that_turns_about_the_middle_stays_open(kit):
    ring, hole = kit.circle(0.0, 0.0, 8.0), kit.rectangle(-4.0, -4.0, 4.0, 4.0).outer
    outline = Region(outer=ring.outer, holes=(hole,))
    for turn in (0.2, math.pi, 9.0):
        found = feet(kit, outline, drift=Drift(turn=turn))
        whole = shapely.union_all(list(found.areas))
        gap = shapely.distance(whole, shapely.Point(60.0, 40.0)) - found.pad
        # A square of half side 4 that turns leaves a disc of radius 4 free.
        assert gap == pytest.approx(4.0, abs=0.03)


def test_parts_are_the_whole_and_nearly_convex():
    rng = np.random.default_rng(4)
    angle = np.linspace(0.0, math.tau, 97)[:-1]
    cog = shapely.Polygon(
        np.column_stack([np.cos(angle), np.sin(angle)])
        * np.where(np.arange(96) // 2 % 2 == 0, 30.0, 26.0)[:, None]
    )
    for area in (cog, cog.difference(shapely.Point(0, 0).buffer(20.0)), star(rng)[1]):
        parts = convex_like(area, 6)
        assert 1 < len(parts) <= 64 * 4
        assert shapely.union_all(parts).symmetric_difference(area).area < 1e-9
        assert area.area > 0.85 * sum(part.convex_hull.area for part in parts)
    assert len(convex_like(shapely.box(0, 0, 9, 3), 6)) == 1
