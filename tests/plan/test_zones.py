import math

import numpy as np
import pytest

from toolpath.plan.zones import area_below, area_near

X = np.linspace(-5, 5, 101)


def test_the_area_below_a_level_is_that_of_the_surface():
    z = np.hypot(X[None, :], X[:, None])
    assert area_below(X, X, z, 3.0).area == pytest.approx(math.pi * 9, rel=2e-3)
    ring = area_below(X, X, np.abs(z - 3.0), 0.5)
    assert ring.area == pytest.approx(math.pi * (3.5**2 - 2.5**2), rel=5e-3)
    assert area_below(X, X, z, -1.0).is_empty


def test_what_is_near_a_node_is_a_disc():
    which = np.zeros((101, 101), dtype=bool)
    assert area_near(X, X, which, 2.0).is_empty
    which[50, 50] = True
    assert area_near(X, X, which, 2.0).area == pytest.approx(math.pi * 4, rel=2e-3)
