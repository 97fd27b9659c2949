import io

import numpy as np
import pytest
import shapely
from PIL import Image

from toolpath.show.draw import (
    add_area,
    add_axes,
    add_text,
    house_style,
    new_figure,
    outline_of,
    png_bytes,
    ruler,
    text_size,
)
from toolpath.units import Unit


def signed_area(corners) -> float:
    # The shoelace formula.
    x, y = np.array(corners).T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_holes_run_against_their_shell_also_when_mirrored(mirror):
    ring = shapely.Point(0, 0).buffer(10).difference(shapely.Point(0, 0).buffer(4))
    seen = shapely.transform(ring, lambda xy: xy * (mirror, 1.0))
    path = outline_of(seen)
    shell, hole = (signed_area(c) for c in path.to_polygons(closed_only=False))
    assert shell * hole < 0
    assert abs(shell + hole) == pytest.approx(ring.area)


def test_an_empty_area_draws_nothing():
    assert len(outline_of(shapely.Polygon()).vertices) == 0


def test_text_is_never_read_as_mathematics():
    with house_style():
        figure = new_figure(1.0)
        axes = add_axes(figure, (0, 0, 10, 1))
        add_text(axes, (0.5, 0.5), "$\\frac{1$ \x1b 石 _^", 9)
        add_area(axes, shapely.box(0, 0, 1, 1), fc="white")
        picture = png_bytes(figure)
    assert Image.open(io.BytesIO(picture)).size == (1600, 160)


def test_text_size_grows_with_the_text():
    figure = new_figure(1.0)
    wide, high = text_size(figure, "pebble", 8)
    assert 20 < wide < 40
    assert text_size(figure, "pebble pebble", 8)[0] > 1.9 * wide
    assert text_size(figure, "a\nb", 8)[1] == pytest.approx(2 * high)


def test_rulers_are_in_the_unit_of_the_job():
    with house_style():
        figure = new_figure(5.0)
        axes = add_axes(figure, (0, 0, 5, 5))
        axes.set(xlim=(0, 254), ylim=(0, 254))
        ruler(axes, Unit.INCH, span=254)
        figure.canvas.draw()
        shown = [t.get_text() for t in axes.get_xticklabels()]
    assert {"1", "5", "10"} <= set(shown)


def test_the_makers_own_settings_change_nothing():
    import matplotlib

    with matplotlib.rc_context({"font.size": 40, "text.usetex": True, "lines.linewidth": 9}):
        with house_style():
            assert matplotlib.rcParams["text.usetex"] is False
        assert matplotlib.rcParams["text.usetex"] is True
