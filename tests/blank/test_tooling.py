import math

import numpy as np
import pytest

from toolpath.blank.tooling import profile_of
from toolpath.job.model import Neck, Nut, Shape, Shoe

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
        # 3 - sqrt(2^2 - z^2): a circle of 2 about (3, 0), by 3-4-5 triangles
        (
            {"shape": Shape.ROUND_OVER, "edge_radius": 2.0},
            [0, 1.0, 1.4, 1.8, 3.0],
            [0, 0, 1.2, 1.6, 2],
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


def test_the_whole_tool_is_one_profile(cutter):
    # by hand: ball of 2 to 1 high, flutes to 4, neck of 1.8 hidden behind them, shank of 6 from 15,
    # shoe of 80 that hangs 5 below the nut at 40
    tool = cutter(
        shape=Shape.BALL,
        diameter=2.0,
        flute_length=4.0,
        neck=Neck(diameter=1.8, length=15.0),
        shank=6.0,
        reach=40.0,
    )
    nut = Nut(diameter=22.0, height=18.0, shoe=Shoe(diameter=80.0, drop=5.0))
    profile = profile_of(tool, nut)
    names = [e.part_name for e in profile.elements]
    assert names == ["flutes", "flutes", "neck", "shank", "nut", "shoe"]
    radii = np.array([0.0, 0.6, 1.0, 1.1, 3.0, 3.1, 40.0, 40.1])
    expected = [0, 0.2, 1.0, 15, 15, 35, 35, math.inf]
    assert profile.height(radii).tolist() == pytest.approx(expected)
    assert profile.only("neck").height(np.array([0.9, 1.0])).tolist() == [4.0, math.inf]


def test_a_shoe_may_stand_above_the_nut(cutter):
    nut = Nut(diameter=22.0, height=18.0, shoe=Shoe(diameter=80.0, drop=-30.0))
    found = profile_of(cutter(), nut).height(np.array([11.0, 11.1, 40.0]))
    assert found.tolist() == [45.0, 75.0, 75.0]
