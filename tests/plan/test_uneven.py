"""Planes by least squares against points on a plane; volumes and areas by elementary geometry."""

import numpy as np
import pytest
import shapely

from toolpath.job.model import Surface
from toolpath.plan.uneven import Plane, stays_uncut

BLANK = shapely.box(0, 0, 200, 100)
NINE = [(x, y) for x in (0.0, 100.0, 200.0) for y in (0.0, 50.0, 100.0)]


def surface(height):
    return Surface(places=tuple(NINE), heights=tuple(height(x, y) for x, y in NINE))


def test_the_plane_of_a_tilted_face():
    plane = Plane.through(surface(lambda x, y: 0.3 - 0.002 * x + 0.001 * y))
    assert plane.at_origin == pytest.approx(0.3)
    assert plane.slope == pytest.approx((-0.002, 0.001))


def test_the_plane_is_that_of_numpys_polynomial_fit():
    rng = np.random.default_rng(7)
    heights = rng.normal(0.0, 0.2, 9)
    found = Plane.through(Surface(places=tuple(NINE), heights=tuple(heights)))
    # For a symmetric lattice the slope along x is that of the fit in x alone (normal equations).
    slope = np.polynomial.polynomial.polyfit([x for x, _ in NINE], heights, 1)[1]
    assert found.slope[0] == pytest.approx(slope)


@pytest.mark.parametrize(("depth", "share"), [(0.5, 0.5), (0.25, 0.75), (1.2, 0.0)])
def test_what_lies_lower_than_the_new_face_stays(depth, share):
    # The face falls by 1 mm along x: at depth d it lies lower beyond 200 d.
    tilted = surface(lambda x, y: -x / 200.0)
    area, deepest = stays_uncut(tilted, Plane.through(tilted), BLANK, depth)
    assert area == pytest.approx(share * 200 * 100, abs=200)
    assert deepest == pytest.approx(max(0.0, 1.0 - depth), abs=0.01)


def test_a_hollow_middle_stays():
    # Flat triangles down to 0.8 in the middle: a pyramid over the diamond of the next places at
    # least (half the blank), over all of it at most. Half as deep it is a quarter as large.
    hollow = surface(lambda x, y: -0.8 if (x, y) == (100.0, 50.0) else 0.0)
    area, deepest = stays_uncut(hollow, Plane.through(hollow), BLANK, 0.4)
    assert 0.95 * 10000 / 4 < area < 1.05 * 20000 / 4
    assert deepest == pytest.approx(0.4, abs=0.02)
