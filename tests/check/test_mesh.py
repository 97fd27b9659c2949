"""Meshes against simple solids of the same form, whose gaps are known in closed form."""

import math
from itertools import product
from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.check.replay import judge_program
from toolpath.check.report import Verdict
from toolpath.job.model import Box, Drift, Mesh, Shape, Side, Sphere, TurnOver


def mesh_of(shape, tilt=(0.0, 0.0)):
    return Mesh(
        file=Path("pebble.stl"),
        vertices=np.array(shape.vertices, dtype=float),
        triangles=np.array(shape.faces, dtype=np.int64),
        tilt=tilt,
    )


def fine_box(size, pieces=0):
    box = trimesh.creation.box(extents=size)
    for _ in range(pieces):
        box = box.subdivide()
    box.apply_translation([5.0, -3.0, 11.0])  # where a file has it does not matter
    return box


def random_lines(rng):
    x, y = rng.uniform(30, 90), rng.uniform(10, 70)
    z = rng.uniform(-20, -2)
    u, v, w = np.array([x, y, z]) + rng.uniform(-1, 1, 3) * [30, 30, 6]
    return [
        "F600",
        f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}",
        f"G1 X{u:.3f} Y{v:.3f} Z{w:.3f}",
        f"G2 X{x:.3f} Y{y:.3f} Z{z:.3f} I{(x - u) / 2:.4f} J{(y - v) / 2:.4f}",
    ]


def both(kit, one, other, lines, side, cutter, turn_over=TurnOver.LEFT_RIGHT):
    answers = []
    for piece in (one, other):
        job = kit.job((piece,), cutter=cutter, turn_over=turn_over)
        program = kit.read(*lines)
        answers.append(
            judge_program(job, side=side, cutter=cutter, program=program, stock=None).report
        )
    return answers


@pytest.mark.parametrize(("side", "turn_over"), list(product(Side, TurnOver)))
@pytest.mark.parametrize("drifting", [False, True])
def test_a_mesh_of_a_box_is_judged_as_the_box(kit, side, turn_over, drifting):
    rng = np.random.default_rng(3 + drifting)
    size = (24.0, 9.0, 7.0)
    cutter = kit.cutter(flute_length=10.0, reach=18.0, shank=4.0)
    drift = Drift(side=0.8, rise=0.5, turn=0.12) if drifting else Drift()
    refused = 0
    for _ in range(3):
        common = {"turn": rng.uniform(-3, 3), "drift": drift, "depth": 6.0}
        exact = kit.piece(Box(size=size), **common)
        meshed = kit.piece(mesh_of(fine_box(size, 1)), **common)
        lines = random_lines(rng)
        known, found = both(kit, exact, meshed, lines, side, cutter, turn_over)
        assert found.closest.gap == pytest.approx(known.closest.gap, abs=0.003)
        assert found.verdict is known.verdict
        refused += known.verdict is Verdict.REFUSED
    assert refused < 3 or drifting


def test_a_round_over_finds_a_mesh_of_a_box_as_the_box(kit):
    rng = np.random.default_rng(21)
    cutter = kit.cutter(
        shape=Shape.ROUND_OVER, edge_radius=2.0, flute_length=10.0, reach=18.0, shank=4.0
    )
    for _ in range(2):
        common = {"turn": rng.uniform(-3, 3), "drift": Drift(side=0.8, turn=0.12), "depth": 6.0}
        exact = kit.piece(Box(size=(24.0, 9.0, 7.0)), **common)
        meshed = kit.piece(mesh_of(fine_box((24.0, 9.0, 7.0), 1)), **common)
        known, found = both(kit, exact, meshed, random_lines(rng), Side.FRONT, cutter)
        assert found.closest.gap == pytest.approx(known.closest.gap, abs=0.003)
        assert found.verdict is known.verdict


