"""Discs along channels, against what shapely says of the same area."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from toolpath.plan.axis import FACING, axes_of

PITCH = 0.05
CHANNELS = {
    "straight": box(0, 0, 20, 2),
    "bent": LineString([(0, 0), (12, 0), (20, 9)]).buffer(1.0, quad_segs=32),
    "tapered": Polygon([(0, -2), (20, -0.5), (20, 0.5), (0, 2)]),
    "waves": LineString([(x, math.sin(x / 2.0)) for x in np.linspace(0, 20, 200)]).buffer(0.8),
}


def axes(area, widest=3.0):
    return list(axes_of(area, (-30.0, -30.0, 50.0, 50.0), PITCH, widest))


@pytest.mark.parametrize("name", CHANNELS)
def test_discs_touch_both_walls_and_lie_in_the_area(name):
    area = CHANNELS[name]
    axis = max(axes(area), key=lambda each: each.along[-1])
    assert axis.along[-1] > 15.0
    assert np.diff(axis.along).max() <= PITCH * 1.01
    radius = np.hypot(*(axis.left - axis.middle).T)
    assert radius == pytest.approx(np.hypot(*(axis.right - axis.middle).T), abs=1e-6)
    # Places along the walls are a pitch apart: a disc may pass between two by less than this.
    over = PITCH**2 / (8.0 * radius) + PITCH * 0.02
    room = shapely.distance(area.boundary, shapely.points(axis.middle))
    assert (np.abs(room - radius) <= over + 0.005).all()
    assert shapely.contains(area, shapely.points(axis.middle)).all()
    step = np.gradient(axis.middle, axis=0)
    for touch, side in ((axis.left, 1.0), (axis.right, -1.0)):
        assert shapely.distance(area.boundary, shapely.points(touch)).max() < 1e-5
        aside = touch - axis.middle
        assert (side * (step[:, 0] * aside[:, 1] - step[:, 1] * aside[:, 0]) > 0.0).all()


def test_the_other_way_left_is_right():
    axis = axes(CHANNELS["tapered"])[0]
    assert np.array_equal(axis.back.left, axis.right[::-1])
    assert np.array_equal(axis.back.middle, axis.middle[::-1])


def test_corners_and_wide_rooms_are_no_channels():
    assert max((each.along[-1] for each in axes(box(0, 0, 30, 30), 2.0)), default=0.0) < 0.2
    assert axes(box(0, 0, 30, 30).buffer(3.0), 2.0) == []


def test_where_a_channel_opens_its_corners_hold_the_discs():
    """Two walls that end at x = 10: the disc through both ends whose middle sees them 120 degrees
    apart lies half their distance over tan 60 degrees beyond (elementary)."""
    room = box(0, -1, 10, 1) | box(10, -15, 40, 15)
    (axis,) = [each for each in axes(room) if each.along[-1] > 5.0]
    if axis.middle[0, 0] > axis.middle[-1, 0]:
        axis = axis.back
    assert axis.middle[-1] == pytest.approx([10.0 + 1.0 / math.tan(FACING / 2.0), 0.0], abs=1e-3)
    assert axis.left[-1] == pytest.approx([10.0, 1.0], abs=1e-6)


def test_fronts_lead_from_the_left_wall_ahead_to_the_right_one():
    (axis,) = [each for each in axes(CHANNELS["straight"]) if each.along[-1] > 5.0]
    if axis.middle[0, 0] > axis.middle[-1, 0]:
        axis = axis.back
    row = len(axis) // 2
    front = axis.front(np.full(41, float(row)), np.linspace(0.0, 1.0, 41))
    x, y = axis.middle[row]
    assert front[[0, 20, 40]] == pytest.approx(np.array([[x, 2], [x + 1, 1], [x, 0]]), abs=PITCH)
    assert np.hypot(*(front - [x, y]).T) == pytest.approx(1.0, abs=1e-3)
    leaning = axis.front(row + np.linspace(0.0, 20.0, 41), np.linspace(0.0, 1.0, 41))
    assert leaning[0, 0] == pytest.approx(x, abs=PITCH)
    assert leaning[-1, 0] == pytest.approx(axis.middle[row + 20, 0], abs=PITCH)
