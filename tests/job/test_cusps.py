import math

import numpy as np
import pytest

from toolpath.job.cusps import level_step, plan_step
from toolpath.job.model import Cutter, Shape


def cutter(shape, diameter, **other):
    return Cutter(
        name="c", shape=shape, diameter=diameter, flutes=2, flute_length=20.0, shank=diameter,
        reach=40.0, rpm=16000.0, feed=1200.0, plunge=300.0, ramp=0.05, stepdown=3.0, stepover=0.4,
        **other,
    )  # fmt: skip


@pytest.mark.parametrize(("radius", "step"), [(3.0, 0.5), (1.5, 0.3), (3.0, 1.0), (6.0, 1.2)])
def test_a_ball_leaves_the_ridge_that_was_asked_for(radius, step):
    # elementary geometry: h = R - sqrt(R^2 - (s / 2)^2)
    cusp = radius - math.sqrt(radius**2 - (step / 2) ** 2)
    ball = cutter(Shape.BALL, 2 * radius)
    assert level_step(ball, cusp) == pytest.approx(step)
    slope = np.tan(np.radians([0.0, 30.0, 60.0]))
    assert plan_step(ball, cusp, slope) == pytest.approx(step * np.array([1, math.sqrt(0.75), 0.5]))


def test_flat_vee_and_bull():
    flat = cutter(Shape.FLAT, 6.0)
    assert level_step(flat, 0.02) == pytest.approx(2.4)  # its stepover
    # steps of s sin(slope)
    assert plan_step(flat, 0.02, np.array([1.0]))[0] == pytest.approx(0.02 * math.sqrt(2))
    vee = cutter(Shape.VEE, 6.0, angle=math.radians(90), tip_diameter=0.2)
    assert level_step(vee, 0.02) == pytest.approx(0.24)
    bull = cutter(Shape.BULL, 6.0, corner_radius=1.0)
    across = 2 * math.sqrt(0.02 * 1.98)
    assert plan_step(bull, 0.02, np.array([1.0]))[0] == pytest.approx(across / math.sqrt(2))
