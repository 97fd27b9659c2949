import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.motion.arcfit import fit_arcs, moves_along
from toolpath.motion.moves import MoveTable
from toolpath.motion.pencil import BETWEEN
from toolpath.motion.runs import SHORTEST, Band, arcs_over

FLAT = 0.005


def flattened(wide, high, waves, swell):
    """A smooth curve thinned to chords within FLAT of it, its ends a little apart."""
    angle = np.linspace(0.0, 2.0 * np.pi - 0.05, 20_000)
    size = 1.0 + swell * np.sin(waves * angle)
    points = np.column_stack([wide * size * np.cos(angle), high * size * np.sin(angle)])
    return shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), FLAT)), points


def drawn(path, rows):
    edges = np.array([*rows, (*path[-1], 0.0)])
    table = MoveTable.of(moves_along(edges, 0, 0, 1, closed=False))
    spots = np.repeat(np.arange(len(table)), 65)
    return table, table.at(spots, np.tile(np.linspace(0, 1, 65), len(table)))[:, :2]


def sides(path, spots):
    """Distance of each spot from a path, positive to its left."""
    line = shapely.linestrings(path)
    away = shapely.distance(line, shapely.points(spots))
    where = shapely.line_locate_point(line, shapely.points(spots))
    near = shapely.get_coordinates(shapely.line_interpolate_point(line, where))
    on = shapely.get_coordinates(shapely.line_interpolate_point(line, where + 1e-4))
    ahead, aside = on - near, spots - near
    return away * np.sign(ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0])


@pytest.mark.parametrize("shape", [(38, 22, 1, 0.0), (28, 28, 3, 0.15), (32, 28, 7, 0.06)])
@pytest.mark.parametrize("band", [(0.0005, 0.005), (0.005, 0.0005), (0.005, 0.005)])
def test_arcs_stay_within_their_side_of_the_band(shape, band):
    path, _ = flattened(*shape)
    rows = arcs_over(path, Band(right=band[0], left=band[1]))
    _, spots = drawn(path, rows)
    off = sides(path, spots)
    assert off.max() <= band[1] + BETWEEN
    assert off.min() >= -band[0] - BETWEEN
    assert len(rows) < len(path) / (4.0 if band[0] == band[1] else 2.5)


@pytest.mark.parametrize("shape", [(38, 22, 1, 0.0), (28, 28, 3, 0.15), (30, 30, 1, 0.0)])
def test_with_a_sagitta_they_stay_within_the_band_of_the_curve_itself(shape):
    path, curve = flattened(*shape)
    strict = arcs_over(path, Band(right=0.005, left=0.005))
    rows = arcs_over(path, Band(right=0.005, left=0.005, sagitta=FLAT))
    _, spots = drawn(path, rows)
    assert (
        shapely.distance(shapely.linestrings(curve), shapely.points(spots)).max()
        <= 2 * 0.005 + BETWEEN
    )
    assert len(rows) <= len(strict)


def test_a_circle_keeps_its_radius_whatever_the_band():
    angle = np.linspace(0.0, 6.0, 1000)
    path = 20.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    rows = arcs_over(path, Band(right=0.0005, left=0.005, sagitta=0.005))
    table, _ = drawn(path, rows)
    radii = np.hypot(*(table.start[:, :2] - table.centre).T)
    assert len(rows) == 2 and radii == pytest.approx(20.0, abs=2e-4)


def test_two_points_are_a_line():
    assert arcs_over(np.array([[0.0, 1.0], [2.0, 3.0]]), Band(right=1.0, left=1.0)) == [(0, 1, 0)]


def test_no_short_edge_stays_at_the_end_of_a_run():
    # A half turn and a hair more: the arc that goes furthest would leave the hair.
    angle = np.linspace(0.0, math.pi + 0.002, 130)
    path = 12.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    table, _ = drawn(path, arcs_over(path, Band(right=0.001, left=0.001)))
    assert len(table) == 2 and table.lengths().min() > SHORTEST


@settings(deadline=None, max_examples=25)
@given(
    turns=st.lists(st.floats(-0.04, 0.04), min_size=3, max_size=60),
    length=st.floats(0.1, 0.8),
    band=st.tuples(st.floats(0.0005, 0.01), st.floats(0.0005, 0.01)),
)
def test_any_smooth_run_stays_in_its_band(turns, length, band):
    heading = np.cumsum(turns)
    steps = length * np.column_stack([np.cos(heading), np.sin(heading)])
    path = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    rows = arcs_over(path, Band(right=band[0], left=band[1]))
    _, spots = drawn(path, rows)
    assert rows[0][:2] == (0.0, 0.0)
    away = shapely.distance(shapely.linestrings(path), shapely.points(spots))
    assert away.max() <= max(band) + BETWEEN


def test_the_library_front_hands_the_band_on():
    path, _ = flattened(38, 22, 1, 0.0)
    one = fit_arcs(path, closed=False, tolerance=Band(right=0.0005, left=0.005))
    _, spots = drawn(path, [tuple(row) for row in one[:-1]])
    assert sides(path, spots).min() >= -0.0005 - BETWEEN
