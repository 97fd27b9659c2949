import math

import numpy as np
import pytest

from toolpath.blank.tooling import profile_of
from toolpath.job.model import Nut, Shape

NUT = Nut(diameter=22.0, height=18.0)


def heights(cutter, radii, clearance=0.0):
    return profile_of(cutter, NUT).height(np.array(radii), clearance)


def test_flat_with_a_thicker_shank(cutter):
    tool = cutter(diameter=3.0, flute_length=12.0, shank=6.0, reach=30.0)
    assert heights(tool, [0, 1.5, 1.6, 3.0, 3.1, 11.0]).tolist() == [0, 0, 12, 12, 30, 30]
    assert heights(tool, [11.1]).tolist() == [math.inf]


def test_a_thinner_shank_stands_behind_the_flutes(cutter):
    tool = cutter(shape=Shape.FLAT, diameter=12.0, shank=6.0)
    assert heights(tool, [3.0, 6.0, 6.1]).tolist() == [0, 0, 45]


@pytest.mark.parametrize(
    ("changes", "radii", "expected"),
    [
        ({"shape": Shape.BALL}, [0, 1.8, 3.0], [0, 3 - 2.4, 3]),
        ({"shape": Shape.BULL, "corner_radius": 1.0}, [2.0, 2.6, 3.0], [0, 0.2, 1]),
        ({"shape": Shape.VEE, "angle": math.radians(90)}, [0, 1.5, 3.0], [0, 1.5, 3]),
        (
            {"shape": Shape.VEE, "angle": math.radians(60), "tip_diameter": 1.0},
            [0.5, 1.5, 3.0],
            [0, math.sqrt(3), 2.5 * math.sqrt(3)],
        ),
        # a 118 degree drill point is d/2 / tan 59 degrees high (0.3004 d, handbook figure)
        ({"shape": Shape.DRILL, "angle": math.radians(118)}, [0, 3.0], [0, 0.3004 * 6]),
    ],
)
def test_points_by_their_formulas(cutter, changes, radii, expected):
    assert heights(cutter(**changes), radii) == pytest.approx(expected, abs=2e-4)


def test_parts_by_name(cutter):
    profile = profile_of(cutter(), NUT)
    assert [e.part_name for e in profile.elements] == ["flutes", "shank", "nut"]
    no_shank = profile_of(cutter(flute_length=45.0), NUT)
    assert [e.part_name for e in no_shank.elements] == ["flutes", "nut"]
    assert profile.only("nut").height(np.array([0.0])) == [45.0]


def test_a_vee_longer_than_its_flutes_keeps_its_cone(cutter):
    tool = cutter(shape=Shape.VEE, angle=math.radians(30), flute_length=4.0)
    # the shank of 6 begins at 4, before the cone has its full width
    assert heights(tool, [1.0, 3.0]) == pytest.approx([1 / math.tan(math.radians(15)), 4.0])
