import numpy as np
import pytest
import shapely
from relief_scene import cutter, relief, target_of

from toolpath.job.model import Shape
from toolpath.plan.relief_lines import contour_lines, ring_lines, wall_lines, waterlines
from toolpath.plan.target import relief_area

AREA = shapely.box(-9, -9, 9, 9)


def steep(x, y):
    return np.clip(8.0 - 2.5 * (np.hypot(x, y) - 4.0), 2.0, 8.0)


def test_once_round_the_foot_of_the_walls():
    cut = relief(lambda x, y: 5 + 0 * x)
    target = target_of(cut)
    (line,) = wall_lines(target, relief_area(cut))
    assert np.abs(line).max(axis=1) == pytest.approx(np.full(len(line), 6.998), abs=1e-6)


def test_waterlines_go_round_what_is_steep_only():
    assert waterlines(target_of(relief(lambda x, y: 5 + 0.5 * x)), AREA, 0.02) == []
    lines = waterlines(target_of(relief(steep)), AREA, 0.02)
    assert len(lines) >= 4
    whole = [line for line in lines if np.allclose(line[0], line[-1])]
    assert whole


def test_rings_and_contours_cover_their_area():
    for make in (ring_lines, contour_lines):
        target = target_of(relief(lambda x, y: 4 + 0.6 * np.sqrt(x**2 + y**2 + 1)))
        lines = make(target, AREA, 0.02, 0.3)
        near = shapely.union_all([shapely.LineString(line) for line in lines]).buffer(0.55)
        inner = shapely.box(-6, -6, 6, 6)
        assert inner.difference(near).area < 0.01 * inner.area


def test_a_flat_end_goes_round_what_is_steep_in_steps_of_a_ridge():
    """Steps of h on a slope a leave ridges of h cos a (elementary geometry), at 60 degrees and
    more; a ball's lie further apart."""
    cusp, found = 0.1, {}
    for shape in (Shape.FLAT, Shape.BALL):
        target = target_of(relief(steep, cutters=[cutter(shape)]))
        lines = waterlines(target, AREA, cusp)
        heights = np.sort([np.median(target.found(line).ground) for line in lines])
        found[shape] = np.diff(heights[(heights > -7.0) & (heights < -3.0)])
    assert found[Shape.FLAT].max() <= cusp / np.cos(np.radians(60.0)) + 0.02
    assert found[Shape.BALL].max() > 2.0 * found[Shape.FLAT].max()
