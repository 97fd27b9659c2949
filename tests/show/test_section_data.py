import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.check.report import Code, Finding
from toolpath.job.model import Nut, Shape, Side, Skim
from toolpath.show.section_data import (
    cutter_shape,
    section_data,
    target_of,
    worst_cut,
)

NUT = Nut(diameter=22, height=18)


def view_of(scene, number):
    return next(v for p in scene.programs for v in p.cuts if v.number == number)


def test_the_cutter_stands_on_its_tip(cutter):
    shape = cutter_shape(cutter, NUT, -12.0)
    assert shape.flutes.bounds == pytest.approx((-3, -12, 3, 13))
    assert shape.shank.bounds == pytest.approx((-3, 13, 3, 26))
    assert shape.nut.bounds == pytest.approx((-11, 26, 11, 44))


def test_ends_of_cutters_have_their_areas(cutter):
    def flutes(**keys) -> float:
        return cutter_shape(replace(cutter, **keys), NUT, 0.0).flutes.area

    full = 6 * 25
    assert flutes() == pytest.approx(full)
    # A half disc instead of a rectangle r high: 2 r^2 - pi r^2 / 2 less.
    assert flutes(shape=Shape.BALL) == pytest.approx(full - 18 + math.pi * 4.5, rel=1e-3)
    # Two corners of radius c: (2 - pi / 2) c^2 less.
    bull = flutes(shape=Shape.BULL, corner_radius=1.0)
    assert bull == pytest.approx(full - (2 - math.pi / 2), rel=1e-4)
    # A 90 degree point is as high as its radius: a square less a triangle.
    drill = flutes(shape=Shape.DRILL, angle=math.pi / 2)
    assert drill == pytest.approx(full - 9)


def test_the_gap_drawn_is_the_gap_of_the_solids(scene):
    data = section_data(scene, view_of(scene, 1))
    (s0, z0), (s1, z1) = data.nearest
    # Ball top at 13.54, risen by 0.5: 13.04; the tip at 12.
    assert math.hypot(s1 - s0, z1 - z0) == pytest.approx(1.04, abs=1e-6)
    assert data.tip_z == pytest.approx(-12)
    assert data.target.needed == pytest.approx(1.02)


def test_a_cutter_beside_a_ball_is_cut_through_both_middles(scene):
    ball = next(p for p in scene.job.pieces if p.name == "pebble 3")
    view = view_of(scene, 1)
    tip = (70.0 + 12.0, 60.0 + 16.0, -26.0)
    near = replace(view.closest, at=tip)
    data = section_data(scene, replace(view, closest=near))
    assert data.line.direction == pytest.approx((0.6, 0.8))
    (s0, z0), (s1, z1) = data.nearest
    # Middles 20 apart in plan, flat side of radius 3 against a ball of 11 grown 1 sideways.
    assert ball.solid.diameter == 22
    assert math.hypot(s1 - s0, z1 - z0) == pytest.approx(20 - 3 - 12, abs=0.02)
    assert s1 < s0 < 0


def test_the_back_is_drawn_with_the_back_up(scene):
    data = section_data(scene, view_of(scene, 5))
    plate = next(piece for piece in data.pieces if piece.is_target)
    assert plate.depth == pytest.approx(10)
    assert plate.nominal.bounds[3] == pytest.approx(-10)
    assert data.tip_z == pytest.approx(-5)
    assert data.stock.bounds[1] == pytest.approx(-42)
    assert data.line.origin == pytest.approx((400 - 185, 31.04))


def test_material_is_gone_from_both_faces(scene):
    data = section_data(scene, view_of(scene, 6))
    hole = shapely.Point(0.5, -20)
    assert data.removed.contains(hole)
    # The ring recess of the front, 6 deep, seen from the back lies at the bottom.
    assert data.removed.contains(shapely.Point(20, -40))
    assert not data.removed.contains(shapely.Point(20, -33))
    # The movement pocket of the back, 24 deep, lies at the top.
    assert data.removed.contains(shapely.Point(20, -23))
    assert data.stock.intersection(data.removed).area == pytest.approx(0.0)
    left, bottom, right, top = data.stock.union(data.removed).bounds
    assert (bottom, top) == pytest.approx((-42, 0))
    assert data.stock.area + data.removed.area == pytest.approx((right - left) * 42)


def test_the_worst_refused_place_is_shown(refused):
    view = view_of(refused, 1)
    worse = replace(view.findings[0], gap=-0.4, at=(72.0, 60.0, -12.8))
    rapid = Finding(code=Code.RAPID_IN_STOCK, message="", at=(0.0, 0.0, 0.0))
    target = target_of(refused, replace(view, findings=(view.findings[0], rapid, worse)))
    assert target.gap == -0.4
    assert target.refused
    assert worst_cut(refused.programs[0], refused) is view


def test_a_cut_without_a_place_has_no_section(refused):
    assert section_data(refused, view_of(refused, 4)) is None


def test_a_place_without_a_piece_is_cut_along_x(refused):
    rapid = Finding(code=Code.RAPID_IN_STOCK, message="", at=(60.0, 50.0, -3.0))
    data = section_data(refused, replace(view_of(refused, 1), findings=(rapid,)))
    assert data.line.direction == (1.0, 0.0)
    assert data.nearest is None
    assert data.target.room == -math.inf


def test_clamps_stand_on_the_bed(scene):
    view = view_of(scene, 1)
    near = replace(view.closest, at=(20.0, 115.0, -5.0), piece="nobody")
    data = section_data(scene, replace(view, closest=near))
    assert np.array(data.clamps[0].bounds) == pytest.approx([-40, -42, -12, 18])


def test_the_bed_lies_under_what_the_first_face_lost(scene):
    view = next(v for p in scene.programs if p.face is Side.BACK for v in p.cuts if v.closest)
    assert section_data(scene, view).bed == -42.0
    outline = (scene.job.blank.outline,)
    cutter = scene.programs[0].cutter
    skim = Skim(name="skim", face=Side.FRONT, cutter=cutter, depth=0.5, outline=outline)
    job = replace(scene.job, cuts=(skim, *scene.job.cuts))
    data = section_data(replace(scene, job=job), view)
    assert data.bed == -41.5
    assert section_data(replace(scene, job=job), view_of(scene, 1)).bed == -42.0
