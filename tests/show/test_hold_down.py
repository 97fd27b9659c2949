from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.drawing.shapes import rect
from toolpath.job.model import Blank, Side, Surface
from toolpath.show.areas import blank_area, clamp_area, cut_area
from toolpath.show.hold_down import holding, no_go, over_zero, touch_off
from toolpath.show.pieces import grown_footprint
from toolpath.show.seen import seen_from
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


@pytest.mark.parametrize("side", Side)
def test_the_touch_off_place_is_uncut_solid_and_free(whole_scene, side):
    job = whole_scene.job
    spot = shapely.Point(touch_off(whole_scene, side).at)
    seen = seen_from(job, side)
    taken = [cut_area(cut) for cut in job.cuts] + [grown_footprint(p) for p in job.pieces]
    taken += [clamp_area(c) for c in job.clamps if c.face is side]
    assert all(seen.geometry(area).distance(spot) >= 3.0 - 1e-6 for area in taken)


def test_no_place_to_touch_off_is_said(scene):
    tiny = replace(scene.job.blank, outline=rect(60, 50, 80, 70))
    assert touch_off(replace(scene, job=replace(scene.job, blank=tiny)), Side.FRONT) is None


def low_on_the_left(scene, places):
    """The front of a scene as measured: 2 below Z 0 on the left, at Z 0 on the right."""
    x0, _, x1, _ = blank_area(scene.job.blank).bounds
    heights = tuple(-2.0 * (x1 - x) / (x1 - x0) for x, _ in places)
    surface = Surface(places=tuple(places), heights=heights)
    return replace(scene, job=replace(scene.job, surfaces={Side.FRONT: surface}))


def on_the_blank(scene, touch):
    seen = seen_from(scene.job, Side.FRONT)
    x, y = (np.array(touch.at) - seen.shift) * seen.mirror
    return float(x), float(y)


def test_where_a_face_was_measured_its_height_there_is_set(scene):
    x0, y0, x1, y1 = blank_area(scene.job.blank).bounds
    corners = [(x0, y0), (x1, y0), (x0, y1), (x1, y1)]
    low = low_on_the_left(scene, corners)
    touch = touch_off(low, Side.FRONT)
    x, _ = on_the_blank(low, touch)
    assert touch.reckoned
    assert touch.z == pytest.approx(-2.0 * (x1 - x) / (x1 - x0), abs=1e-6)
    assert touch.z < -1.0


def test_a_place_that_was_measured_is_taken_before_others(scene):
    x0, y0, x1, y1 = blank_area(scene.job.blank).bounds
    free = on_the_blank(scene, touch_off(scene, Side.FRONT))
    spot = free[0] + 1.0, free[1] - 1.0
    low = low_on_the_left(scene, [(x0, y0), (x1, y0), (x0, y1), spot])
    touch = touch_off(low, Side.FRONT)
    assert not touch.reckoned
    assert on_the_blank(low, touch) == pytest.approx(spot)
    assert touch.z == pytest.approx(-2.0 * (x1 - spot[0]) / (x1 - x0))


def test_the_nut_has_its_room_in_the_no_go_zone(scene):
    # A nut of 22 and a clearance of 1 round a recess of 30..130: 12 further out.
    assert no_go(scene.job, Side.FRONT).bounds[:2] == pytest.approx((18, 18))
    assert no_go(replace(scene.job, cuts=()), Side.FRONT).is_empty


def test_a_clamp_on_the_zero_is_named(whole_scene, scene):
    assert over_zero(whole_scene.job, Side.FRONT) == ("clamp 3",)
    assert over_zero(scene.job, Side.FRONT) == ()


def test_open_cavities_below_are_told_with_their_share(scene):
    assert holding(scene, Side.FRONT, MM) == ()
    words = holding(scene, Side.BACK, MM)
    # 100 x 80 and a round of 30 of 400 x 280 with corners of 20: 9.7 %.
    assert words[0].startswith("10% of the FRONT face, now on the bed, is open")
    assert "manual" in words[-1]


def test_thin_floors_over_cavities_are_named(scene):
    thin = replace(scene, job=replace(scene.job, blank=replace(scene.job.blank, thickness=38)))
    assert isinstance(thin.job.blank, Blank)
    words = " ".join(holding(thin, Side.BACK, MM))
    # 38 less 6 for the hands less 24 for the movement over it.
    assert "hands, 8 mm" in words and "dial recess" not in words
