import numpy as np
import pytest
from relief_scene import cutter, relief, target_of

from toolpath.blank.tooling import profile_of
from toolpath.job.model import Cylinder, Hardness, IfBlocked, Nut, Piece, Shape, Side
from toolpath.plan.target import form_of, rise


@pytest.mark.parametrize(
    "made",
    [
        cutter(),
        cutter(Shape.FLAT),
        cutter(Shape.BULL, corner_radius=1.0),
        cutter(Shape.VEE, angle=1.0, tip_diameter=0.4),
    ],
    ids=lambda c: c.name,
)
def test_the_form_is_that_of_the_turning_cutter(made):
    radii = np.linspace(0.0, 2.999, 50)
    flutes = profile_of(made, Nut()).only("flutes")
    assert rise(form_of(made), radii) == pytest.approx(flutes.height(radii), abs=1e-12)


def test_walls_bind_as_far_as_the_cutter_is_wide():
    target = target_of(relief(lambda x, y: 5.0 + 0 * x))
    found = target.found(np.array([[0.0, 0.0], [-6.9, 0.0], [-8.0, 0.0]]))
    assert found.tips[:2] == pytest.approx([-5.0, -5.0])
    # 2 mm from a wall that stands up to the face: R - sqrt(R^2 - d^2) under its edge
    assert found.tips[2] == pytest.approx(-(3.0 - np.sqrt(5.0)))


def test_a_piece_binds_where_the_floor_may_rise():
    piece = Piece(
        name="cog", solid=Cylinder(diameter=6, height=3), at=(0.0, 0.0), measured_from=Side.FRONT,
        depth=4.0, clearance=1.0, hardness=Hardness.METAL,
    )  # fmt: skip
    depth = lambda x, y: 5.0 + 0 * x  # noqa: E731
    stop = target_of(relief(depth), piece).found(np.zeros((1, 2)))
    assert stop.tips == pytest.approx([-5.0])
    rising = target_of(relief(depth, if_blocked=IfBlocked.RISE), piece).found(np.zeros((1, 2)))
    assert rising.tips == pytest.approx([-4.0 + 1.0 + 0.02 + 0.03])  # need, path error, margin
