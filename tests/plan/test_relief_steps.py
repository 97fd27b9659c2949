import numpy as np
import pytest
from relief_scene import cutter, relief

from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_steps import stepped
from toolpath.plan.target import relief_area

FLOOR = -5.0
BALL = cutter(diameter=3.0)  # its stepdown is 2


@pytest.fixture
def left():
    """A square of 20 mm, cut to the floor but for x from -1 to 1."""
    cut = relief(lambda x, y: -FLOOR + 0 * x)
    found = Left.before(cut, relief_area(cut))
    found.nodes.z[np.abs(found.places[:, 0]).reshape(found.nodes.z.shape) > 1.0] = FLOOR
    return found


def paths_over(left, first, last):
    path = np.array([[*first, FLOOR], [*last, FLOOR]])
    deep = left.deeper(BALL.stepdown + 0.05)
    return stepped(path, left, BALL, deep)


def test_what_stands_too_high_on_a_path_is_gone_over_first(left):
    high, low = paths_over(left, (-9.0, 0.0), (9.0, 0.0))
    # 5 mm stand there: 2 off, 2 more, and 1 for the path itself
    assert high[:, 2] == pytest.approx(-2.0, abs=0.002)
    assert low[:, 2] == pytest.approx(-4.0, abs=0.002)
    for each in (high, low):
        assert each[0, 0] <= -1.0 - BALL.radius
        assert each[-1, 0] >= 1.0 + BALL.radius
        assert np.ptp(each[:, 0]) < 13.0
        assert each[:, 1] == pytest.approx(0.0)


def test_where_it_was_taken_before_or_is_out_of_the_way_there_is_none(left):
    assert paths_over(left, (4.0, -9.0), (4.0, 9.0)) == []
    move = Move(kind=Kind.LINE, start=(-9.0, 0.0, -3.5), end=(9.0, 0.0, -3.5), feed=1000.0)
    left.after(MoveTable.of([move]), BALL)
    assert paths_over(left, (-9.0, 0.0), (9.0, 0.0)) == []
    left.nodes.z[:] = FLOOR
    assert left.deeper(BALL.stepdown) is None


def test_a_sliver_is_taken_at_once(left):
    # 0.2 mm of the whole height beside the rim
    assert paths_over(left, (2.3, -9.0), (2.3, 9.0)) == []
    assert len(paths_over(left, (1.6, -9.0), (1.6, 9.0))) == 2
