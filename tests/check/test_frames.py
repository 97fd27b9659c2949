import math
from itertools import product

import numpy as np
import pytest

from toolpath.blank.frames import Frame as PlannersFrame
from toolpath.check.frames import bounding_box, frame_of
from toolpath.drawing.outline import Loop
from toolpath.job.model import Side, TurnOver, Zero


@pytest.mark.parametrize(
    ("side", "turn_over", "zero", "expected"),
    [
        # Blank from (10, 20) to (130, 100), 40 thick; the point (30, 25, -5), worked by hand
        # from "left-right: x' = xmax - x, y' = y - ymin; top-bottom: x' = x - xmin, y' = ymax - y".
        (Side.FRONT, TurnOver.LEFT_RIGHT, Zero.LOWER_LEFT, (20, 5, -5)),
        (Side.FRONT, TurnOver.LEFT_RIGHT, Zero.UPPER_RIGHT, (-100, -75, -5)),
        (Side.FRONT, TurnOver.TOP_BOTTOM, Zero.CENTRE, (-40, -35, -5)),
        (Side.BACK, TurnOver.LEFT_RIGHT, Zero.LOWER_LEFT, (100, 5, -35)),
        (Side.BACK, TurnOver.LEFT_RIGHT, Zero.LOWER_RIGHT, (-20, 5, -35)),
        (Side.BACK, TurnOver.TOP_BOTTOM, Zero.LOWER_LEFT, (20, 75, -35)),
        (Side.BACK, TurnOver.TOP_BOTTOM, Zero.UPPER_LEFT, (20, -5, -35)),
        (Side.BACK, TurnOver.TOP_BOTTOM, Zero.CENTRE, (-40, 35, -35)),
    ],
)
def test_a_point_worked_by_hand(kit, side, turn_over, zero, expected):
    frame = frame_of(kit.job(turn_over=turn_over, zero=zero), side)
    point = np.array([30.0, 25.0, -5.0])
    np.testing.assert_allclose(frame.to_program(point), expected, atol=1e-12)
    np.testing.assert_allclose(frame.to_blank(frame.to_program(point)), point, atol=1e-12)


@pytest.mark.parametrize(("side", "turn_over", "zero"), list(product(Side, TurnOver, Zero)))
def test_the_planners_frame_agrees(kit, side, turn_over, zero):
    outline = kit.circle(33.0, -7.0, 50.0)
    job = kit.job(turn_over=turn_over, zero=zero, outline=outline)
    theirs, ours = PlannersFrame.of(job, side), frame_of(job, side)
    for x, y in [(0.0, 0.0), (70.0, -20.0), (-5.5, 31.0)]:
        scaled = [s * v + t for s, v, t in zip(theirs.scale, (x, y), theirs.shift, strict=True)]
        np.testing.assert_allclose(ours.to_program(np.array([x, y, 0.0]))[:2], scaled, atol=1e-9)


def test_turning_over_is_a_rotation_of_the_solid(kit):
    for side, turn_over in product(Side, TurnOver):
        sign = frame_of(kit.job(turn_over=turn_over), side).sign
        assert np.prod(sign) == 1.0


def test_the_box_of_arcs_is_exact():
    # A quarter circle of radius 10 about (0, 0) from (10, 0) over 45 degrees past the top:
    # bulge of 135 degrees is tan(135 / 4).
    end = (10 * math.cos(math.radians(135)), 10 * math.sin(math.radians(135)))
    loop = Loop(points=np.array([[10.0, 0.0, math.tan(math.radians(135 / 4))], [*end, 0.0]]))
    assert bounding_box(loop) == pytest.approx((end[0], 0.0, 10.0, 10.0), abs=1e-12)
    assert bounding_box(loop.reversed()) == pytest.approx((end[0], 0.0, 10.0, 10.0), abs=1e-12)
