import numpy as np
import pytest
from relief_scene import cutter, job_of, relief, target_of

from toolpath.field.carve import carve, radii_of
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.relief_left import Left
from toolpath.plan.relief_reach import split
from toolpath.plan.relief_tidy import tidy, worth_while
from toolpath.plan.route import Route
from toolpath.plan.target import form_of, relief_area, rise


def test_of_passes_side_by_side_only_those_that_take_something_stay():
    """Ridges of 0.1 mm stand over the floor along y = 0, for x from -4 to 4."""
    cut = relief(lambda x, y: 3.0 + 0 * x)
    left = Left.before(cut, relief_area(cut))
    x, y = (axis.reshape(left.nodes.z.shape) for axis in left.places.T)
    left.nodes.z[:] = np.where((np.abs(y) < 0.2) & (np.abs(x) < 4), -2.9, -3.0)
    before = left.nodes.z.copy()
    rows = [np.array([[-9.0, v, -3.0], [9.0, v, -3.0]]) for v in np.linspace(-1, 1, 21)]
    found = worth_while(rows, left, cutter())
    assert 1 <= len(found) <= 2
    # a ball takes more than a ridge, 0.02 mm, of their ends from sqrt(2 3 0.08) further, and 0.2 mm
    for path in found:
        assert np.abs(path[:, 0]).max() == pytest.approx(4.0 + np.sqrt(0.48) + 0.2, abs=0.35)
    assert (left.nodes.z == before).all()
    rises = rise(form_of(cutter()), radii_of(3.0))
    for path in found:
        carve(left.nodes, path, rises, 3.0)
    assert left.over.max() <= cut.cusp * 1.5


def test_the_middle_of_a_groove_is_gone_along():
    """A groove 2 mm wide under a ball of 6 mm, whose lowest tip in it is 3 - sqrt(9 - 1) lower
    (elementary geometry), after a pass half a step beside it."""
    cut = relief(lambda x, y: np.where(np.abs(y) < 1.0, 5.0, 3.0), step=0.1)
    job, target = job_of(cut), target_of(cut)
    left = Left.before(cut, relief_area(cut))
    tips = np.array([[x, y] for x in np.arange(-7, 7.01, 0.1) for y in np.arange(-6.65, 7, 0.7)])
    tips = np.column_stack([tips, target.found(tips).tips])
    carve(left.nodes, tips, rise(form_of(cutter()), radii_of(3.0)), 3.0)
    square = left.nodes.step**2
    before = split(left, target)[0]
    inner = np.abs(left.places).max(axis=1).reshape(before.shape) < 6.5
    assert (before & inner).sum() * square > 3.0
    route = Route.on(job, cut, cut.cutter)
    tidy(route, target, left)
    left.after(MoveTable.of(route.moves), cut.cutter)
    assert (split(left, target)[0] & inner).sum() * square < 0.5
    low = min(move.end[2] for move in route.moves if move.kind is not Kind.RAPID)
    assert low == pytest.approx(-3.0 - (3.0 - np.sqrt(8.0)), abs=0.01)
