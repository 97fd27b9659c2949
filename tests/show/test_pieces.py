import math
from dataclasses import replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import shapely
import trimesh

from toolpath.drawing.shapes import rect
from toolpath.job.model import Blank, Box, Cylinder, Drift, Mesh, Piece, Side, Sphere
from toolpath.show.pieces import (
    Line,
    depth_below,
    footprint,
    grown_footprint,
    grown_section,
    height_of,
    rise_seen_from,
    section,
    z_range,
)
from toolpath.show.seen import Seen, seen_from

BLANK = Blank(outline=rect(0, 0, 200, 200), thickness=40, thickness_within=0.3)
FRONT = Seen(
    side=Side.FRONT, mirror=(1, 1), shift=(0, 0), low=(0, 0), size=(200, 200), thickness=40
)
BACK = replace(FRONT, side=Side.BACK, mirror=(-1, 1), shift=(200, 0))
ACROSS = Line(origin=(100, 90), direction=(1, 0))


def piece(solid, **keys) -> Piece:
    start = {"at": (100, 90), "measured_from": Side.FRONT, "depth": 8.0, "clearance": 1.0}
    return Piece(name="it", solid=solid, **{**start, **keys})


def mesh(shape) -> Mesh:
    triangles = np.array(shape.faces, dtype=np.int64)
    return Mesh(file=Path("it.stl"), vertices=np.array(shape.vertices), triangles=triangles)


def test_depths_from_both_faces():
    cog = piece(Cylinder(diameter=24, height=6))
    assert z_range(cog, BLANK) == (-14.0, -8.0)
    assert depth_below(cog, BLANK, Side.FRONT) == 8.0
    assert depth_below(cog, BLANK, Side.BACK) == 40 - 14
    from_back = replace(cog, measured_from=Side.BACK)
    assert depth_below(from_back, BLANK, Side.BACK) == 8.0
    assert depth_below(from_back, BLANK, Side.FRONT) == 40 - 14


def test_thickness_counts_where_measured_from_the_other_face():
    ball = piece(Sphere(diameter=10), drift=Drift(rise=0.5))
    assert rise_seen_from(ball, BLANK, Side.FRONT) == 0.5
    assert rise_seen_from(ball, BLANK, Side.BACK) == pytest.approx(0.8)


def test_a_box_turns_counter_clockwise():
    turned = footprint(piece(Box(size=(40, 10, 5)), turn=math.radians(30)))
    tip = shapely.Point(100 + 18 * math.cos(math.pi / 6), 90 + 18 * math.sin(math.pi / 6))
    assert turned.contains(tip)
    assert turned.area == pytest.approx(400)
    assert not turned.contains(shapely.Point(tip.x, 180 - tip.y))


def test_drift_to_the_side_grows_a_disc():
    grown = grown_footprint(piece(Cylinder(diameter=20, height=6), drift=Drift(side=2.0)))
    assert grown.area == pytest.approx(math.pi * 144, rel=0.01)


def test_drift_in_turn_reaches_the_turned_corner():
    bar = piece(Box(size=(40, 10, 5)), drift=Drift(turn=math.radians(10)))
    corner = np.array([20.0, 5.0])
    c, s = math.cos(math.radians(10)), math.sin(math.radians(10))
    tip = (100 + c * corner[0] - s * corner[1], 90 + s * corner[0] + c * corner[1])
    assert grown_footprint(bar).buffer(1e-6).covers(shapely.Point(tip))


def test_a_mesh_agrees_with_the_ball_it_was_made_from():
    ball = trimesh.creation.icosphere(subdivisions=4, radius=10)
    made, plain = piece(mesh(ball)), piece(Sphere(diameter=20))
    assert height_of(made) == pytest.approx(20)
    assert footprint(made).area == pytest.approx(footprint(plain).area, rel=0.01)
    line = Line(origin=(100, 94), direction=(1, 0))
    cut = section(made, BLANK, FRONT, line)
    # A plane 4 from the middle of a ball of radius 10 cuts a disc of area pi (100 - 16).
    assert cut.area == pytest.approx(math.pi * 84, rel=0.01)
    assert section(plain, BLANK, FRONT, line).area == pytest.approx(math.pi * 84, rel=0.01)
    drift = Drift(side=1.5, rise=0.5)
    grown = [grown_section(replace(p, drift=drift), BLANK, FRONT, line) for p in (made, plain)]
    assert shapely.hausdorff_distance(*grown) < 0.15


def test_many_triangles_keep_their_footprint():
    ball = trimesh.creation.icosphere(subdivisions=6, radius=10)
    assert len(ball.faces) > 80_000
    assert footprint(piece(mesh(ball))).area == pytest.approx(math.pi * 100, rel=0.02)


@pytest.mark.parametrize("lean", [1.0, 1.2, 1.455, 1.465])
def test_edges_that_nearly_meet_leave_no_holes(lean):
    # Upright as it stands a ring has no hole in plan; slivers between its triangles, moved, were
    # no valid rings.
    ring = trimesh.creation.torus(4.5, 2.2, major_sections=20, minor_sections=10)
    shape = footprint(piece(replace(mesh(ring), tilt=(-1.3, lean)), turn=1.4))
    assert shape.is_valid and shape.geom_type == "Polygon" and not shape.interiors
    upright = trimesh.transformations.euler_matrix(-1.3, lean, 1.4, "sxyz")
    turned = ring.copy().apply_transform(upright)
    solid = manifold3d.Manifold(
        manifold3d.Mesh(np.float32(turned.vertices), np.uint32(turned.faces))
    )
    assert shape.area == pytest.approx(solid.project().area(), rel=0.01)


