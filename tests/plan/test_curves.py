import math

import numpy as np
import pytest
import shapely

from toolpath.motion.arcfit import moves_along
from toolpath.motion.moves import MoveTable
from toolpath.plan.curves import Wall, curve_of, curves_of, total_length, wall_edges

ANGLES = np.linspace(0, 2 * np.pi, 361)
ROUND = 20 * np.column_stack([np.cos(ANGLES), np.sin(ANGLES)])


def test_a_closed_line_becomes_an_open_curve_with_its_length():
    curves = curves_of(ROUND, 0.002)
    assert len(curves) == 1
    assert not curves[0].closed
    assert total_length(curves) == pytest.approx(2 * math.pi * 20, abs=0.01)
    assert len(curves[0].edges) < 5


def test_ends_are_kept_exactly():
    (curve,) = curves_of(ROUND[:100], 0.002)
    assert curve.edges[0, :2].tolist() == ROUND[0].tolist()
    assert curve.edges[-1, :2].tolist() == ROUND[99].tolist()


def test_a_line_without_length_gives_nothing():
    assert curves_of(np.array([[1.0, 2.0], [1.0, 2.0]]), 0.001) == ()


def test_two_half_circles_measure_a_circle():
    edges = np.array([[5.0, 0.0, 1.0], [-5.0, 0.0, 1.0]])
    assert curve_of(edges, closed=True).length == pytest.approx(10 * math.pi)


def area_of(edges):
    table = MoveTable.of(moves_along(edges, 0, 0, 1, closed=False))
    rows = np.repeat(np.arange(len(table)), 33)
    return shapely.Polygon(table.at(rows, np.tile(np.linspace(0, 1, 33), len(table)))[:, :2])


def wavy(count=20_000):
    angle = np.linspace(0, 2 * np.pi, count)
    size = 30 * (1 + 0.15 * np.sin(3 * angle))
    line = shapely.linestrings(np.column_stack([size * np.cos(angle), size * np.sin(angle)]))
    return shapely.Polygon(shapely.simplify(line, 0.005))


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_along_a_wall_arcs_lie_on_the_side_away_from_it(turn):
    centres = wavy()
    loop = shapely.get_coordinates(centres.exterior)
    ccw = shapely.is_ccw(centres.exterior)
    loop = loop if ccw == (turn > 0) else loop[::-1]
    wall = Wall.of(centres, 3.0, turn)
    edges = wall_edges(loop, wall, closed=False)
    found = area_of(edges)
    assert found.difference(centres.buffer(0.0016)).is_empty  # never nearer to the wall
    assert centres.difference(found.buffer(0.0115)).is_empty
    # What they leave of the wall: under the house limit of what the cutter reaches.
    assert centres.difference(found).area < 1.2 * 1e-4 * centres.buffer(3.0).area
    assert len(edges) < len(loop) / 3


def test_a_wall_on_the_other_side_is_not_run_into():
    # A channel that leaves the centre 0.003 mm of room: a band of 0.005 would cross it.
    angle = np.linspace(0.0, 1.5, 90)
    arc = 40 * np.column_stack([np.cos(angle), np.sin(angle)])
    centres = shapely.linestrings(arc).buffer(0.0015, quad_segs=2)
    loop = shapely.get_coordinates(shapely.orient_polygons(centres).exterior)
    edges = wall_edges(loop, Wall.of(centres, 3.0, 1.0), closed=False)
    table = MoveTable.of(moves_along(edges, 0, 0, 1, closed=False))
    rows = np.repeat(np.arange(len(table)), 33)
    spots = table.at(rows, np.tile(np.linspace(0, 1, 33), len(table)))[:, :2]
    assert shapely.distance(centres, shapely.points(spots)).max() < 0.0015


def test_a_curve_may_begin_a_hair_beside():
    (curve,) = curves_of(ROUND[:100], 0.002)
    moved = curve.begun_at((20.0003, 0.0))
    assert moved.edges[0].tolist() == [20.0003, 0.0, curve.edges[0, 2]]
    assert moved.edges[1:].tolist() == curve.edges[1:].tolist()
    assert curve.begun_at(tuple(curve.edges[0, :2].tolist())) is curve