def test_tilt_is_applied_before_turn(kit):
    # A box 24 x 9 x 7 tilted a quarter turn about x lies 24 x 7 x 9; then about y: 9 x 7 x 24.
    cutter = kit.cutter()
    rng = np.random.default_rng(9)
    for tilt, size in (
        ((math.pi / 2, 0.0), (24.0, 7.0, 9.0)),
        ((math.pi / 2, math.pi / 2), (9.0, 7.0, 24.0)),
    ):
        exact = kit.piece(Box(size=size), turn=0.5)
        meshed = kit.piece(mesh_of(fine_box((24.0, 9.0, 7.0)), tilt), turn=0.5)
        known, found = both(kit, exact, meshed, random_lines(rng), Side.FRONT, cutter)
        assert found.closest.gap == pytest.approx(known.closest.gap, abs=0.003)


@pytest.mark.parametrize("extra", [0.004, -0.004])
def test_the_band_over_a_mesh(kit, extra):
    # The top of the mesh is at -8, clearance 1 + path error 0.02: the floor may be at -6.98.
    piece = kit.piece(mesh_of(fine_box((20.0, 10.0, 6.0), 3)))
    lines = ["G0 X30 Y40 Z5", "F300", f"G1 Z{-6.98 + extra:.4f}", "X90", "G2 X90 Y46 I0 J3"]
    job = kit.job((piece,))
    report = judge_program(
        job, side=Side.FRONT, cutter=kit.cutter(), program=kit.read(*lines), stock=None
    ).report
    assert report.verdict is (Verdict.CLEAR if extra > 0 else Verdict.REFUSED)


def test_a_ball_of_triangles_lies_within_the_ball(kit):
    ball = trimesh.creation.icosphere(subdivisions=4, radius=8.0)
    # Corners lie on the sphere, the middles of the triangles this much within it.
    within = 8.0 - float(np.linalg.norm(ball.triangles_center, axis=1).min())
    rng = np.random.default_rng(4)
    for _ in range(4):
        exact, meshed = kit.piece(Sphere(diameter=16.0)), kit.piece(mesh_of(ball))
        known, found = both(kit, exact, meshed, random_lines(rng), Side.FRONT, kit.cutter())
        assert known.closest.gap - 0.002 <= found.closest.gap
        assert found.closest.gap <= known.closest.gap + within + 0.002


def test_a_cutter_wholly_inside_a_mesh_is_not_clear(kit):
    # Starting where nothing is known, deep in a hollow skin that is more than the need away.
    skin = fine_box((60.0, 60.0, 39.0))
    cutter = kit.cutter(diameter=2.0, shank=2.0, flute_length=5.0, reach=6.0)
    job = kit.job((kit.piece(mesh_of(skin), depth=0.5),), cutter=cutter)
    program = kit.read("F100", "G1 X60 Y40 Z-34", "X62")
    report = judge_program(job, side=Side.FRONT, cutter=cutter, program=program, stock=None).report
    assert report.verdict is Verdict.REFUSED


def test_a_mesh_with_a_hole_is_kept_clear_as_its_hull(kit):
    """A box scanned without its lid: the cutter must not go where the lid is missing."""
    box = trimesh.creation.box(extents=(24.0, 24.0, 10.0))
    lid = (box.triangles[..., 2] > 4.9).all(axis=1)
    box.update_faces(~lid)
    mesh = Mesh(
        file=Path("scan.stl"),
        vertices=np.array(box.vertices, dtype=float),
        triangles=np.array(box.faces, dtype=np.int64),
        watertight=False,
    )
    job = kit.job((kit.piece(mesh),))
    for depth, verdict in ((7.1, Verdict.REFUSED), (6.9, Verdict.CLEAR)):  # 8 deep, 1.02 needed
        program = kit.read("F600", "G0 X60 Y40 Z5", f"G1 Z-{depth}")
        report = judge_program(
            job, side=Side.FRONT, cutter=kit.cutter(), program=program, stock=None
        ).report
        assert report.verdict is verdict
