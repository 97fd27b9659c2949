"""Floors that rise in a pocket of bounded engagement, measured on the emitted text."""

import math
from dataclasses import replace

import numpy as np
import pytest
from engagement import trace
from shapely.geometry import box

from tests.plan.test_bounded import text_of
from toolpath.drawing.shapes import rect
from toolpath.job.model import Box, Drift, IfBlocked, Piece, Side, Sphere
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.rise import RisingFloor

SOLIDS = {"box": Box(size=(16.0, 14.0, 5.0)), "sphere": Sphere(diameter=18.0)}


def planned(shop, kind, engage, at=(40.0, 6.0)):
    piece = Piece(
        name="cog",
        solid=SOLIDS[kind],
        at=at,
        measured_from=Side.FRONT,
        depth=4.0,
        clearance=1.0,
        turn=0.3,
        drift=Drift(),
    )
    cut = shop.pocket(rect(0, 0, 44, 26), depth=6.0, stepdown=6.0)
    cut = replace(cut, engage=engage, if_blocked=IfBlocked.RISE)
    job = replace(shop.job(cut), pieces=(piece,))
    (part,) = plan_pocket(job, cut)
    return part, job, cut


@pytest.mark.parametrize("kind", SOLIDS)
def test_a_floor_that_rises_at_a_wall_is_opened_from_the_cleared_side(shop, kind):
    part, _, _ = planned(shop, kind, math.radians(70.0))
    met = trace(text_of([part]), part.cutter.radius)
    assert met.share_within(75.0) >= 0.999
    # In the square corners that the last fronts end in the rim meets all of a corner for a moment.
    assert met.length[met.cutting & (met.angle > 85.0)].sum() <= 0.6, met.worst_place()
    assert met.worst <= 105.0, met.worst_place()


def test_no_pass_along_a_wall_meets_the_steps_of_a_slope(shop, monkeypatch):
    monkeypatch.setitem(SOLIDS, "ball", Sphere(diameter=12.0))
    part, _, _ = planned(shop, "ball", math.radians(70.0), at=(20.0, 2.0))
    met = trace(text_of([part]), part.cutter.radius)
    assert met.share_within(75.0) >= 0.999
    assert met.worst <= 85.0, met.worst_place()


@pytest.mark.parametrize("kind", SOLIDS)
def test_over_all_that_binds_it_comes_as_low_as_is_clear(shop, kind):
    part, job, cut = planned(shop, kind, math.radians(70.0))
    rising = RisingFloor.of(job, cut, cut.cutter, box(0, 0, 44, 26), -6.0)
    spots = trace(text_of([part]), part.cutter.radius).spots
    inside = np.array([(x, y) for x in np.arange(30, 41, 0.5) for y in np.arange(3.2, 15, 0.5)])
    lowest = np.maximum(rising.tips.lowest(inside, 0.0), -6.0)
    for place, low in zip(inside, lowest, strict=True):
        near = np.hypot(*(spots[:, :2] - place).T) <= 0.25
        assert near.any() or low == -6.0
        if near.any():
            assert spots[near, 2].min() <= low + 0.6
