"""Planes by least squares against points on a plane; heights of triangles by their corners."""

import numpy as np
import pytest

from toolpath.blank.uneven import Plane, heights_at
from toolpath.job.model import Surface

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


def test_heights_are_those_measured_and_linear_between_them():
    rng = np.random.default_rng(3)
    found = Surface(places=tuple(NINE), heights=tuple(rng.normal(-1.0, 0.3, 9)))
    assert heights_at(found, np.array(NINE)) == pytest.approx(found.heights)
    # along the edge of the hull only the two places beside it count
    middle = heights_at(found, np.array([(50.0, 0.0)]))[0]
    assert middle == pytest.approx((found.heights[0] + found.heights[3]) / 2.0)


def test_outside_the_places_it_is_the_plane():
    found = surface(lambda x, y: 0.3 - 0.002 * x + 0.001 * y)
    assert heights_at(found, np.array([(300.0, -50.0)])) == pytest.approx([0.3 - 0.6 - 0.05])