def test_mesh_tilt_goes_about_x_first_then_y():
    bar = mesh(trimesh.creation.box(extents=(10, 20, 30)))
    quarter = math.pi / 2
    assert height_of(piece(replace(bar, tilt=(quarter, 0.0)))) == pytest.approx(20)
    assert height_of(piece(replace(bar, tilt=(0.0, quarter)))) == pytest.approx(10)
    rotation = trimesh.transformations.euler_matrix(0.4, 0.3, 0.0, "sxyz")
    reference = trimesh.creation.box(extents=(10, 20, 30)).apply_transform(rotation)
    tilted = piece(replace(bar, tilt=(0.4, 0.3)))
    assert height_of(tilted) == pytest.approx(reference.extents[2])
    bounds = footprint(tilted).bounds
    assert bounds[2] - bounds[0] == pytest.approx(reference.extents[0], abs=1e-6)


def test_a_mesh_section_agrees_with_manifold():
    knot = trimesh.creation.torus(major_radius=12, minor_radius=4)
    upright = knot.copy().apply_transform(trimesh.transformations.rotation_matrix(0.5, (0, 1, 0)))
    made = piece(mesh(upright))
    cut = section(made, BLANK, FRONT, Line(origin=(100, 93), direction=(1, 0)))
    body = manifold3d.Manifold(
        manifold3d.Mesh(
            vert_properties=np.array(upright.vertices[:, [2, 0, 1]], dtype=np.float32),
            tri_verts=np.array(upright.faces, dtype=np.uint32),
        )
    )
    # Axes are walked round so that the plane y = 3 of the mesh is the plane z = 3 of the body.
    assert cut.area == pytest.approx(body.slice(3.0).area(), rel=0.01)
    assert shapely.get_num_geometries(cut) == 2


def test_an_open_mesh_gives_the_hull_of_its_cut():
    half = trimesh.creation.box(extents=(10, 10, 10))
    faces = np.array([f for f in half.faces if half.vertices[f][:, 2].min() < 0], dtype=np.int64)
    bowl = Mesh(
        file=Path("bowl.stl"),
        vertices=np.array(half.vertices),
        triangles=faces,
        watertight=False,
    )
    assert section(piece(bowl), BLANK, FRONT, ACROSS).area == pytest.approx(100)


def test_sections_as_on_the_machine():
    bar = piece(Box(size=(40, 10, 5)), drift=Drift(side=1, rise=0.5))
    front = section(bar, BLANK, FRONT, ACROSS)
    assert front.bounds == pytest.approx((-20, -13, 20, -8))
    grown = grown_section(bar, BLANK, FRONT, ACROSS)
    assert grown.bounds == pytest.approx((-21, -13.5, 21, -7.5))
    back = section(bar, BLANK, BACK, Line(origin=(90, 90), direction=(1, 0)))
    assert back.bounds == pytest.approx((-10, -32, 30, -27))


def test_a_line_beside_a_piece_cuts_nothing():
    away = Line(origin=(100, 150), direction=(1, 0))
    for solid in (Box(size=(9, 9, 9)), Cylinder(diameter=9, height=9), Sphere(diameter=9)):
        assert section(piece(solid), BLANK, FRONT, away).is_empty
    assert away.intervals(shapely.Polygon()) == ()


def test_a_mesh_lies_upside_down_when_the_back_is_up():
    cone = piece(mesh(trimesh.creation.cone(radius=10, height=10)))
    front = section(cone, BLANK, FRONT, ACROSS)
    back = section(cone, BLANK, BACK, ACROSS)

    def width(area, z):
        row = area.intersection(shapely.LineString([(-99, z), (99, z)]))
        return row.length

    # Apex 8 below the front, base 18 below it: 22 below the back.
    assert width(front, -9.0) == pytest.approx(2, abs=0.1)
    assert width(front, -17.0) == pytest.approx(18, abs=0.2)
    assert width(back, -23.0) == pytest.approx(18, abs=0.2)
    assert width(back, -31.0) == pytest.approx(2, abs=0.1)


def test_a_prism_is_turned_then_put_in_the_middle_of_its_box(whole_scene):
    star = next(p for p in whole_scene.job.pieces if p.name == "star")
    # 30 x 12 turned by a quarter about its own middle at (250, 245).
    assert footprint(star).bounds == pytest.approx((244, 230, 256, 260))
    assert height_of(star) == 7
    assert z_range(star, whole_scene.job.blank) == pytest.approx((-13, -6))


def test_measured_tops_stand_on_a_flat_foot(whole_scene):
    shell = next(p for p in whole_scene.job.pieces if p.name == "shell")
    blank = whole_scene.job.blank
    top = float(shell.solid.points[:, 2].max())
    assert z_range(shell, blank) == pytest.approx((-36, -36 + top))
    assert footprint(shell).area == pytest.approx(40 * 30, rel=1e-3)
    seen = seen_from(whole_scene.job, Side.FRONT)
    flat = replace(shell, turn=0.0, drift=Drift())
    line = Line(origin=seen.point(*shell.at), direction=(1.0, 0.0))
    cut = section(flat, blank, seen, line)
    assert cut.bounds[1] == pytest.approx(-36)
    # The row of samples at y = 15: trapezoids between them give the area above the foot.
    row = shell.solid.points[shell.solid.points[:, 1] == 15.0]
    assert cut.area == pytest.approx(np.trapezoid(row[:, 2], row[:, 0]), rel=1e-3)
