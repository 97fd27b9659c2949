import io
import itertools
from dataclasses import replace

import pytest
from PIL import Image

from toolpath.job.model import Side
from toolpath.show.draw import house_style
from toolpath.show.panel import cut_lines
from toolpath.show.plan_data import plan_data
from toolpath.show.plan_picture import draw_plan, plan_figure, plan_png
from toolpath.show.words import Lengths
from toolpath.units import Unit


def figure_of(scene, side):
    data = plan_data(scene, side)
    with house_style():
        figure = plan_figure(data, scene.job)
        figure.canvas.draw()
        renderer = figure.canvas.get_renderer()
        axes = figure.axes[0]
        boxes = {t.get_text(): t.get_window_extent(renderer) for t in axes.texts if t.get_text()}
        return figure, axes, boxes


def test_sixteen_pieces_have_names_that_do_not_cover_each_other(crowded_scene):
    figure, _, boxes = figure_of(crowded_scene, Side.FRONT)
    names = {text: box for text, box in boxes.items() if "below" in text}
    assert len(names) == 16
    for (first, a), (second, b) in itertools.combinations(names.items(), 2):
        assert not a.overlaps(b), (first, second)
    width, height = figure.get_size_inches() * figure.dpi
    assert all(b.x0 >= 0 and b.y0 >= 0 and b.x1 <= width and b.y1 <= height for b in names.values())


def test_the_picture_says_what_a_maker_needs(scene):
    _, axes, boxes = figure_of(scene, Side.BACK)
    shown = " ".join(boxes).replace("\n", " ")
    for words in ("X+", "Y+", "zero", "100 mm", "pebble 3", "6.46 mm below", "clamp 2"):
        assert words in shown
    assert "closest: brass plate, 4.5 mm left, 1.52 needed" in shown
    left, right = axes.get_xlim()
    low, high = axes.get_ylim()
    assert left < right and low < high, "an axis that runs backwards would mirror the lettering"


def test_both_axes_have_one_scale(scene):
    figure, axes, _ = figure_of(scene, Side.FRONT)
    box = axes.get_position()
    wide, high = figure.get_size_inches()
    left, right = axes.get_xlim()
    low, top = axes.get_ylim()
    across, up = box.width * wide / (right - left), box.height * high / (top - low)
    assert across == pytest.approx(up, rel=1e-6)


def test_a_refused_place_has_words_and_a_cross(refused):
    _, axes, boxes = figure_of(refused, Side.FRONT)
    shown = " ".join(boxes).replace("\n", " ")
    assert "REFUSED: pebble 3, 0.2 mm left, 1.02 needed" in shown
    crosses = [line for line in axes.lines if line.get_marker() == "x"]
    assert crosses and all(tuple(line.get_xydata()[0]) == (70.0, 60.0) for line in crosses)


def test_feeds_are_solid_and_rapids_dashed(scene):
    _, axes, _ = figure_of(scene, Side.FRONT)
    styles = {line.get_color(): line.get_linestyle() for line in axes.lines}
    assert styles["#00456B"] == "-"
    assert styles["#A3306F"] == "--"


def test_files_are_1600_wide_and_the_same_each_time(scene, tmp_path):
    draw_plan(scene, Side.FRONT, tmp_path / "a.png")
    first = (tmp_path / "a.png").read_bytes()
    assert Image.open(io.BytesIO(first)).size[0] == 1600
    assert plan_png(plan_data(scene, Side.FRONT), scene.job) == first


def test_hostile_names_are_drawn(scene):
    bad = "$\\frac{x$ \x1b\u202e\ud800" + "W" * 300
    pieces = tuple(replace(piece, name=bad) for piece in scene.job.pieces)
    hostile = replace(scene, job=replace(scene.job, name=bad, pieces=pieces))
    assert plan_png(plan_data(hostile, Side.FRONT), hostile.job).startswith(b"\x89PNG")


def test_cuts_in_words(refused, make_clock):
    data = plan_data(refused, Side.FRONT)
    lines = cut_lines(data.cuts[0], data, Lengths(unit=Unit.MM))
    assert lines[0] == "1  dial recess, 12.8 mm deep, flat 6"
    assert lines[1].strip() == "REFUSED: pebble 3, 0.2 mm left, 1.02 needed"
    inch = plan_data(make_clock(unit=Unit.INCH), Side.BACK)
    through = cut_lines(inch.cuts[3], inch, Lengths(unit=Unit.INCH))
    assert through[0] == "6  spindle hole, right through, drill 8"
    assert "3.149 in left" in through[1]
