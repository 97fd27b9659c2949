"""What is left at the middles of cells, by hand from the form of a vee, and what is told of it."""

import math

import numpy as np
import pytest
from relief_scene import cutter, job_of, relief

from toolpath.check.chords import Feeds
from toolpath.check.frames import frame_of
from toolpath.check.middles import at_middles
from toolpath.check.replay import judge_program
from toolpath.check.report import Code
from toolpath.check.stock import FaceStock, Stock
from toolpath.field.grid import Grid
from toolpath.job.model import Nut, Shape, Side

VEE = cutter(Shape.VEE, angle=math.radians(60.0), tip_diameter=0.2)
STEEP = math.sqrt(3.0)  # a vee of 60 degrees rises by 1 / tan 30 degrees
JOB = job_of(relief(lambda x, y: 2.0 + 0 * x, cutters=[VEE], cusp=0.1, finish=0.0))
GRID = Grid(x0=-2.0, y0=-2.0, cell=0.2, rows=20, columns=20)
NONE = np.zeros(GRID.shape, dtype=np.float32)


def program(kit, *lines):
    return kit.read("F600", *lines, "G0 Z5")


def left(kit, side, *lines):
    feeds = Feeds.of(program(kit, *lines).moves, VEE)
    face = FaceStock(upper=NONE, lowest=NONE, cut=(feeds,))
    return at_middles(face, GRID, frame_of(JOB, side), Nut())


@pytest.mark.parametrize("side", list(Side))
def test_beside_a_groove_the_flank_stands(kit, side):
    # Zero is the lower left of a blank of 80: the groove is slanted, through the middle.
    z = left(kit, side, "G0 X30 Y35 Z5", "G1 Z-1.5", "X50 Y45")
    x, y = GRID.centres()
    turned = -1.0 if side is Side.BACK else 1.0  # left over right: its mirror image
    away = np.abs(y[:, None] - turned * x[None, :] / 2.0) * math.cos(math.atan(0.5))
    expected = np.minimum(-1.5 + STEEP * np.maximum(away - 0.1, 0.0), 0.0)
    assert (z - expected).min() > -1e-4
    assert (z - expected).max() < STEEP * 0.2 / 8.0


def test_round_an_arc_too(kit):
    z = left(kit, Side.FRONT, "G0 X41 Y40 Z5", "G1 Z-1", "G3 X41 Y40 I-1 J0")
    x, y = GRID.centres()
    away = np.abs(np.hypot(x[None, :], y[:, None]) - 1.0)
    expected = np.minimum(-1.0 + STEEP * np.maximum(away - 0.1, 0.0), 0.0)
    assert np.abs(z - expected).max() < STEEP * 0.2 / 8.0 + 0.002


def uncut(kit, rows):
    """What is told of a level relief 2 deep after a vee went along some rows, y of the blank."""
    lines = [f"G0 X30.2 Y{40 + y:.3f} Z5\nG1 Z-2\nX49.8" for y in rows]
    around = "G0 X30.2 Y30.2 Z5\nG1 Z-2\nX49.8\nY49.8\nX30.2\nY30.2"
    report = judge_program(
        JOB, side=Side.FRONT, cutter=VEE, program=program(kit, around, *lines),
        stock=Stock.fresh(JOB),
    ).report  # fmt: skip
    return [f for f in report.findings if f.code is Code.UNCUT]


def test_ridges_under_the_cusp_are_not_told_as_uncut(kit):
    # Rows 0.3 apart leave (0.15 - 0.1) * 1.73 = 0.09 between them, less than the cusp of 0.1.
    rows = np.arange(-9.8, 9.8, 0.3)
    assert uncut(kit, rows) == []
    # Without three of them (0.6 - 0.1) * 1.73 = 0.87 stands: over 0.15 along 20 - 2 * 1.15 mm it is
    # 1.2 - 2 * (0.1 + 0.15 / 1.73) = 0.83 wide, 14 to 17 mm2.
    (told,) = uncut(kit, np.delete(rows, slice(30, 33)))
    assert 12.0 < told.gap < 18.0
