import math

import numpy as np
import pytest

from toolpath.motion.pencil import Gates, fit_through


def gates_on(points, across, reach):
    wide = np.full(len(points), reach)
    apart = np.append(np.hypot(*np.diff(points, axis=0).T), 0.0)
    return Gates(spots=points, across=across, right=wide, left=wide, apart=apart)


def on_circle(radius, angles):
    ring = np.column_stack([np.cos(angles), np.sin(angles)])
    return radius * ring, -ring  # the left of counter-clockwise travel is inward


@pytest.mark.parametrize("sweep", [0.1, 1.0, 2.0, 3.0, math.pi])
@pytest.mark.parametrize("way", [1, -1])
def test_an_arc_through_points_of_a_circle_is_that_circle(sweep, way):
    angles = np.linspace(0.3, 0.3 + way * sweep, 201)
    spots, across = on_circle(5.0, angles)
    gates = gates_on(spots, way * across, 0.001)
    fit = fit_through(gates, (1, 200), spots[:1], spots[-1:])
    assert fit.good[0, 0]
    # The convention of DXF polylines, group code 42: the tangent of a quarter of the angle.
    assert fit.bulge[0, 0] == pytest.approx(way * math.tan(sweep / 4), rel=1e-9)
    assert fit.off[0, 0] == pytest.approx(0.0, abs=1e-9)


def test_of_places_beside_a_circle_only_those_within_reach_are_joined():
    spots, across = on_circle(20.0, np.linspace(0.0, 1.0, 201))
    gates = gates_on(spots, across, 0.01)
    aside = np.array([0.0, 0.009, -0.009, 0.05])
    ends = spots[-1] + aside[:, None] * across[-1]
    fit = fit_through(gates, (1, 200), spots[:1], ends)
    assert fit.good[0].tolist() == [True, True, True, False]


def test_gates_far_apart_are_not_bulged_between():
    spots, across = on_circle(20.0, np.linspace(0.0, 1.0, 21))  # 1 mm: 0.006 between them
    fit = fit_through(gates_on(spots, across, 0.01), (1, 20), spots[:1], spots[-1:])
    assert not fit.good[0, 0]


def test_more_than_a_half_turn_is_no_arc():
    spots, across = on_circle(5.0, np.linspace(0.0, 3.3, 201))
    gates = gates_on(spots, across, 0.001)
    fit = fit_through(gates, (1, 200), spots[:1], spots[-1:])
    assert not fit.good[0, 0]
