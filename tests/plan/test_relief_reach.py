import re

import numpy as np
import pytest
from relief_scene import cutter, relief, target_of

from toolpath.plan.relief_left import Left
from toolpath.plan.relief_reach import reach, split, thick, uncut
from toolpath.plan.target import relief_area
from toolpath.units import Unit


def grooved(x, y):
    return np.where(np.abs(x) < 1.0, 2.5, 0.5) + 0 * y


@pytest.fixture
def scene():
    """A groove of 2 mm in a floor 0.5 mm deep, cut as well as a ball of 6 mm can."""
    cut = relief(grooved, step=0.05)
    left, target = Left.before(cut, relief_area(cut)), target_of(cut)
    left.nodes.z[:] = reach(left, target, left.standing())
    return left, target


def test_a_ball_reaches_into_a_groove_as_elementary_geometry_says(scene):
    left, _ = scene
    x, y = (axis.reshape(left.nodes.z.shape) for axis in left.places.T)
    middle = left.nodes.z[(np.abs(x) < 0.05) & (np.abs(y) < 5)]
    assert middle == pytest.approx(-0.5 - (3 - np.sqrt(8)), abs=0.02)  # a node is off


def test_what_no_cutter_gets_into_is_told_with_cutter_height_width_and_mend(scene):
    left, target = scene
    area, (words,) = uncut(left, target, Unit.MM)
    assert area == 0.0
    assert "of ball 6 " in words
    assert "a smaller cutter" in words
    told = float(re.match(r"([\d.]+) mm²", words)[1])
    # the groove is 40 mm², and over the rim of a wall 0.5 mm high the ball stands sqrt(9 - 2.5^2) =
    # 1.66 mm from it, the last 0.5 mm of which it leaves by less than ridges and their slack
    assert told == pytest.approx(40.0 + 80.0 * 1.16 - 4 * 1.16 - 4 * 1.16**2, rel=0.1)
    high, wide = (float(v) for v in re.findall(r"([\d.]+) mm(?: at| across)", words))
    assert 2.4 < high <= 2.5
    assert wide == pytest.approx(2.0, abs=0.4)


def test_what_a_cutter_could_take_is_uncut(scene):
    left, target = scene
    left.nodes.z[:] += 0.5
    standing, _ = split(left, target)
    assert standing.mean() > 0.9
    assert uncut(left, target, Unit.MM)[0] > 300.0


def test_only_what_is_over_the_stepdown_is_thick(scene):
    left, target = scene
    assert thick(left, target, cutter()).is_empty
    left.nodes.z[:] = 0.0
    left.nodes.z[left.places[:, 0].reshape(left.nodes.z.shape) > 0.0] = -0.5
    small = cutter(diameter=1.0)  # its stepdown is 2
    deep = thick(left, target_of(relief(grooved, step=0.05, cutters=[small])), small)
    assert deep.area == pytest.approx(1.0 * 20, rel=0.25)
    assert deep.bounds[2] < 0.2
