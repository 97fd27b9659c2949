import io
import itertools
from dataclasses import replace

import pytest
import shapely
from PIL import Image

from toolpath.show.draw import house_style
from toolpath.show.section import draw_section, section_figure
from toolpath.show.section_data import section_data
from toolpath.units import Unit


def view_of(scene, number):
    return next(v for p in scene.programs for v in p.cuts if v.number == number)


def texts_of(scene, number):
    with house_style():
        figure = section_figure(section_data(scene, view_of(scene, number)), scene.job)
        figure.canvas.draw()
        renderer = figure.canvas.get_renderer()
        inside = {
            t.get_text(): t.get_window_extent(renderer)
            for t in figure.axes[0].texts
            if t.get_text()
        }
        outside = [t.get_text() for t in figure.texts]
        enlarged = [t.get_text() for axes in figure.axes[1:] for t in axes.texts]
        return figure, inside, " ".join([*inside, *outside, *enlarged]).replace("\n", " ")


@pytest.mark.parametrize("number", [1, 3, 4, 5, 6])
def test_words_do_not_cover_each_other(scene, number):
    _, inside, _ = texts_of(scene, number)
    for (first, a), (second, b) in itertools.combinations(inside.items(), 2):
        assert not a.overlaps(b), (first, second)


def test_of_many_pieces_the_one_meant_and_the_nearest_are_named(scene):
    data = section_data(scene, view_of(scene, 1))
    (target,) = [piece for piece in data.pieces if piece.is_target]
    box = shapely.box(*data.window)
    left, low, right, high = data.window
    step, middle = (right - left) / 42, (low + high) / 2
    crowd = []
    for n in range(1, 41):
        spot = shapely.Point(left + n * step, middle).buffer(step / 4).intersection(box)
        crowd.append(replace(target, name=f"no {n}", nominal=spot, grown=spot, is_target=False))
    many = replace(data, pieces=(*crowd, target))
    with house_style():
        figure = section_figure(many, scene.job)
    words = [text.get_text() for text in figure.axes[0].texts]
    names = [word.split("\n")[0] for word in words if "below this face" in word]
    assert names[0] == target.name
    assert len(names) == 12
    assert {"no 20", "no 21"} <= set(names)
    assert "no 1" not in names


def test_gap_and_need_are_written(scene):
    _, _, shown = texts_of(scene, 1)
    for words in (
        "1.04 mm",
        "1.02 needed",
        "FRONT face, up",
        "BACK face, on the bed",
        "X 70  Y 60",
    ):
        assert words in shown
    assert "pebble 3 13.54 mm below this face" in shown
    assert "REFUSED" not in shown


def test_a_refused_place_says_so(refused):
    _, _, shown = texts_of(refused, 1)
    assert "REFUSED: pebble 3, 0.2 mm left, 1.02 needed (flutes)" in shown


def test_the_back_is_up_for_a_cut_of_the_back(make_clock):
    _, _, shown = texts_of(make_clock(unit=Unit.INCH), 5)
    assert "BACK face, up" in shown and "FRONT face, on the bed" in shown
    assert "0.06 needed" in shown


def test_a_drawing_that_differs_from_the_check_says_so(scene):
    view = view_of(scene, 1)
    near = replace(view.closest, gap=0.5)
    data = section_data(scene, replace(view, closest=near))
    with house_style():
        figure = section_figure(data, scene.job)
    assert any("Distance as drawn: 1.04 mm" in t.get_text() for t in figure.texts)


def test_main_view_is_to_scale(scene):
    figure, _, _ = texts_of(scene, 5)
    for axes in figure.axes[:2]:
        box, (wide, high) = axes.get_position(), figure.get_size_inches()
        (left, right), (low, top) = axes.get_xlim(), axes.get_ylim()
        assert box.width * wide / (right - left) == pytest.approx(box.height * high / (top - low))


def test_written_as_png_for_cut_and_for_program(refused, tmp_path):
    path = tmp_path / "a.png"
    assert draw_section(refused, view_of(refused, 1), path)
    assert Image.open(io.BytesIO(path.read_bytes())).size[0] == 1600
    again = tmp_path / "b.png"
    assert draw_section(refused, refused.programs[0], again)
    assert again.read_bytes() == path.read_bytes()
    assert not draw_section(refused, view_of(refused, 4), tmp_path / "c.png")
    assert not (tmp_path / "c.png").exists()
