import math

import numpy as np
import pytest

from toolpath.plan.curves import curve_of, curves_of, total_length

ANGLES = np.linspace(0, 2 * np.pi, 361)
ROUND = 20 * np.column_stack([np.cos(ANGLES), np.sin(ANGLES)])


def test_a_closed_line_becomes_an_open_curve_with_its_length():
    curves = curves_of(ROUND, 0.002)
    assert len(curves) == 1
    assert not curves[0].closed
    assert total_length(curves) == pytest.approx(2 * math.pi * 20, abs=0.01)
    assert len(curves[0].edges) < 5


def test_ends_are_kept_exactly():
    (curve,) = curves_of(ROUND[:100], 0.002)
    assert curve.edges[0, :2].tolist() == ROUND[0].tolist()
    assert curve.edges[-1, :2].tolist() == ROUND[99].tolist()


def test_a_line_without_length_gives_nothing():
    assert curves_of(np.array([[1.0, 2.0], [1.0, 2.0]]), 0.001) == ()


def test_two_half_circles_measure_a_circle():
    edges = np.array([[5.0, 0.0, 1.0], [-5.0, 0.0, 1.0]])
    assert curve_of(edges, closed=True).length == pytest.approx(10 * math.pi)
