from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.drawing.shapes import rect
from toolpath.job.model import Blank, Side, TurnOver, Zero
from toolpath.show.seen import seen_from


def blank(over: TurnOver) -> Blank:
    return Blank(outline=rect(10, 20, 410, 300), thickness=42, turn_over=over)


def test_the_front_is_seen_as_drawn(make_clock):
    job = make_clock(blank=blank(TurnOver.LEFT_RIGHT)).job
    seen = seen_from(job, Side.FRONT)
    assert seen.point(10, 20) == (0.0, 0.0)
    assert seen.point(60, 50) == (50.0, 30.0)
    assert seen.height(-7.5) == -7.5


# The contract's own words: left-right x' = xmax - x, y' = y - ymin; top-bottom x' = x - xmin,
# y' = ymax - y.
@pytest.mark.parametrize(
    ("over", "expected"),
    [(TurnOver.LEFT_RIGHT, (350.0, 30.0)), (TurnOver.TOP_BOTTOM, (50.0, 250.0))],
)
def test_the_back_is_seen_turned_over(make_clock, over, expected):
    seen = seen_from(make_clock(blank=blank(over)).job, Side.BACK)
    assert seen.point(60, 50) == expected
    assert seen.height(-42.0) == 0.0
    assert seen.height(-34.0) == -8.0


@pytest.mark.parametrize(
    ("zero", "low"),
    [
        (Zero.LOWER_LEFT, (0.0, 0.0)),
        (Zero.LOWER_RIGHT, (-400.0, 0.0)),
        (Zero.UPPER_LEFT, (0.0, -280.0)),
        (Zero.UPPER_RIGHT, (-400.0, -280.0)),
        (Zero.CENTRE, (-200.0, -140.0)),
    ],
)
@pytest.mark.parametrize("side", Side)
def test_zero_corners_are_those_of_the_face_as_seen(make_clock, zero, low, side):
    job = make_clock(blank=blank(TurnOver.LEFT_RIGHT), zero={side: zero}).job
    seen = seen_from(job, side)
    assert seen.low == low
    assert seen.size == (400.0, 280.0)
    area = seen.geometry(shapely.box(10, 20, 410, 300))
    assert np.allclose(area.bounds, (*low, low[0] + 400, low[1] + 280))


def test_a_side_without_a_zero_takes_the_lower_left(make_clock):
    job = replace(make_clock().job, zero={})
    assert seen_from(job, Side.BACK).low == (0.0, 0.0)
