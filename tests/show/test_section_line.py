import math

import pytest
import shapely

from toolpath.show.section_line import draw_section_line, line_data


def test_it_runs_from_the_first_point_to_the_second(scene):
    data = line_data(scene, ((30, 140), (370, 140)))
    assert data.length == pytest.approx(340)
    assert data.stock.union(data.removed).bounds == pytest.approx((0, -42, 340, 0), abs=1e-6)
    # The round for the hands begins at x = 170: 140 along the line, 6 deep from the front.
    assert data.removed.contains(shapely.Point(141, -3))
    assert not data.removed.contains(shapely.Point(139, -3))


def test_least_thickness_is_between_the_floors(scene):
    data = line_data(scene, ((150, 125), (250, 125)))
    s, low, high = data.thinnest
    # 6 from the front and 24 from the back of 42.
    assert high - low == pytest.approx(12.0, abs=0.02)
    assert 170 <= 150 + s <= 230


def test_pieces_are_cut_where_they_lie_whichever_way_the_line_runs(scene):
    there = line_data(scene, ((20, 60), (120, 60)))
    back = line_data(scene, ((120, 60), (20, 60)))
    ball, same = (next(p for p in d.pieces if p.name == "pebble 3") for d in (there, back))
    # A ball of 22 through its middle, top at 13.54.
    assert ball.nominal.area == pytest.approx(math.pi * 121, rel=2e-3)
    assert ball.nominal.bounds == pytest.approx((39, -35.54, 61, -13.54), abs=1e-6)
    assert same.nominal.bounds == pytest.approx((39, -35.54, 61, -13.54), abs=1e-6)


def test_a_line_without_a_direction_is_refused(scene):
    with pytest.raises(ValueError, match="two different points"):
        line_data(scene, ((5, 5), (5, 5)))
    with pytest.raises(ValueError, match="two different points"):
        line_data(scene, ((5, 5), (math.inf, 5)))


def test_a_picture_is_written(whole_scene, tmp_path):
    path = tmp_path / "line.png"
    draw_section_line(whole_scene, ((250, 270), (345, 60)), path)
    assert path.read_bytes().startswith(b"\x89PNG")
    draw_section_line(whole_scene, ((900, 900), (950, 900)), path)  # beside the blank
