import numpy as np
import pytest
from relief_replay import planned

from toolpath.show.relief_picture import draw_relief, relief_data, relief_views


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    made, _ = planned(
        tmp_path_factory.mktemp("dial"),
        lambda x, y: 3 + np.sin(x / 3),
        size=16.0,
        cut='cutter = "ball 6"\nfinish = 0.3',
    )
    return made.scene


def test_the_picture_shows_what_the_moves_leave(scene):
    ((name, views),) = relief_views(scene).items()
    assert name == "dial"
    data = relief_data(scene, views)
    middle = tuple(slice(n // 2 - 15, n // 2 + 15) for n in data.over.shape)
    assert data.over[middle].max() <= 0.03
    assert data.over[middle].min() >= -0.005
    assert 0.01 < data.ridge[middle].max() < 0.04
    assert np.nanmin(data.left) == pytest.approx(-4.0, abs=0.05)


def test_it_is_drawn(scene, tmp_path):
    (views,) = relief_views(scene).values()
    draw_relief(scene, views, tmp_path / "relief.png")
    assert (tmp_path / "relief.png").read_bytes()[:4] == b"\x89PNG"
