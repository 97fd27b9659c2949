import math

import numpy as np
import pytest

from toolpath.blank.clear import deepest_tip, lowest_clear_tip
from toolpath.blank.field import piece_fields
from toolpath.job.model import Clamp, Cylinder, Drift, Pocket, Shape, Side, Sphere


def height_at(field, x, y):
    grid = field.grid
    return float(field.z[int((y - grid.y0) / grid.cell), int((x - grid.x0) / grid.cell)])


def test_over_and_beside_a_cog(job, piece, cutter):
    made = job(pieces=(piece(Cylinder(diameter=20, height=6)),))
    front = lowest_clear_tip(made, Side.FRONT, cutter())
    assert height_at(front, 60, 20) == pytest.approx(-8 + 1.02, abs=1e-5)
    # clear for sure two cells' diagonals beyond radius + cutter + gap, blocked within it
    assert height_at(front, 60 + 10 + 3 + 1.02 + 0.6, 20) == -math.inf
    assert height_at(front, 60 + 10 + 3, 20) >= -8 + 1.0
    back = lowest_clear_tip(made, Side.BACK, cutter())
    assert height_at(back, 60, 20) == pytest.approx(-(42 - 14) + 1.02, abs=1e-5)


def test_ball_over_a_sphere_against_the_exact_gap(job, piece, cutter):
    # tip of a ball R3 at the gap g from a sphere R5 with its middle at -13: the middles are
    # 3 + 5 + g apart. Exact heights may not be over the field's, nor far under it.
    made = job(pieces=(piece(Sphere(diameter=10), drift=Drift(rise=0.5)),))
    field = lowest_clear_tip(made, Side.FRONT, cutter(shape=Shape.BALL))
    for aside in np.linspace(0, 8, 41):
        exact = -12.5 + math.sqrt((8 + 1.02) ** 2 - aside**2) - 3
        found = height_at(field, 60 + aside, 20)
        slope = aside / math.sqrt(9.02**2 - aside**2)
        assert exact - 1e-6 <= found <= exact + 0.03 + 0.45 * slope + 0.1 * slope**3


def test_the_largest_group_rules(job, piece, cutter):
    cog = Cylinder(diameter=20, height=6)
    pieces = (piece(cog), piece(cog, name="glass", clearance=4.0, depth=10.0))
    made = job(pieces=pieces)
    fields = piece_fields(made, Side.FRONT)
    tip = lowest_clear_tip(made, Side.FRONT, cutter(), fields)
    assert height_at(tip, 60, 20) == pytest.approx(-10 + 4.02, abs=1e-5)
    kept = lowest_clear_tip(made, Side.FRONT, cutter(), fields, margin=0.03)
    assert height_at(kept, 60, 20) == pytest.approx(-10 + 4.05, abs=1e-5)


def test_the_nut_is_held_off_a_clamp(job, region, cutter):
    bar = Clamp(name="clamp[1]", face=Side.FRONT, outline=(region(0, 0, 20, 20),), height=18.0)
    made = job(clamps=(bar,))
    tip = lowest_clear_tip(made, Side.FRONT, cutter())
    # 8 beside the clamp: out of the cutter's way, under the nut (radius 11, 45 above the tip)
    assert height_at(tip, 28, 10) == pytest.approx(18 - 45 + 1.02, abs=1e-5)
    assert height_at(tip, 20 + 11 + 1.02 + 0.6, 10) == -math.inf
    longer = lowest_clear_tip(made, Side.FRONT, cutter(reach=70.0))
    assert height_at(longer, 28, 10) == -math.inf


def test_deeper_questions_need_a_deeper_field(job, piece, cutter):
    made = job(pieces=(piece(Cylinder(diameter=20, height=6)),))
    tip = lowest_clear_tip(made, Side.FRONT, cutter(), deepest=-60.0)
    # the nut 45 above the tip over a piece at -8: beside the cutter, within 10 + 11 + 1
    assert height_at(tip, 60 + 18, 20) == pytest.approx(-8 - 45 + 1.02, abs=1e-5)


def test_the_deepest_tip_of_a_job(job, cutter, region):
    # 42 through, 0.5 into the spoilboard, 0.03 planner's margin
    assert deepest_tip(job(), cutter()) == pytest.approx(-42.53)
    assert deepest_tip(job(), cutter(shape=Shape.BALL)) == pytest.approx(-45.53)
    cut = Pocket(
        name="well", face=Side.FRONT, cutter=cutter(), depth=44.0, outline=(region(20, 0, 30, 9),)
    )
    assert deepest_tip(job(cuts=(cut,)), cutter()) == pytest.approx(-44.03)


def test_nothing_stands_there(job, cutter):
    assert (lowest_clear_tip(job(), Side.FRONT, cutter()).z == -np.inf).all()
