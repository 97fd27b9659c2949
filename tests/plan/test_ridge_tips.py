"""The tip that takes a place down, against elementary geometry."""

from dataclasses import replace

import numpy as np
import pytest
from relief_scene import cutter, relief, target_of

from toolpath.job.model import Shape
from toolpath.plan.ridge_tips import Tall, tips_for


def tall_at(xy, slope, depth):
    xy = np.asarray(xy, dtype=float)
    n = len(xy)
    ground = -depth(xy[:, 0], xy[:, 1])
    return Tall(
        row=np.arange(n), column=np.arange(n), xy=xy, z=ground + 0.5, ground=ground,
        slope=np.full(n, abs(slope)), up=np.tile([-slope, 0.0], (n, 1)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("shape", "off"), [(Shape.BALL, 3 * 0.5 / np.hypot(1, 0.5)), (Shape.FLAT, 3)]
)
def test_a_slope_is_touched_from_beside(shape, off):
    """A ball of radius R touches a slope at R sin a from its axis, a flat end at its rim."""
    depth = lambda x, y: 6 + 0.5 * x  # noqa: E731
    target = target_of(relief(depth, cutters=[cutter(shape)]))
    found = tips_for(tall_at([[0.0, 0.0], [1.0, 2.0]], 0.5, depth), target, 0.02)
    order = np.argsort(found.over[:, 0])
    assert found.over[order] == pytest.approx(np.array([[0.0, 0.0], [1.0, 2.0]]))
    # the ground rises towards -x, so the axis stands on the other side
    assert found.xy[order] == pytest.approx(np.array([[off, 0.0], [1.0 + off, 2.0]]), abs=1e-6)


def test_what_the_cutter_cannot_reach_is_not_asked_for():
    depth = lambda x, y: np.where(np.abs(x) < 0.5, 6.0, 3.0)  # noqa: E731
    target = target_of(relief(depth))
    narrow = replace(tall_at([[0.0, 0.0]], 0.0, lambda x, y: 6.0 + 0 * x), z=np.array([-3.05]))
    # a ball of radius 3 sinks into a slot 1.2 mm wide by 3 - sqrt(9 - 0.36) = 0.06 mm only
    assert len(tips_for(narrow, target, 0.02).xy) == 0


def test_at_the_foot_of_a_wall_the_rim_of_a_flat_end_is_brought_to_it():
    depth = lambda x, y: np.where(x < -0.1, 6.0, 3.0)  # noqa: E731
    target = target_of(relief(depth, cutters=[cutter(Shape.FLAT)]))
    # in samples 0.2 mm apart the wall begins at -0.2: there is room for the axis, of a cutter of
    # radius 3, from -3.225 to -3.2 only
    foot = np.array([[-0.225, 0.4], [-0.225, 1.13]])
    tall = replace(tall_at(foot, 0.0, depth), z=np.full(2, -3.0))
    found = tips_for(tall, target, 0.02)
    assert len(found.xy) == 2
    assert (found.xy[:, 0] <= -3.2 + 1e-6).all()
    assert (np.hypot(*(found.xy - found.over).T) <= 3.0).all()
