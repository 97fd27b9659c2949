import numpy as np
import pytest
from relief_replay import planned

from toolpath.job.model import Side
from toolpath.show.colours import lightness
from toolpath.show.draw import house_style
from toolpath.show.map_picture import (
    SCALE,
    margin_colours,
    margin_figure,
    thickness_figure,
    uncut_figure,
)
from toolpath.show.maps import maps_of


def words_of(figure):
    texts = [t.get_text() for t in figure.texts]
    for axes in figure.axes:
        texts += [t.get_text() for t in axes.texts]
        texts += [t.get_text() for t in axes.get_xticklabels()]
    return " ".join(texts).replace("\n", " ")


def test_the_bad_side_jumps_and_reads_without_colours():
    values = np.array([-SCALE, -0.01, 0.0, SCALE, np.inf, np.nan])
    rgba = margin_colours(values)
    assert rgba[5, 3] == 0.0 and (rgba[:5, 3] == 1.0).all()
    bad, zero = lightness(tuple(rgba[1, :3])), lightness(tuple(rgba[2, :3]))
    assert zero - bad > 0.4, "a grey print tells the first hundredth too deep from none"
    assert (rgba[3] == rgba[4]).all()
    # Red over blue on the bad side, blue over red on the good one: told apart by any eye.
    assert rgba[1, 0] > rgba[1, 2] + 0.5 and rgba[3, 2] > rgba[3, 0] + 0.4


def test_too_deep_is_hatched_named_and_placed(refused):
    maps = maps_of(refused)
    with house_style():
        figure = margin_figure(refused, maps, Side.FRONT)
    shown = words_of(figure)
    assert "TOO DEEP by 0.7" in shown and "pebble 3" in shown
    hatched = [c for c in figure.axes[0].collections if getattr(c, "hatches", None)]
    assert hatched


def test_a_clear_face_names_its_least_margin(scene):
    with house_style():
        shown = words_of(margin_figure(scene, maps_of(scene), Side.FRONT))
    assert "pebble 3" in shown and "TOO DEEP by" not in shown


@pytest.mark.parametrize("side", Side)
def test_uncut_lists_every_part(whole_scene, side):
    maps = maps_of(whole_scene)
    with house_style():
        shown = words_of(uncut_figure(whole_scene, maps, side))
    for part in maps.faces[side].parts:
        assert f"{part.number}  {part.name}" in shown


def test_of_a_relief_both_numbers_of_what_is_left_are_told(tmp_path):
    """A ball of 6 mm does not get into a groove 2 mm wide: what stands there is in the one number
    and not in the other, which plan.json has."""
    groove = lambda x, y: np.where(np.abs(x) < 1.0, 3.0, 1.5)  # noqa: E731
    made, _ = planned(tmp_path, groove, size=16, cut='cutter = "ball 6"\nfinish = 0.3')
    maps = maps_of(made.scene)
    (part,) = maps.faces[Side.FRONT].parts
    assert part.area > 20.0  # 2 mm by 16
    told = made.payload["cuts"][0]["uncut_area_mm2"]
    assert part.reached == pytest.approx(told, abs=1e-6)
    assert part.area > told + 20.0
    with house_style():
        shown = words_of(uncut_figure(made.scene, maps, Side.FRONT))
    assert f"{part.area:.1f} mm² left, with all corners and grooves" in shown.replace("    ", "")
    assert "within their reach" in shown and "(uncut_area_mm2 of plan.json)" in shown


def test_thickness_names_the_least_and_its_place(scene):
    maps = maps_of(scene)
    with house_style():
        figure = thickness_figure(scene, maps)
    shown = words_of(figure)
    assert "least thickness 12 mm" in shown or "least thickness 11.99 mm" in shown
    assert f"X {round(maps.thinnest[0], 2):g}" in shown


def test_the_back_is_drawn_mirrored(scene):
    maps = maps_of(scene)
    with house_style():
        figure = uncut_figure(scene, maps, Side.BACK)
    image = figure.axes[0].images[0]
    left, right, bottom, top = image.get_extent()
    assert left < right and bottom < top
    drawn = np.asarray(image.get_array())
    cut = maps.faces[Side.BACK].floor < 0.0
    shown = drawn[:, ::-1, 3] > 0.0
    assert shown[cut].all() and (shown != cut).mean() < 0.01
    assert (drawn[:, :, 3] > 0.0)[cut].mean() < 0.95, "the cuts do not lie evenly"
