import math

import numpy as np
import pytest
import shapely
from relief_scene import relief, target_of

from toolpath.job.cusps import level_step
from toolpath.plan.stripes import Laid, parallel_lines

AREA = shapely.box(-8, -8, 8, 8)


def offsets(lines, angle):
    across = np.array([-math.sin(angle), math.cos(angle)])
    return np.unique(np.round([line.mean(axis=0) @ across for line in lines], 6))


@pytest.mark.parametrize("degrees", [0.0, 30.0])
def test_on_a_level_passes_lie_a_step_apart(degrees):
    target, angle = target_of(relief(lambda x, y: 3.0 + 0 * x)), math.radians(degrees)
    lines = parallel_lines(target, AREA, Laid(angle=angle, cusp=0.02))
    step = level_step(target.cutter, 0.02)
    gaps = np.diff(offsets(lines, angle))
    assert gaps.max() <= step + 1e-6
    assert np.median(gaps) == pytest.approx(step)
    length = sum(np.hypot(*(line[1] - line[0])) for line in lines)
    assert length <= 1.1 * AREA.area / step
    assert all(AREA.buffer(1e-9).covers(shapely.LineString(line)) for line in lines)


def test_across_a_slope_they_lie_nearer_and_along_it_not():
    target = target_of(relief(lambda x, y: 6.0 + 0.5 * y))
    step = level_step(target.cutter, 0.02)
    across = np.diff(offsets(parallel_lines(target, AREA, Laid(angle=0.0, cusp=0.02)), 0.0))
    along = np.diff(
        offsets(parallel_lines(target, AREA, Laid(angle=math.pi / 2, cusp=0.02)), math.pi / 2)
    )
    assert np.median(across) == pytest.approx(step / math.hypot(1, 0.5), rel=1e-3)
    assert np.median(along) == pytest.approx(step, rel=1e-3)


def test_only_what_is_steep_gets_passes_between():
    target = target_of(relief(lambda x, y: 6.0 + np.where(x > 4, 1.2 * y * (x - 4) / 4, 0.0)))
    lines = parallel_lines(target, AREA, Laid(angle=0.0, cusp=0.02))
    short = [line for line in lines if abs(line[1, 0] - line[0, 0]) < 15.0]
    assert short
    assert min(min(line[:, 0]) for line in short) > -2.0
