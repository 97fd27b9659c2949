import numpy as np
import pytest

from toolpath.field.carve import Nodes, carve, radii_of


def test_nodes_are_lowered_to_the_cutter_over_them():
    nodes = Nodes.over((0.0, 0.0, 6.0, 4.0), 0.1, 0.0)
    rng = np.random.default_rng(4)
    tips = np.column_stack([rng.uniform(0, [6, 4], (40, 2)), rng.uniform(-2, -0.2, 40)])
    radii = radii_of(1.5)
    carve(nodes, tips, 1.5 - np.sqrt(np.maximum(1.5**2 - radii**2, 0.0)), 1.5)
    places = nodes.places()
    r = np.hypot(places[:, None, 0] - tips[:, 0], places[:, None, 1] - tips[:, 1])
    over = tips[:, 2] + 1.5 - np.sqrt(np.maximum(1.5**2 - r**2, 0.0))
    expected = np.minimum(np.where(r <= 1.5, over, np.inf).min(axis=1), 0.0)
    near_rim = (np.abs(r - 1.5) < 0.001).any(axis=1)
    assert nodes.z.ravel()[~near_rim] == pytest.approx(expected[~near_rim], abs=1e-5)


def test_without_tips_nothing_changes():
    nodes = Nodes.over((0.0, 0.0, 1.0, 1.0), 0.5, -1.0)
    carve(nodes, np.empty((0, 3)), np.zeros(5), 1.0)
    assert (nodes.z == -1.0).all()
