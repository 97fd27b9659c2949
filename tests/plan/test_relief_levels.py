import numpy as np
import pytest
import shapely
from relief_scene import cutter, job_of, relief, target_of

from toolpath.job.model import Shape
from toolpath.motion.moves import MoveTable
from toolpath.plan.gone import Gone
from toolpath.plan.relief_left import tips_along
from toolpath.plan.relief_levels import Depths, rough, roughing
from toolpath.plan.route import Route
from toolpath.plan.work import Work


def bowl(x, y):
    return 8.0 - 0.4 * np.hypot(x, y)


def test_levels_lie_within_the_waterlines_of_the_ground():
    cut = relief(bowl, cutters=[cutter(Shape.FLAT)])
    depths = Depths.of(target_of(cut), 0.3, -cut.depth)
    open_ = depths.open_at(-5.0)
    # a flat cutter of radius 3 at a height of -5 fits where the ground at its rim lies 0.3 under
    most = (8.0 - 5.0 - 0.3) / 0.4 - 3.0
    reach = np.hypot(*shapely.get_coordinates(open_).T).max()
    assert most - 1.2 < reach <= most
    assert depths.open_at(-7.9).is_empty


@pytest.mark.parametrize("shape", [Shape.FLAT, Shape.BALL])
def test_roughing_leaves_the_allowance_and_steps(shape):
    cut = relief(bowl, cutters=[cutter(shape)])
    job, target = job_of(cut), target_of(cut)
    route, gone = Route.on(job, cut, cut.cutter), Gone(0.0)
    work = roughing(cut, Work(job=job, cut=cut, cutter=cut.cutter))
    rough(route, work, target, gone)
    tips = tips_along(MoveTable.of(route.done()), 0.1)
    low = tips[tips[:, 2] < 0.0]
    assert (low[:, 2] - target.found(low[:, :2]).ground).min() >= 0.3 - 1e-6
    assert low[:, 2].min() < -4.5
