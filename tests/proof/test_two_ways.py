"""Two ways agree: what was swept against shapely, what was removed against manifold3d, the height
fields against the exact judge, the planner's frames against the check's."""

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import independent
import numpy as np
import pytest
from manifold3d import Manifold, OpType
from proof.asked import write
from proof.jobs import random_case
from proof.nouns import Cutter, Job, Piece
from proof.ways import from_page, to_page

from toolpath.app.load import load_job
from toolpath.blank.clear import lowest_clear_tip
from toolpath.blank.frames import Frame as PlannersFrame
from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.check.replay import judge_program
from toolpath.check.stock import Stock
from toolpath.job.model import Side
from toolpath.rs274.read import read_program

ZEROS = ["lower-left", "lower-right", "upper-left", "upper-right", "centre"]


def plain_job(rng, diameter=6.0, pieces=(), cell=0.2) -> Job:
    box = (5.0, -8.0, 65.0, 42.0)
    return Job(
        units="mm",
        box=box,
        thickness=30.0,
        within=0.0,
        turn_over=str(rng.choice(["left-right", "top-bottom"])),
        zeros={side: str(rng.choice(ZEROS)) for side in ("front", "back")},
        face=str(rng.choice(["front", "back"])),
        path_error=0.02,
        clearance=0.5,
        cell=cell,
        nut=16.0,
        cutter=Cutter(
            shape="flat", diameter=diameter, flute_length=25.0, shank=diameter, reach=30.0
        ),
        pieces=tuple(pieces),
    )


def wandering(rng, job, level: bool) -> str:
    """Lines and arcs well inside the blank; helices and slopes unless level."""
    x0, y0, x1, y1 = job.box

    def inside(count):
        xy = rng.uniform([x0 + 8.0, y0 + 8.0], [x1 - 8.0, y1 - 8.0], (count, 2))
        return from_page(job, np.column_stack([xy, np.zeros(count)]))[:, :2]

    (x, y), depth = inside(1)[0], 4.0
    lines = ["G21 G17 G90 G94 G54", "S12000 M3", "F600", "G0 Z5", f"G0 X{x:.4f} Y{y:.4f}"]
    lines += [f"G1 Z{-depth:.4f}"]
    for goal in inside(5):
        z = depth if level else float(rng.uniform(1.0, 9.0))
        lines.append(f"G1 X{goal[0]:.4f} Y{goal[1]:.4f} Z{-z:.4f}")
        i, j = (round(float(v), 4) for v in (inside(1)[0] - goal) * 0.15)
        code = "G2" if rng.random() < 0.5 else "G3"
        x, y = goal[0] + 2.0 * i, goal[1] + 2.0 * j  # half a turn about goal + (i, j)
        lines.append(f"{code} X{x:.4f} Y{y:.4f} Z{-z:.4f} I{i:.4f} J{j:.4f}")
    return "\n".join([*lines, "G0 Z5", "M2", ""])


def judged(job: Job, text: str, folder: Path):
    read = load_job(write(job, folder))
    found = judge_program(
        read,
        side=Side(job.face),
        cutter=read.cutters["tool"],
        program=read_program(text, unit=read.unit),
        stock=Stock.fresh(read),
    )
    return found, found.stock.faces[Side(job.face)], found.stock.grid


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("cell", [0.1, 0.4])
def test_swept_stock_in_plan_against_shapely(tmp_path, seed, cell):
    rng = np.random.default_rng([31, seed])
    job = plain_job(rng, diameter=float(rng.choice([3.0, 6.0])), cell=cell)
    text = wandering(rng, job, level=True)
    _, face, grid = judged(job, text, tmp_path)
    area = independent.swept(independent.read(text), job.cutter.diameter / 2.0, -4.0)
    gone = np.count_nonzero(face.upper <= -4.0 + 1e-4) * grid.cell**2
    touched = np.count_nonzero(face.lowest <= -4.0 + 1e-4) * grid.cell**2
    # A cell counts as gone when it is wholly gone, as touched when any of it is: both are off by
    # less than the cells that the edge runs through and their neighbours.
    assert gone <= area.area <= touched
    assert touched - gone <= 4.0 * area.length * grid.cell


