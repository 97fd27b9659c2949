import pytest

from toolpath.job.model import Side, Zero
from toolpath.show.draw import house_style
from toolpath.show.zero_picture import draw_zero, zero_figure


def texts_of(scene, side):
    with house_style():
        figure = zero_figure(scene, side)
        figure.canvas.draw()
        renderer = figure.canvas.get_renderer()
        texts = [t for t in figure.axes[0].texts if t.get_text()]
        return figure, {t.get_text(): t.get_window_extent(renderer) for t in texts}


@pytest.mark.parametrize("zero", Zero)
@pytest.mark.parametrize("side", Side)
def test_all_words_are_inside_the_picture(make_clock, zero, side):
    figure, boxes = texts_of(make_clock(zero={side: zero}), side)
    width, height = figure.get_size_inches() * figure.dpi
    assert {"X+", "Y+", "X0 Y0", "400 mm", "280 mm"} <= set(boxes)
    for box in boxes.values():
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
    assert boxes["X+"].x0 > boxes["X0 Y0"].x0
    assert boxes["Y+"].y0 > boxes["X0 Y0"].y0


def test_only_the_back_is_turned_over(make_clock):
    scene = make_clock()
    assert "turned over left to right" in texts_of(scene, Side.BACK)[1]
    assert not any("turned" in words for words in texts_of(scene, Side.FRONT)[1])


def test_the_same_bytes_each_time(scene):
    picture = draw_zero(scene, Side.BACK)
    assert picture.startswith(b"\x89PNG")
    assert draw_zero(scene, Side.BACK) == picture
