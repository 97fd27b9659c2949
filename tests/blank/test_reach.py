import math

import numpy as np
import pytest

from toolpath.blank.reach import Reach, Standing
from toolpath.blank.tooling import profile_of
from toolpath.job.model import Cylinder, Nut, Side


@pytest.fixture
def reach(cutter):
    return Reach(profile=profile_of(cutter(), Nut()), gap=1.0)


def test_a_flat_cutter_grown_by_hand(reach):
    # radius 3 grown by 1: bottom at -1 out to 3, a quarter round to 4, then nothing up to the nut
    # at 45, whose edge of 11 is grown to 12
    r = np.array([0.0, 3.0, 3.6, 4.0, 4.1, 12.1])
    assert reach.height(r) == pytest.approx([-1, -1, -0.8, 0, 44, math.inf])


def test_the_radius_is_where_the_height_is_met(reach):
    assert reach.radius(-1.1) == -1.0
    assert reach.radius(-0.8) == pytest.approx(3.6)
    assert reach.radius(10.0) == pytest.approx(4.0)
    assert reach.radius(44.5) == pytest.approx(11 + math.sqrt(0.75))


def test_what_stands_deep_binds_nothing(reach, piece):
    cog = piece(Cylinder(diameter=8, height=6))
    plain = {"piece": cog, "side": Side.FRONT, "reach": reach, "deepest": -10.0}
    assert Standing(top=-8.0, **plain).wide == pytest.approx(4.0)
    assert Standing(top=-11.5, **plain).wide == -1.0
