import itertools
from dataclasses import replace

import numpy as np

from toolpath.show.colours import lightness
from toolpath.show.draw import house_style
from toolpath.show.engaged import engaged_data, engaged_views
from toolpath.show.engaged_picture import draw_engaged, engaged_figure, ramp


def words_of(figure):
    texts = [t.get_text() for t in figure.texts]
    for axes in figure.axes:
        texts += [t.get_text() for t in (*axes.texts, *axes.get_xticklabels())]
    return " ".join(texts)


def test_more_is_darker_and_so_reads_without_colours():
    shades = [lightness(ramp()(share)[:3]) for share in np.linspace(0.0, 1.0, 9)]
    assert all(a > b + 0.02 for a, b in itertools.pairwise(shades))


def test_the_legend_has_the_bound_and_the_words_what_was_found(bounded, tmp_path):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    with house_style():
        figure = engaged_figure(scene, data)
    shown = words_of(figure)
    assert "bound 70°" in shown and "within bound + 5°: " in shown
    drawn = sum(len(c.get_segments()) for c in figure.axes[0].collections)
    assert drawn == int((~data.first[1:]).sum())
    draw_engaged(scene, view, tmp_path / "engaged.png")
    assert (tmp_path / "engaged.png").read_bytes()[:4] == b"\x89PNG"


def test_a_skin_left_for_the_floor_is_walked_twice_and_said(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    for skin, words in (
        (0.0, "deepest level, Z -3."),
        (0.2, "last two levels, Z -2.8 and Z -3."),
        (0.5, "deepest level, Z -3."),
    ):
        with house_style():
            figure = engaged_figure(scene, replace(data, cut=replace(data.cut, finish_floor=skin)))
        assert words in " ".join(words_of(figure).split())
