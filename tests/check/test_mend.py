from dataclasses import replace

import numpy as np
import pytest

from toolpath.check.frames import frame_of
from toolpath.check.mend import Scene, clear_depth, clear_diameter, deepest_place
from toolpath.check.obstacles import Obstacles
from toolpath.job.model import Cylinder, Side, Sphere


@pytest.fixture
def job(kit):
    """A cog of 24 mm about program X60 Y40, from 8 to 14 below the front."""
    return kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))


@pytest.fixture
def scene(kit, job):
    """Moves past the cog as mending sees them."""

    def make(*lines):
        program = kit.read("F600", *lines)
        known = program.moves.take(program.moves.known)
        return Scene(
            table=known,
            obstacles=Obstacles.of(job, Side.FRONT),
            frame=frame_of(job, Side.FRONT),
            cutter=job.cutters["flat 6"],
            nut=job.machine.nut,
        )

    return make


def test_the_depth_offered_is_itself_clear_and_a_hair_more_is_not(scene):
    here = scene("G0 X20 Y40 Z5", "G1 Z-10", "X48 Y40", "X48 Y44")
    rows = np.arange(len(here.table))
    depth = clear_depth(here, rows)
    # The cog's top is 8 below the front, 1.02 must stay: elementary.
    assert depth == pytest.approx(6.98)


def test_no_depth_where_even_the_face_is_too_deep(scene, job):
    here = scene("G0 X20 Y40 Z5", "G1 Z-10", "X48 Y40")
    crowded = replace(here, obstacles=Obstacles.of(_wanting(job, 9.0), Side.FRONT))
    assert clear_depth(crowded, np.arange(len(here.table))) is None


def test_a_thinner_cutter_on_the_same_path(scene):
    # Straight down beside the cog: found by judging, checked by judging a hair wider.
    here = scene("G0 X45 Y40 Z5", "G1 Z-10")
    diameter = clear_diameter(here, np.arange(len(here.table)))
    # Side of the cog at x 48: 3 from the axis, 1.02 must stay, so 1.98 of radius.
    assert diameter == pytest.approx(3.9)


def test_no_cutter_where_the_path_itself_goes_into_a_piece(scene):
    here = scene("G0 X20 Y40 Z5", "G1 Z-10", "X55")
    assert clear_diameter(here, np.arange(len(here.table))) is None


def _wanting(job, clearance):
    return replace(job, pieces=tuple(replace(p, clearance=clearance) for p in job.pieces))


def test_the_deepest_place_is_over_the_middle_of_a_ball(kit):
    # 13 below the front at its top, so a tip 14 deep is in it only near the middle.
    ball = kit.job((kit.piece(Sphere(diameter=20.0), depth=13.0),))
    program = kit.read("F600", "G0 X40 Y40 Z5", "G1 Z-12", "X58 Z-14", "X64 Y41", "X80 Y44")
    here = Scene(
        table=program.moves.take(program.moves.known),
        obstacles=Obstacles.of(ball, Side.FRONT),
        frame=frame_of(ball, Side.FRONT),
        cutter=kit.cutter(),
        nut=ball.machine.nut,
    )
    row, tip = deepest_place(here, np.arange(len(here.table)), 0)
    assert np.hypot(tip[0] - 60, tip[1] - 40) <= 3.0  # the flat end then stands on the summit
    assert here.table.line[row] == 6
