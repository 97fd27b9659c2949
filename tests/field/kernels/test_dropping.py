import numpy as np
import pytest

from toolpath.field.drop import Dropping, Form


def test_blocks_and_neighbours_change_no_tip():
    """The planes that let blocks pass, and the square touched before, are for speed alone."""
    rng = np.random.default_rng(9)
    dropping = Dropping.on(rng.uniform(-3, 0, (23, 31)), (0.3, 0.25))
    form = Form(flat=0.2, corner=0.5, slope=0.0, radius=0.7)
    places = rng.uniform(-1, [10, 7], (300, 2))
    together = dropping.tips(places, form)
    alone = np.concatenate([dropping.tips(place[None], form) for place in places])
    assert together == pytest.approx(alone, abs=1e-12)
    assert np.isinf(dropping.tips(np.array([[-5.0, 0.0]]), form)).all()
