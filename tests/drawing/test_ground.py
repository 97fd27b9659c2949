import math

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from toolpath.drawing.ground import Ground


def test_heights_go_through_the_samples_and_never_under_what_is_linear():
    rng = np.random.default_rng(2)
    z = rng.uniform(-5, 0, (7, 9))
    ground = Ground(z=z, at=(4.0, 3.0), size=(8.0, 6.0))
    linear = RegularGridInterpolator((np.arange(7.0), np.arange(9.0)), z)
    xy = rng.uniform(0, [8, 6], (500, 2))
    over = ground.heights(xy) - linear(xy[:, ::-1])
    assert over.min() >= -1e-12
    assert over.max() > 0.1
    nodes = np.stack(np.meshgrid(np.arange(9.0), np.arange(7.0)), axis=-1).reshape(-1, 2)
    assert ground.heights(nodes) == pytest.approx(z.ravel())
    assert ground.nodes() == pytest.approx(nodes)


def test_a_turned_ground_lies_about_its_middle():
    z = np.array([[-1.0, -2.0], [-3.0, -4.0]])
    ground = Ground(z=z, at=(10.0, 20.0), size=(4.0, 2.0), turn=math.pi / 2)
    # its lower left sample turns to the lower right: (-2, -1) becomes (1, -2)
    assert ground.corners() == pytest.approx(np.array([[11, 18], [11, 22], [9, 22], [9, 18]]))
    assert ground.heights(ground.corners()) == pytest.approx([-1, -2, -4, -3])
    assert ground.heights(np.array([[50.0, 18.0]])) == pytest.approx([-1.0])  # beyond its edge


@pytest.mark.parametrize("z", [np.zeros((1, 4)), np.full((3, 3), np.nan), np.zeros(4)])
def test_only_finite_grids_are_grounds(z):
    with pytest.raises(ValueError, match="grid"):
        Ground(z=z, at=(0, 0), size=(1, 1))
