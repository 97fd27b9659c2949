"""Volumes cut out of pieces, against closed formulas and a general-purpose mesh library."""

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.check.may_cut import cut_notes, pieces_cut
from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.job.model import (
    Box,
    Cylinder,
    Drift,
    Hardness,
    Heights,
    Mesh,
    Prism,
    Rule,
    Shape,
    Side,
    Sphere,
)

FRONT = Side.FRONT


def piece(kit, solid, **changes):
    given = {"rule": Rule.MAY_CUT, "hardness": Hardness.WOOD, "name": "branch slice"}
    return kit.piece(solid, **(given | changes))


def cut(kit, one, *lines, side=FRONT, cutter=None, **job):
    tool = cutter or kit.cutter()
    made = kit.job((one,), cutter=tool, **job)
    moves = kit.read("F600", *lines).moves
    return pieces_cut(made, side=side, cutter=tool, moves=moves)


def raster(depth, low, high, step=1.0):
    """Level passes that clear the square from `low` to `high`, x and y alike."""
    lines = ["G0 Z5"]
    for number, y in enumerate(np.arange(low[1], high[1] + step, step)):
        here, there = (low[0], high[0]) if number % 2 == 0 else (high[0], low[0])
        lines += [f"G0 X{here} Y{y}", f"G1 Z-{depth}", f"G1 X{there}", "G0 Z5"]
    return lines


# Program x 60, y 40 is the blank's 70, 60, where the pieces of the kit stand, 8 mm deep.
PLUNGE = ("G0 X60 Y40 Z5", "G1 Z-11", "G0 Z5")


def test_a_plunge_into_a_cylinder(kit):
    (found,) = cut(kit, piece(kit, Cylinder(diameter=12.0, height=6.0)), *PLUNGE)
    assert found.piece == "branch slice"
    assert found.volume == pytest.approx(math.pi * 3.0**2 * 3.0, rel=0.02)
    assert found.share == pytest.approx(0.125, rel=0.02)
    assert found.low == pytest.approx((67.0, 57.0, -11.0), abs=0.15)
    assert found.high == pytest.approx((73.0, 63.0, -8.0), abs=0.15)


@pytest.mark.parametrize("drift", [Drift(), Drift(side=1.0, rise=0.5, turn=0.3)])
def test_a_cap_of_a_sphere(kit, drift):
    # A cap of height h of a ball: pi h^2 (3 R - h) / 3 (Bronstein, Taschenbuch der Mathematik).
    lines = raster(11.0, (48.0, 28.0), (72.0, 52.0))
    (found,) = cut(kit, piece(kit, Sphere(diameter=20.0), drift=drift), *lines)
    cap = math.pi * 3.0**2 * (30.0 - 3.0) / 3.0
    assert found.volume == pytest.approx(cap, rel=0.02)
    assert found.share == pytest.approx(cap / (4.0 / 3.0 * math.pi * 1000.0), rel=0.02)


@pytest.mark.parametrize("turn", [0.0, math.pi / 2.0])
def test_a_slot_through_a_box(kit, turn):
    lines = ("G0 X40 Y40 Z5", "G1 Z-10.5", "G1 X80", "G0 Z5")
    (found,) = cut(kit, piece(kit, Box(size=(20.0, 14.0, 6.0)), turn=turn), *lines)
    length = 20.0 if turn == 0.0 else 14.0
    assert found.volume == pytest.approx(6.0 * length * 2.5, rel=0.02)
    assert found.high[0] - found.low[0] == pytest.approx(length, abs=0.15)


def test_a_groove_of_a_ball_cutter(kit):
    ball = kit.cutter(name="ball 6", shape=Shape.BALL)
    lines = ("G0 X40 Y40 Z5", "G1 Z-11", "G1 X80", "G0 Z5")
    (found,) = cut(kit, piece(kit, Box(size=(20.0, 14.0, 6.0))), *lines, cutter=ball)
    assert found.volume == pytest.approx(math.pi * 3.0**2 / 2.0 * 20.0, rel=0.02)


