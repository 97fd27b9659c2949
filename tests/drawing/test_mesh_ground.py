import numpy as np
import pytest
import trimesh

from toolpath.drawing.mesh_ground import STEP, seen_from_above


def test_a_ball_is_seen_within_what_its_triangles_leave():
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=5.0)
    z, size = seen_from_above(mesh.triangles.astype(np.float64))
    assert size == pytest.approx((10.0, 10.0), abs=STEP)
    x = np.linspace(-5.0, -5.0 + size[0], z.shape[1])
    y = np.linspace(-5.0, -5.0 + size[1], z.shape[0])
    r = np.hypot(x[None, :], y[:, None])
    ball = np.sqrt(np.maximum(25.0 - r**2, 0.0))
    inner = r < 4.0
    # an inscribed mesh of 5120 triangles lies within 0.012 of its ball
    assert np.abs(z - ball)[inner].max() < 0.015
    assert np.isinf(z[r > 5.1]).all()


def test_walls_come_out_wider_by_at_most_a_step():
    mesh = trimesh.creation.box((4.0, 4.0, 2.0))
    foot = trimesh.creation.box((10.0, 10.0, 1.0))
    foot.apply_translation([0, 0, -1.5])
    both = np.concatenate([mesh.triangles, foot.triangles]).astype(np.float64)
    z, size = seen_from_above(both)
    x = np.linspace(-5.0, -5.0 + size[0], z.shape[1])
    away = np.maximum(np.abs(x)[None, :], np.abs(x)[:, None])
    assert z[away <= 1.999] == pytest.approx(1.0, abs=1e-6)
    assert z[(away > 2.0 + 1.01 * STEP) & (away < 4.9)] == pytest.approx(-1.0, abs=1e-6)


def test_what_covers_nothing_is_refused():
    with pytest.raises(ValueError, match="no area"):
        seen_from_above(np.array([[[0.0, 0, 0], [1, 0, 0], [1, 0, 1]]]))
