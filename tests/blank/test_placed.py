import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import affinity

from toolpath.blank.placed import (
    closed_triangles,
    footprint,
    footprint_area,
    page_top,
    placed_area,
    placed_tops,
    placed_vertices,
    plan_radius,
    z_range,
)
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import Box, Cylinder, Drift, Mesh, Prism, Side, Sphere

TETRA = Mesh(
    file=Path("shell.stl"),
    vertices=np.array([[0.0, 0, 0], [4, 0, 0], [0, 6, 0], [0, 0, 9]]),
    triangles=np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]),
)


@pytest.mark.parametrize(
    ("solid", "height"),
    [
        (Box(size=(9, 5, 4)), 4),
        (Cylinder(diameter=8, height=6), 6),
        (Sphere(diameter=11), 11),
        (TETRA, 9),
    ],
)
def test_heights_from_either_face(blank, piece, solid, height):
    # blank of 42: 8 below the front, or 8 above the back
    assert z_range(blank(), piece(solid)) == pytest.approx((-8 - height, -8))
    behind = piece(solid, measured_from=Side.BACK)
    assert z_range(blank(), behind) == pytest.approx((-34, -34 + height))


def test_page_tops_by_hand(blank, piece):
    grown = Drift(rise=0.5)
    cog = piece(Cylinder(diameter=8, height=6), drift=grown)
    loose = blank(thickness_within=0.3)
    assert page_top(loose, cog, Side.FRONT) == pytest.approx(-7.5)
    # bottom at -14 is 28 from the back face: 0.3 less if the blank is thinner, 0.5 by the rise
    assert page_top(loose, cog, Side.BACK) == pytest.approx(-27.2)
    cog = piece(Cylinder(diameter=8, height=6), drift=grown, measured_from=Side.BACK)
    assert page_top(loose, cog, Side.BACK) == pytest.approx(-7.5)
    assert page_top(loose, cog, Side.FRONT) == pytest.approx(-27.2)


def test_tilt_is_about_x_then_y_then_turned(piece):
    # the point (0, 0, 9) tilted a quarter about x goes to (0, -9, 0), about y stays, turned a
    # quarter goes to (9, 0, 0); (0, 6, 0) goes to (0, 0, 6), then (6, 0, 0), then (0, 6, 0)
    quarter = math.pi / 2
    mesh = Mesh(
        file=TETRA.file,
        vertices=TETRA.vertices,
        triangles=TETRA.triangles,
        tilt=(quarter, quarter),
    )
    points = placed_vertices(piece(mesh, turn=quarter))
    steps = points - points[0]
    assert steps[3] == pytest.approx([9, 0, 0], abs=1e-12)
    assert steps[2] == pytest.approx([0, 6, 0], abs=1e-12)
    # (4, 0, 0) stays about x, goes to (0, 0, -4) about y
    assert steps[1] == pytest.approx([0, 0, -4], abs=1e-12)
    assert points.min(axis=0) == pytest.approx(-points.max(axis=0))


def test_a_box_has_no_vertices(piece):
    with pytest.raises(ValueError, match="cog"):
        placed_vertices(piece(Box(size=(1, 1, 1))))


@pytest.mark.parametrize("drift_turn", [0.0, 0.08, 0.5, 1.2])
@pytest.mark.parametrize("size", [(20, 6, 4), (9, 9, 4), (30, 1, 4)])
def test_a_turning_box_covers_extremes_and_corner_sectors(piece, size, drift_turn):
    box = piece(Box(size=size), turn=0.4, drift=Drift(turn=drift_turn))
    shape = footprint(box, box.drift)
    ours = shapely.union_all([shapely.Polygon(p) for p in shape.polygons])
    plain = shapely.box(60 - size[0] / 2, 20 - size[1] / 2, 60 + size[0] / 2, 20 + size[1] / 2)
    angles = 0.4 + np.linspace(-drift_turn, drift_turn, 641)
    turned = [affinity.rotate(plain, a, origin=(60, 20), use_radians=True) for a in angles]
    every = shapely.union_all(turned)
    assert all(ours.buffer(1e-9).covers(one) for one in turned)
    # outside by no more than the flattening and the notches between 641 positions
    notch = math.hypot(size[0], size[1]) / 2 * drift_turn / 320 / 2
    assert ours.difference(every.buffer(1e-3 + notch)).area < 1e-6


