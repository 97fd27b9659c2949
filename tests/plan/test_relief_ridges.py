import numpy as np
import pytest
import shapely
from relief_scene import relief, target_of

from toolpath.plan.relief_left import Left
from toolpath.plan.relief_ridges import Ridges
from toolpath.plan.target import relief_area


def level(x, y):
    return 3.0 + 0 * x


def test_a_gap_between_passes_is_found_and_only_that():
    """Passes 0.6 mm apart of a ball of 3 mm leave 0.015 mm, one left out 0.06 (elementary)."""
    cut = relief(level, cusp=0.02)
    target = target_of(cut)
    ridges = Ridges.of(Left.before(cut, relief_area(cut)), target, shapely.box(-4, -4, 4, 4))
    rows = [y for y in np.arange(-7, 7.1, 0.6) if abs(y - 0.2) > 0.1]
    ridges.after([np.array([[-6.9, y, -3.0], [6.9, y, -3.0]]) for y in rows])
    tips = ridges.tips()
    assert len(tips.xy) and np.abs(tips.xy[:, 1] - 0.2).max() < 0.25
    assert np.ptp(tips.xy[:, 0]) == pytest.approx(8.0, abs=0.5)
    ridges.after([np.array([[-6.9, 0.2, -3.0], [6.9, 0.2, -3.0]])])
    assert len(ridges.tips().xy) == 0
