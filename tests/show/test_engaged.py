"""The engaged angle of the pictures, beside a raster that shares no code with it
(tests/tools/engagement.py), and in a straight slot and along a straight wall, where it is known."""

import math
from dataclasses import replace

import numpy as np
import pytest
from engagement import trace

from toolpath.show.engaged import SPARE, engaged_data, engaged_views


def test_the_same_is_found_as_by_the_raster(bounded):
    scene, text = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    met = trace(text, 3.0)
    assert data.level == pytest.approx(-3.0)
    assert data.share_within == pytest.approx(met.share_within(75.0), abs=0.01)
    assert math.degrees(data.angle[data.worst]) == pytest.approx(met.worst, abs=8.0)
    cutting = float(data.length[data.cutting].sum())
    assert cutting == pytest.approx(met.engaged_length, rel=0.05)


def test_a_lower_bound_is_passed_and_marked(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = replace(engaged_data(scene, view), bound=math.radians(30.0))
    assert data.share_within < 0.6
    assert (data.angle[data.over] > math.radians(30.0) + SPARE).all()
    assert not (data.over & data.entry).any()


def test_the_way_in_is_no_part_of_it(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    assert data.entry.any() and not data.cutting[data.entry].any()
    assert np.isfinite(data.angle).all() and (data.length >= 0.0).all()
