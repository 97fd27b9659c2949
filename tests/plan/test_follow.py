import math

import numpy as np
import pytest
import shapely
from relief_scene import relief, target_of

from toolpath.plan.follow import Band, follow

BAND = Band(floor=-9.0, top=0.0, tolerance=0.002)
WAVES = relief(lambda x, y: 4 + 1.5 * np.sin(x / 2) * np.cos(y / 3))


def test_paths_lie_on_the_lowest_tips_and_close_above():
    target = target_of(WAVES)
    line = np.array([[-9.0, -6.0], [8.0, 3.0], [8.0, 8.0]])
    (paths,) = follow(target, [line], BAND)
    (path,) = paths
    dense = shapely.segmentize(shapely.LineString(path), 0.013)
    places = shapely.get_coordinates(dense, include_z=True)
    over = places[:, 2] - target.found(places[:, :2]).tips
    assert over.min() > -0.001
    assert over.max() < 0.003
    assert len(path) < 80


def test_what_lies_beside_a_wall_is_left_out_unless_asked_for():
    target = target_of(relief(lambda x, y: 5 + 0 * x))
    line = np.array([[-9.9, 0.0], [9.9, 0.0]])
    (short,), (whole,) = follow(target, [line], BAND), follow(target, [line], BAND, walls=True)
    assert short[0][[0, -1], 0] == pytest.approx([-7.0, 7.0], abs=0.02)
    assert whole[0][[0, -1], 0] == pytest.approx([-9.9, 9.9], abs=0.11)


def test_nothing_is_cut_at_the_top():
    target = target_of(relief(lambda x, y: np.maximum(x, 0.0)))
    (paths,) = follow(target, [np.array([[-9.0, 0.0], [6.0, 0.0]])], BAND)
    # the ball rolls over the edge: 0.002 deep where R - sqrt(R^2 - x^2) is
    assert paths[0][0, 0] == pytest.approx(math.sqrt(2 * 3 * 0.002), abs=0.06)
