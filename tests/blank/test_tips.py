import math

import numpy as np
import pytest
import shapely

from toolpath.blank.frames import Frame
from toolpath.blank.tips import Tips
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.job.model import Box, Cylinder, Drift, Rule, Shape, Side, Sphere

WITHIN = shapely.box(42, 2, 78, 38)
NEAR = [(0.08 * math.cos(a), 0.08 * math.sin(a), -0.05) for a in np.arange(8) * math.pi / 4]
FORMS = {
    "flat": {},
    "ball": {"shape": Shape.BALL},
    "vee": {"shape": Shape.VEE, "angle": 1.0},
}


def solids(pebble, angle_iron, driftwood):
    return {
        "box": Box(size=(12, 7, 5)),
        "cylinder": Cylinder(diameter=11, height=4),
        "sphere": Sphere(diameter=10),
        "prism": angle_iron,
        "mesh": pebble(),
        "heights": driftwood,
    }


def breaks(made, side, tool, tips):
    """Which tips (n, 3) of the page frame the exact check finds too near."""
    frame = Frame.of(made, side)
    placed = np.column_stack([frame.xy_to_program(tips[:, :2]), tips[:, 2]])
    return Obstacles.of(made, side).blocked(placed, tool)


@pytest.mark.parametrize(
    ("side", "form", "drift"),
    [
        (Side.FRONT, "flat", Drift()),
        (Side.BACK, "flat", Drift(side=0.4, rise=0.2, turn=0.1)),
        (Side.FRONT, "ball", Drift(side=0.4, rise=0.2, turn=0.1)),
        (Side.BACK, "vee", Drift()),
    ],
)
@pytest.mark.parametrize("kind", ["box", "cylinder", "sphere", "prism", "mesh", "heights"])
def test_tips_are_clear_by_the_exact_check_and_hardly_higher(
    job, piece, cutter, pebble, angle_iron, driftwood, kind, form, drift, side
):
    solid = solids(pebble, angle_iron, driftwood)[kind]
    cog = piece(solid, turn=0.7, drift=drift, measured_from=side)
    made, tool = job(pieces=(cog,)), cutter(**FORMS[form])
    tips = Tips.of(made, side, tool, margin=0.0, within=WITHIN)
    xy = np.random.default_rng(1).uniform([42, 2], [78, 38], (120, 2))
    z = tips.lowest(xy, 0.0)
    some = z > -25.0
    assert some.sum() >= 15
    at = np.column_stack([xy, z])[some]
    exact = tool_of(tool, made.machine.nut)
    assert not breaks(made, side, exact, at + np.array([0, 0, 1e-6])).any()
    # one of a few places within 0.1 mm in space is too near
    nearer = np.array([breaks(made, side, exact, at + off) for off in [(0, 0, -0.1), *NEAR]])
    assert nearer.any(axis=0).all()


def test_slack_is_the_worst_within_a_disc(job, piece, cutter, pebble):
    pieces = (piece(pebble()), piece(Sphere(diameter=8), name="marble", at=(72.0, 30.0)))
    tips = Tips.of(job(pieces=pieces), Side.FRONT, cutter(), margin=0.03, within=WITHIN)
    rng = np.random.default_rng(5)
    xy = rng.uniform([42, 2], [78, 38], (150, 2))
    bound = tips.lowest(xy, 0.5)
    for _ in range(20):
        way, far = rng.uniform(0, 2 * math.pi, 150), 0.5 * np.sqrt(rng.random(150))
        beside = xy + np.column_stack([far * np.cos(way), far * np.sin(way)])
        # both are upper bounds: of the truth there the nearer one is at most 0.08 too high in plan
        assert (tips.lowest(beside, 0.0) <= tips.lowest(xy, 0.6) + 1e-9).all()
        assert (tips.lowest(xy, 0.0) <= bound).all()


def test_level_tops_by_hand(job, piece, cutter):
    made = job(pieces=(piece(Cylinder(diameter=10, height=4)),))
    tips = Tips.of(made, Side.FRONT, cutter(), margin=0.0, within=WITHIN)
    # top -8, gap 1 + 0.02: 9.02 from the axis nothing binds, above the disc 1.02 over the top,
    # 8.6 from it 0.6 of the rounding: sqrt(1.02^2 - 0.6^2)
    xy = np.array([[60.0, 20.0], [68.0, 20.0], [60.0, 28.6], [69.03, 20.0]])
    found = tips.lowest(xy, 0.0)
    # the disc is a polygon, up to 0.006 larger
    assert found[:3] == pytest.approx([-6.98, -6.98, -8 + math.sqrt(1.02**2 - 0.36)], abs=0.006)
    assert found[3] < -50
    assert tips.blocked(-7.0).area == pytest.approx(math.pi * 8.2**2, rel=0.01)
    assert tips.blocked(-20.0).area == pytest.approx(math.pi * 9.02**2, rel=0.002)
    assert tips.blocked(-6.97).is_empty


@pytest.mark.parametrize("form", ["flat", "ball"])
def test_what_is_not_blocked_is_clear_and_what_is_blocked_nearly_is_not(
    job, piece, cutter, pebble, form
):
    cog = piece(pebble(), drift=Drift(side=0.2))
    other = piece(Sphere(diameter=9), name="marble", at=(70.0, 32.0))
    made, tool = job(pieces=(cog, other)), cutter(**FORMS[form])
    tips = Tips.of(made, Side.FRONT, tool, margin=0.0, within=WITHIN)
    exact = tool_of(tool, made.machine.nut)
    for z in (-8.5, -12.0):
        area = tips.blocked(z)
        for shift, expected in ((1e-6, False), (-0.12, True)):
            # a polygon may cut off a corner by what the tips themselves err
            rim = shapely.get_coordinates(shapely.segmentize(area.buffer(shift).boundary, 0.6))
            inner = WITHIN.buffer(-0.2).contains(shapely.points(rim))
            at = np.column_stack([rim[inner], np.full(inner.sum(), z)])
            assert (breaks(made, Side.FRONT, exact, at) == expected).all(), (z, shift)


def test_only_kept_pieces_that_can_bind_there(job, piece, cutter):
    ball = Sphere(diameter=10)
    pieces = (
        piece(ball),
        piece(ball, name="offcut", at=(50.0, 10.0), rule=Rule.MAY_CUT),
        piece(ball, name="far", at=(100.0, 50.0)),
    )
    tips = Tips.of(job(pieces=pieces), Side.FRONT, cutter(), margin=0.03, within=WITHIN)
    assert tips.names == ("cog",)
    assert tips.binding(-10.0) == ("cog",)
    assert tips.binding(-6.0) == ()
    none = Tips.of(job(), Side.FRONT, cutter(), margin=0.0, within=WITHIN)
    assert none.blocked(-30.0).is_empty
    assert np.isinf(none.lowest(np.array([[60.0, 20.0]]), 0.0)).all()