def test_a_box_that_may_turn_a_quarter_covers_its_disc(piece):
    box = piece(Box(size=(6, 8, 2)), drift=Drift(turn=math.pi / 2, side=0.5))
    shape = footprint(box, box.drift)
    assert shape.radius == 5.5
    assert shape.polygons[0].tolist() == [[60, 20]]
    assert plan_radius(box) == 5.5


def test_nominal_areas(piece):
    assert footprint_area(piece(Box(size=(6, 8, 2)), turn=1.0)).area == pytest.approx(48)
    disc = footprint_area(piece(Cylinder(diameter=10, height=1), drift=Drift(side=3)))
    assert disc.area == pytest.approx(math.pi * 25, rel=1e-3)
    assert footprint_area(piece(TETRA)).area == pytest.approx(12)
    assert footprint_area(piece(TETRA)).bounds == pytest.approx((58, 17, 62, 23))


def test_a_prism_stands_with_the_middle_of_its_turned_box_at_its_place(piece, angle_iron, blank):
    # turned a quarter the L is 12 wide and 20 high: (x, y) goes to (-y, x)
    cog = piece(angle_iron, turn=math.pi / 2)
    area = placed_area(cog)
    assert area.bounds == pytest.approx((54.0, 10.0, 66.0, 30.0))
    assert area.area == pytest.approx(20 * 4 + 5 * 8)
    # the inner corner (105, 54) lies 5, 4 from the box's lower left, so 8, 5 after the turn
    assert shapely.distance(area.boundary, shapely.Point(62.0, 15.0)) < 1e-9
    assert plan_radius(cog) == pytest.approx(math.hypot(6, 10))
    assert z_range(blank(), cog) == (-14.0, -8.0)


def test_a_prism_with_arcs_is_placed_by_its_true_box(piece):
    # a half disc of radius 5 on a flat: 10 wide, 5 high; turned by 45 degrees its box is that of
    # the arc's true extremes
    half = Region(outer=Loop(points=np.array([[5.0, 0, 1.0], [-5.0, 0, 0.0]])))
    cog = piece(Prism(outline=(half,), height=2.0), turn=math.pi / 4)
    # the arc runs from 45 to 225 degrees: from -5 to 5 cos 45 in x, from -5 sin 45 to 5 in y
    c = 5 * math.sqrt(0.5)
    x0, y0, x1, y1 = placed_area(cog).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((5 + c, 5 + c), abs=0.002)
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((60, 20), abs=0.001)


def test_measured_tops_reach_from_their_greatest_height_to_the_foot(piece, driftwood, blank):
    wood = piece(driftwood)
    assert z_range(blank(), wood) == pytest.approx((-8 - 6, -8))
    behind = piece(driftwood, measured_from=Side.BACK)
    assert z_range(blank(), behind) == pytest.approx((-34, -28))
    assert footprint_area(wood).bounds == pytest.approx((52, 16, 68, 24))
    tops = placed_tops(piece(driftwood, turn=math.pi / 2))
    assert np.ptp(tops, axis=(0, 1))[:2] == pytest.approx((8, 16))
    with pytest.raises(ValueError, match="measured"):
        placed_tops(piece(Sphere(diameter=3)))


def test_a_mesh_with_holes_has_the_triangles_of_its_hull():
    open_ = Mesh(
        file=TETRA.file, vertices=TETRA.vertices, triangles=TETRA.triangles[:3], watertight=False
    )
    assert len(closed_triangles(open_, TETRA.vertices)) == 4
    assert closed_triangles(TETRA, TETRA.vertices) is TETRA.triangles
