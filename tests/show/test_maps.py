from dataclasses import replace

import numpy as np
import pytest

from toolpath.job.model import Side
from toolpath.show.maps import maps_of


@pytest.fixture(scope="module")
def at():
    def value(maps, field, x, y):
        grid = maps.grid
        return float(field[int((y - grid.y0) / grid.cell), int((x - grid.x0) / grid.cell)])

    return value


def test_thickness_is_what_both_faces_leave(scene, at):
    maps = maps_of(scene)
    assert at(maps, maps.thickness, 350, 140) == pytest.approx(42)
    assert at(maps, maps.thickness, 40, 40) == pytest.approx(42 - 12)
    # Less the ridges of a ball of radius 4 between rings 2.4 apart: 4 - sqrt(16 - 1.44) at most.
    assert 12.0 - 1e-4 <= at(maps, maps.thickness, 180, 125) <= 12.0 + 0.19
    assert at(maps, maps.thickness, 200, 140) == 0.0, "bored through"
    x, y, least = maps.thinnest
    assert least == pytest.approx(12.0, abs=0.01)
    assert 165 < x < 235 and 105 < y < 175
    assert np.isnan(at(maps, maps.thickness, 0.5, 0.5)), "the rounded corner is no blank"


def test_the_margin_over_a_ball_is_the_room_to_its_crown(scene, at):
    # Crown at 13.54 - 0.5 (rise), 1.02 needed: a flat end may go down to 12.02; it goes to 12.
    maps = maps_of(scene)
    face = maps.faces[Side.FRONT]
    assert face.worst[:2] == pytest.approx((70, 60), abs=2.0)
    assert 0.0 <= face.worst[2] <= 0.1
    assert at(maps, face.margin, 100, 90) > 10.0
    assert np.isnan(at(maps, face.margin, 350, 140))
    assert np.nanmin(face.margin) >= 0.0, "the check found it clear"


def test_too_deep_is_below_zero_and_where_the_check_found_it(refused, at):
    maps = maps_of(refused)
    face = maps.faces[Side.FRONT]
    # 12.8 where 12.02 is clear; the raster may be off by what a ball falls in two cells.
    assert at(maps, face.margin, 70, 60) == pytest.approx(-0.78, abs=0.1)
    assert face.worst[2] == pytest.approx(-0.78, abs=0.1)
    assert face.worst[:2] == pytest.approx((70, 60), abs=2.0)
    assert at(maps, face.margin, 110, 90) > 0.0


def test_what_a_part_leaves_is_measured(scene):
    # Without its last ring the recess of 100 x 80 keeps a rim on all sides.
    program = scene.programs[0]
    view = program.cuts[0]
    moves = view.moves
    inner = (np.abs(moves.end[:, 0] - 80) < 36) & (np.abs(moves.start[:, 0] - 80) < 36)
    part = replace(view, moves=moves.take(inner))
    whole = replace(scene, programs=(replace(program, cuts=(part, program.cuts[1])),))
    face = maps_of(whole).faces[Side.FRONT]
    left = face.parts[0]
    reach = np.abs(moves.take(inner).end[:, 0] - 80).max() + 3
    expected = 100 * 80 - (2 * reach) * (2 * (reach - 10))
    assert left.area == pytest.approx(expected, rel=0.1)
    assert left.last and left.at is not None
    x, y = left.at
    assert abs(x - 80) > reach or abs(y - 70) > reach - 10
    # The rest of the same cut takes it away: then it was only left for later.
    both = replace(scene, programs=(replace(program, cuts=(part, *program.cuts)),))
    first, second = maps_of(both).faces[Side.FRONT].parts[:2]
    assert not first.last and first.area == left.area
    assert second.last and second.area < 0.01 * expected


def test_a_job_without_pieces_or_clamps_binds_nowhere(make_clock):
    maps = maps_of(make_clock(pieces=(), clamps=()))
    for face in maps.faces.values():
        assert face.worst is None
        assert np.isinf(face.margin[~np.isnan(face.margin)]).all()