def test_a_sloping_slot(kit):
    # From 8 to 12 mm deep over the 20 mm of the box, the flat end cutting with its rear edge:
    # the floor of a slot of a flat end that goes down is that of its lowest reach, r behind.
    lines = ("G0 X30 Y40 Z5", "G1 Z-4", "G1 X90 Z-16", "G0 Z5")
    (found,) = cut(kit, piece(kit, Box(size=(20.0, 14.0, 9.0))), *lines)
    x, y = np.meshgrid(np.linspace(50.0, 70.0, 401), np.linspace(-3.0, 3.0, 121)[1:-1])
    ahead = np.sqrt(9.0 - y**2)
    depth = 4.0 + (np.minimum(x + ahead, 90.0) - 30.0) * 0.2 - 8.0
    assert found.volume == pytest.approx(float(depth.mean()) * 120.0, rel=0.02)


def test_a_prism_with_a_hole(kit):
    ring = kit.circle(5.0, 5.0, 9.0)
    hole = kit.circle(5.0, 5.0, 4.0).outer
    outline = (type(ring)(outer=ring.outer, holes=(hole,)),)
    lines = raster(10.0, (48.0, 28.0), (72.0, 52.0))
    (found,) = cut(kit, piece(kit, Prism(outline=outline, height=8.0)), *lines)
    assert found.volume == pytest.approx(math.pi * (81.0 - 16.0) * 2.0, rel=0.02)
    assert found.share == pytest.approx(0.25, rel=0.02)


def test_a_mesh_cut_level(kit):
    shape = trimesh.creation.torus(major_radius=8.0, minor_radius=3.0)
    mesh = Mesh(
        file=Path("ring.stl"),
        vertices=np.array(shape.vertices),
        triangles=np.array(shape.faces, dtype=np.int64),
        tilt=(0.4, 0.2),
    )
    low, high = (46.0, 26.0), (74.0, 54.0)
    (found,) = cut(kit, piece(kit, mesh), *raster(12.0, low, high))
    for angle, axis in ((0.4, (1, 0, 0)), (0.2, (0, 1, 0))):
        shape.apply_transform(trimesh.transformations.rotation_matrix(angle, axis))
    top = shape.bounds[1, 2] - 4.0
    upper = trimesh.intersections.slice_mesh_plane(
        shape, plane_normal=(0, 0, 1), plane_origin=(0, 0, top), cap=True, engine="manifold"
    )
    assert found.volume == pytest.approx(upper.volume, rel=0.02)
    assert found.share == pytest.approx(upper.volume / shape.volume, rel=0.02)


def test_measured_tops_from_the_back(kit):
    # A pyramid of base 20 and height 9, its foot 8 mm from the back: a level cut from the back
    # takes the foot's slice, a frustum.
    points = np.array([[0, 0, 0], [20, 0, 0], [20, 20, 0], [0, 20, 0], [10, 10, 9.0]], dtype=float)
    triangles = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    heights = Heights(file=Path("scan.csv"), points=points, triangles=triangles)
    one = piece(kit, heights, measured_from=Side.BACK)
    lines = raster(11.0, (44.0, 24.0), (76.0, 56.0))
    (found,) = cut(kit, one, *lines, side=Side.BACK)
    side = 20.0 * (1.0 - 3.0 / 9.0)
    frustum = (400.0 * 9.0 - side**2 * 6.0) / 3.0
    assert found.volume == pytest.approx(frustum, rel=0.02)
    assert (found.low[2], found.high[2]) == pytest.approx((-32.0, -29.0), abs=0.01)


def test_what_is_not_touched_is_not_named(kit):
    one = piece(kit, Cylinder(diameter=12.0, height=6.0))
    assert cut(kit, one, "G0 X60 Y40 Z5", "G1 Z-7.9", "G0 Z5") == ()
    assert cut(kit, one, "G0 X90 Y40 Z5", "G1 Z-20", "G0 Z5") == ()
    assert cut(kit, piece(kit, one.solid, rule=Rule.KEEP), *PLUNGE) == ()


def test_the_report_and_its_words(kit):
    one = piece(kit, Cylinder(diameter=12.0, height=6.0))
    job = kit.job((one,))
    program = kit.read("F300", *PLUNGE)
    judged = judge_program(job, side=FRONT, cutter=kit.cutter(), program=program, stock=None)
    assert [each.piece for each in judged.report.pieces_cut] == ["branch slice"]
    words = [f.message for f in judged.report.findings if f.piece == "branch slice"]
    assert len(words) == 1
    assert words[0].startswith('wood piece "branch slice": 8')
    assert words[0].endswith("mm³ of it are cut, 13 %, 8 mm to 11 mm below the front")
    (note,) = cut_notes(job, judged.report.pieces_cut)
    assert (note.code, note.refuses) == (Code.NOTE, False)
