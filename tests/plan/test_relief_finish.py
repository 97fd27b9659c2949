import numpy as np
import pytest
from relief_scene import job_of, relief, target_of

from toolpath.job.model import FinishBy
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.relief_finish import finish
from toolpath.plan.relief_left import Left, tips_along
from toolpath.plan.route import Route
from toolpath.plan.target import relief_area


def waves(x, y):
    return 4 + 1.2 * np.sin(x / 4) * np.cos(y / 4)


@pytest.mark.parametrize("by", FinishBy)
def test_finishing_gouges_nowhere_and_leaves_ridges(by):
    cut = relief(waves, finish_by=by)
    job, target = job_of(cut), target_of(cut)
    route = Route.on(job, cut, cut.cutter)
    finish(route, cut, target, relief_area(cut), Left.before(cut, relief_area(cut)))
    moves = MoveTable.of(route.done())
    tips = tips_along(moves, 0.02)
    low = tips[tips[:, 2] < 0.0]
    assert (low[:, 2] - target.found(low[:, :2]).tips).min() > -0.003
    left = Left.before(cut, relief_area(cut))
    left.after(moves, cut.cutter)
    inner = np.abs(left.places).max(axis=1).reshape(left.over.shape) < 6.5
    share = (left.over[inner] <= 0.03).mean()
    assert share > (0.999 if by is FinishBy.PARALLEL else 0.98)
    rapids = moves.take(moves.kind == Kind.RAPID)
    assert (rapids.end[:, 2] >= -1e-9).all() or route.lifts < 40
