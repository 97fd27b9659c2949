import numpy as np
import pytest
from relief_scene import cutter, relief

from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.plan.relief_left import Known, Left, tips_along
from toolpath.plan.target import relief_area


def test_one_pass_leaves_a_round_groove():
    cut = relief(lambda x, y: 3.0 + 0 * x)
    left = Left.before(cut, relief_area(cut))
    assert left.over.max() == pytest.approx(3.0)
    move = Move(kind=Kind.LINE, start=(-9.0, 0.0, -3.0), end=(9.0, 0.0, -3.0), feed=1000.0)
    left.after(MoveTable.of([move]), cutter())
    y = left.places[:, 1].reshape(left.over.shape)
    inner = np.abs(left.places[:, 0].reshape(y.shape)) < 8
    groove = 3.0 - np.sqrt(np.maximum(9.0 - y**2, 0.0))
    near = inner & (np.abs(y) < 2.5)
    assert np.abs(left.over - groove)[near].max() < 0.002
    assert left.standing()[inner & (np.abs(y) > 1) & (np.abs(y) < 9.8)].all()
    assert not left.standing()[inner & (np.abs(y) < 0.3)].any()
    assert left.area_of(left.standing(), 0.1).bounds[1] == pytest.approx(-10.2, abs=0.3)


def test_tips_follow_arcs_and_leave_out_rapids():
    arc = Move(
        kind=Kind.ARC, start=(5.0, 0.0, 0.0), end=(-5.0, 0.0, -1.0), centre=(0.0, 0.0),
        sweep=np.pi, feed=1.0,
    )  # fmt: skip
    rapid = Move(kind=Kind.RAPID, start=(-5.0, 0.0, -1.0), end=(-5.0, 0.0, 5.0))
    tips = tips_along(MoveTable.of([arc, rapid]), 0.1)
    assert np.hypot(*tips[:, :2].T) == pytest.approx(np.full(len(tips), 5.0))
    assert np.hypot(*np.diff(tips[:, :2], axis=0).T).max() <= 0.1
    assert tips[:, 2].min() == -1.0
    assert tips_along(MoveTable.of([rapid]), 0.1).shape == (0, 3)


def test_what_is_known_of_a_relief_follows_the_moves():
    cut = relief(lambda x, y: 3.0 + 0 * x)
    gone = Known(0.0, Left.before(cut, relief_area(cut)))
    assert gone.touched((0.0, 0.0), cutter()) == pytest.approx(0.0, abs=0.01)
    move = Move(kind=Kind.LINE, start=(-9.0, 0.0, -3.0), end=(9.0, 0.0, -3.0), feed=1000.0)
    gone.took([move], cutter())
    # a ball of half the radius comes to the bottom of that groove, and on its edge to the face
    assert gone.touched((0.0, 0.0), cutter(diameter=3.0)) == pytest.approx(-3.0, abs=0.02)
    assert gone.touched((0.0, 3.0), cutter(diameter=3.0)) == pytest.approx(0.0, abs=0.01)
    assert gone.air((0.0, 0.0), 1.0, 0.0)
    assert not gone.air((0.0, 0.0), 1.0, -1.0)
