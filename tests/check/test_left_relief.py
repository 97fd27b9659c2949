"""Where reliefs stand higher over pieces, by hand."""

from dataclasses import replace

import numpy as np
import pytest
from relief_scene import cutter, job_of, relief

from toolpath.check.left import Why
from toolpath.check.left_relief import left_over_pieces, rises
from toolpath.check.replay import judge_program
from toolpath.check.stock import Stock
from toolpath.job.model import Cylinder, IfBlocked, Piece, Shape, Side

FLAT = cutter(Shape.FLAT, 2.0)
RISING = relief(lambda x, y: 4.0 + 0 * x, cutters=[FLAT], if_blocked=IfBlocked.RISE, finish=0.0)
COG = Piece(
    name="cog", solid=Cylinder(diameter=4.0, height=3.0), at=(2.0, 1.0),
    measured_from=Side.FRONT, depth=3.0, clearance=1.0,
)  # fmt: skip


def lines():
    """Rows 1 apart over all of it 4 deep, but 1.5 deep in a square of 6 about the cog."""
    found = []
    for y in np.arange(-9.0, 9.1, 1.0):
        found.append(f"G0 X31 Y{40 + y} Z5\nG1 Z-4")
        if abs(y - 1.0) < 4.0:  # the edge of the cutter keeps out of x -1 to 5 there
            found.append("X38\nZ-1.5\nX46\nZ-4")
        found.append("X49")
    return ["F600", *found, "G0 Z5"]


def spots(kit, cut, *pieces):
    job = job_of(cut, *pieces)
    done = judge_program(
        job, side=Side.FRONT, cutter=FLAT, program=kit.read(*lines()), stock=Stock.fresh(job)
    )
    return left_over_pieces(job, cut, done.stock)


def test_what_stands_over_a_piece_is_a_place_with_its_size(kit):
    (spot,) = spots(kit, RISING, COG)
    # 6 mm each way; at two sides ends of rows 1 apart leave 1 - sqrt(1 - 0.25) = 0.13 between them
    assert spot.area == pytest.approx(6.0 * 6.0, rel=0.04)
    assert spot.height == pytest.approx(2.5, abs=0.01)
    assert spot.at == pytest.approx((2.0, 1.0), abs=0.3)
    assert spot.width == pytest.approx(6.0, abs=0.4)
    assert (spot.why, spot.of, spot.cut) == (Why.PIECE, "cog", "dial")


def test_what_stands_elsewhere_or_over_what_lies_deep_is_none_of_a_piece(kit):
    assert spots(kit, RISING) == ()
    assert spots(kit, RISING, replace(COG, depth=6.0)) == ()
    assert spots(kit, RISING, replace(COG, at=(-6.0, -6.0))) == ()


def test_only_reliefs_that_rise_are_looked_at(kit):
    cut = replace(RISING, if_blocked=IfBlocked.STOP)
    assert not rises(cut)
    assert spots(kit, cut, COG) == ()