def removed_by_manifold(job: Job, text: str) -> Manifold:
    """The flat cutter swept along every feed move, as hulls along chords, blank frame."""
    radius, top = job.cutter.diameter / 2.0, 25.0
    angle = np.arange(96) * math.tau / 96
    ring = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(96)]) * radius
    body = np.concatenate([ring, ring + np.array([0.0, 0.0, job.up * top])])
    parts = []
    for move in independent.read(text):
        if move.rapid:
            continue
        points = to_page(job, move.points)
        points = points[:: max(1, len(points) // 40)] if len(points) > 2 else points
        points = np.concatenate([points, to_page(job, move.points[-1:])])
        for a, b in pairwise(points):
            parts.append(Manifold.hull_points(np.concatenate([body + a, body + b])))
    return Manifold.batch_boolean(parts, OpType.Add)


@pytest.mark.parametrize("seed", range(3))
def test_removed_volume_against_manifold(tmp_path, seed):
    rng = np.random.default_rng([32, seed])
    job = plain_job(rng, cell=0.1)
    text = wandering(rng, job, level=False)
    _, face, grid = judged(job, text, tmp_path)
    x0, y0, x1, y1 = job.box
    blank = Manifold.cube((x1 - x0, y1 - y0, 30.0)).translate((x0, y0, -30.0))
    swept = removed_by_manifold(job, text)
    volume = (blank ^ swept).volume()
    least, most = (
        -float(np.where(np.isfinite(z), z, 0.0).sum(dtype=float)) * grid.cell**2
        for z in (face.upper, face.lowest)
    )
    # The polygon of 96 corners lies inside the circle by 0.0016 mm, chords of arcs by 0.01 mm.
    slack = 0.02 * swept.surface_area()
    assert least - slack <= volume <= most + slack
    # Between the bounds lie the cells that walls run through, on the way down too.
    assert most - least <= 3.0 * grid.cell * swept.surface_area()


@pytest.mark.parametrize("seed", range(3))
def test_what_a_piece_loses_against_manifold(tmp_path, seed):
    rng = np.random.default_rng([33, seed])
    size = [24.0, 18.0, 10.0]
    soft = Piece(
        name="knot",
        solid={"kind": "box", "size": size},
        shape=None,
        at=(35.0, 17.0),
        face=str(rng.choice(["front", "back"])),
        depth=1.0,
        rule="may-cut",
    )
    job = plain_job(rng, pieces=[soft])
    job = replace(job, face=soft.face)
    text = wandering(rng, job, level=False)
    found, _, _ = judged(job, text, tmp_path)
    low = -1.0 - size[2] if soft.face == "front" else -29.0
    box = Manifold.cube(size).translate((35.0 - 12.0, 17.0 - 9.0, low))
    volume = (box ^ removed_by_manifold(job, text)).volume()
    (cut,) = found.report.pieces_cut
    assert volume > 50.0
    assert cut.volume == pytest.approx(volume, rel=0.02)


@pytest.mark.parametrize("seed", range(12))
def test_where_the_height_fields_acquit_the_exact_judge_does(tmp_path, seed):
    case = random_case(seed)
    job = load_job(write(case.job, tmp_path))
    side, cutter = Side(case.job.face), job.cutters["tool"]
    floor = -(case.job.thickness - case.job.within)
    field = lowest_clear_tip(job, side, cutter, deepest=floor)
    rng, grid = np.random.default_rng(seed), field.grid
    x0, y0, x1, y1 = case.job.box
    xy = rng.uniform([x0, y0], [x1, y1], (4000, 2))
    column = np.floor((xy[:, 0] - grid.x0) / grid.cell).astype(int)
    row = np.floor((xy[:, 1] - grid.y0) / grid.cell).astype(int)
    height = np.maximum(field.z[row, column].astype(float), floor)
    above = np.where(rng.random(4000) < 0.5, 0.0, rng.uniform(0.0, 5.0, 4000))
    tips = from_page(case.job, np.column_stack([xy, np.zeros(4000)]))
    tips[:, 2] = height + above
    tool, obstacles = tool_of(cutter, job.machine.nut), Obstacles.of(job, side)
    # The hollow of a round-over may be taken 0.01 mm too large (docs/check.md).
    hollow = 0.011 if case.job.cutter.shape == "round-over" else 0.0
    assert not obstacles.blocked(tips + np.array([0.0, 0.0, hollow]), tool).any()
    binding = height > floor + 1.0
    under = tips[binding][:300] - [0.0, 0.0, 1.0] - [0.0, 0.0, 1.0] * above[binding][:300, None]
    assert binding.any()
    assert obstacles.blocked(under, tool).any()  # the fields are not idle


@pytest.mark.parametrize("seed", range(20))
def test_frames_of_planner_and_check(tmp_path, seed):
    case = random_case(seed)
    job = load_job(write(case.job, tmp_path))
    points = np.random.default_rng(seed).uniform(-80.0, 80.0, (200, 3))
    for side in Side:
        mine = replace(case.job, face=side.value)
        check, planner = frame_of(job, side), PlannersFrame.of(job, side)
        program = from_page(mine, points)
        np.testing.assert_allclose(check.to_program(points), program, atol=1e-9)
        np.testing.assert_allclose(check.to_blank(program), points, atol=1e-9)
        np.testing.assert_allclose(planner.xy_to_program(points[:, :2]), program[:, :2], atol=1e-9)
        np.testing.assert_allclose(planner.xy_to_page(program[:, :2]), points[:, :2], atol=1e-9)
        # Loops turn round where the page is seen from behind.
        assert planner.mirrored == (np.prod(check.sign[:2]) < 0.0)
