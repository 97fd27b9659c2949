import math

import pytest

from toolpath.job.spindle import Cutter, Neck, Nut, Shape, Shoe


def made(**changes):
    base = {
        "name": "flat 6", "shape": Shape.FLAT, "diameter": 6.0, "flutes": 2, "flute_length": 25.0,
        "shank": 6.0, "reach": 40.0, "rpm": 16000.0, "feed": 1200.0, "plunge": 300.0,
        "ramp": math.radians(3.0), "stepdown": 3.0, "stepover": 0.4,
    }  # fmt: skip
    return Cutter(**(base | changes))


@pytest.mark.parametrize(
    ("changes", "high"),
    [
        ({"shape": Shape.FLAT}, 0.0),
        ({"shape": Shape.BALL}, 3.0),
        ({"shape": Shape.BULL, "corner_radius": 1.5}, 1.5),
        # 60 degrees: sqrt(3) high for each mm of width to a side
        ({"shape": Shape.VEE, "angle": math.radians(60), "tip_diameter": 2.0}, 2 * math.sqrt(3)),
        # 118 degrees: 0.3004 of the diameter (handbook figure)
        ({"shape": Shape.DRILL, "angle": math.radians(118)}, 0.3004 * 6),
        ({"shape": Shape.ROUND_OVER, "edge_radius": 2.5}, 2.5),
    ],
)
def test_the_height_of_each_end(changes, high):
    assert made(**changes).point_length == pytest.approx(high, abs=3e-4)


def test_the_shank_begins_above_the_neck():
    assert made().shank_from == 25.0
    assert made(neck=Neck(diameter=5.0, length=30.0)).shank_from == 30.0


def test_the_widest_of_nut_and_shoe():
    assert Nut().widest == 22.0
    assert Nut(shoe=Shoe(diameter=90.0, drop=0.0)).widest == 90.0
