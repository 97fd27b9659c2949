"""The engaged angle of the pictures, beside a raster that shares no code with it
(tests/tools/engagement.py), and in a straight slot and along a straight wall, where it is known."""

import math
from dataclasses import replace

import numpy as np
import pytest
from engagement import trace

from toolpath.blank.frames import Frame
from toolpath.rs274.read import read_program
from toolpath.show.engaged import SPARE, engaged_data, engaged_views
from toolpath.units import Unit


def test_the_same_is_found_as_by_the_raster(bounded):
    scene, text = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    met = trace(text, 3.0)
    assert data.level == pytest.approx(-3.0)
    assert data.share_within == pytest.approx(met.share_within(75.0), abs=0.01)
    assert math.degrees(data.angle[data.worst]) == pytest.approx(met.worst, abs=8.0)
    cutting = float(data.length[data.cutting].sum())
    assert cutting == pytest.approx(met.engaged_length, rel=0.05)


def test_a_lower_bound_is_passed_and_marked(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = replace(engaged_data(scene, view), bound=math.radians(30.0))
    assert data.share_within < 0.6
    assert (data.angle[data.over] > math.radians(30.0) + SPARE).all()
    assert not (data.over & data.entry).any()


def test_the_way_in_is_no_part_of_it(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    data = engaged_data(scene, view)
    assert data.entry.any() and not data.cutting[data.entry].any()
    assert np.isfinite(data.angle).all() and (data.length >= 0.0).all()


def leveled(scene, view, body):
    """A cut with a bound whose program has these lines between its head and its end."""
    text = "\n".join(["G17 G21 G90 G94", "G54", "G0 Z6", "M3 S16000", *body, "M5", "M30", ""])
    moves = Frame.of(scene.job, view.planned.cut.face).table_to_page(
        read_program(text, unit=Unit.MM).moves
    )
    return replace(view, moves=moves)


def test_a_level_a_little_above_the_deepest_is_another(bounded):
    # The same way twice, 0.3 mm deeper the second time: all of it cuts then too.
    scene, _ = bounded
    (view,) = engaged_views(scene)
    way = ["G0 X-20 Y0", "G1 Z{} F300", "G1 X20 Y0 F900", "G0 Z6"]
    body = [line.format(z) for z in (-2.7, -3.0) for line in way]
    data = engaged_data(scene, leveled(scene, view, body))
    assert float(data.length.sum()) == pytest.approx(40.0, abs=0.5)
    assert float(data.length[data.cutting].sum()) > 39.0


def test_small_circles_are_looked_at_as_often_as_they_turn(bounded):
    scene, _ = bounded
    (view,) = engaged_views(scene)
    body = ["G0 X0.4 Y0", "G1 Z-3 F300", "G3 X0.4 Y0 I-0.4 J0 F900", "G0 Z6"]
    data = engaged_data(scene, leveled(scene, view, body))
    assert len(data.xy) >= 36


STEPPED = math.degrees(1.0 / 24.0 - math.asin(0.08))
"""What looking only so often does to an angle along a straight wall: half a step, of a twelfth of
the radius, is added behind; chips under 0.08 of a step are left out ahead (elementary)."""


def walked(scene, view, *lines, radius=1.0):
    """A cut with a bound by a cutter of that radius along level lines ((x, y), (x, y)) at Z -3."""
    body = [
        line
        for (x0, y0), (x1, y1) in lines
        for line in (f"G0 X{x0} Y{y0}", "G1 Z-3 F300", f"G1 X{x1} Y{y1} F900", "G0 Z6")
    ]
    moves = leveled(scene, view, body).moves
    cutter = replace(view.planned.cutter, diameter=2.0 * radius)
    return replace(view, moves=moves, planned=replace(view.planned, cutter=cutter))


@pytest.mark.parametrize("radius", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("earlier", [False, True])
def test_along_a_straight_wall_it_is_what_geometry_says(bounded, radius, earlier):
    # A second pass takes half a radius: acos(1 - 1/2) = 60 degrees (elementary).
    scene, _ = bounded
    (view,) = engaged_views(scene)
    wall, beside = ((25, 40), (65, 40)), ((25, 40 + radius / 2), (65, 40 + radius / 2))
    if earlier:
        before = replace(walked(scene, view, wall, radius=radius), number=0)
        again = walked(scene, view, beside, radius=radius)
        program = replace(scene.programs[0], cuts=(before, again))
        data = engaged_data(replace(scene, programs=(program,)), again)
    else:
        data = engaged_data(scene, walked(scene, view, wall, beside, radius=radius))
    y, x = data.xy[:, 1], data.xy[:, 0]
    side = data.angle[(np.abs(y - beside[0][1]) < 0.01) & (x > 35) & (x < 55)]
    assert len(side) > 50
    assert np.degrees(side) == pytest.approx(60.0 + STEPPED, abs=0.7)


def test_what_a_wider_cutter_took_before_is_gone(bounded):
    # 3 mm to the side of y = 40 are gone; a cutter of 1 mm at y = 42.5 meets what is beyond 43:
    # acos(1/2) = 60 degrees (elementary).
    scene, _ = bounded
    (view,) = engaged_views(scene)
    before = replace(walked(scene, view, ((25, 40), (65, 40)), radius=3.0), number=0)
    again = walked(scene, view, ((25, 42.5), (65, 42.5)))
    program = replace(scene.programs[0], cuts=(before, again))
    data = engaged_data(replace(scene, programs=(program,)), again)
    inside = data.angle[(data.xy[:, 0] > 35) & (data.xy[:, 0] < 55)]
    assert np.degrees(inside) == pytest.approx(60.0 + STEPPED, abs=0.7)
