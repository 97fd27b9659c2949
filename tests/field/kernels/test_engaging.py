"""The compiled loops of bounded engagement against plain Python and elementary geometry."""

import math

import numpy as np
import pytest
import shapely

from toolpath.field import kernels
from toolpath.plan.near import RIM

RADIUS = 12.0
ANGLES = np.linspace(-math.pi / 2, math.pi / 2, 3601)


def field(rows=90, columns=140):
    return np.full((rows, columns), 1e6, dtype=np.float32)


def slow_distance(shape, path):
    """Distance of every cell from a path, by a library."""
    rows, columns = np.indices(shape)
    line = shapely.linestrings(path)
    return shapely.distance(line, shapely.points(columns.ravel(), rows.ravel())).reshape(shape)


def slow_engaged(walked, place, heading):
    """Share of the leading half of the rim in stock: dense places, the stock from the walked line
    itself."""
    rim = place + RADIUS * np.column_stack([np.cos(heading + ANGLES), np.sin(heading + ANGLES)])
    away = shapely.distance(shapely.linestrings(walked), shapely.points(rim))
    return float((away > RADIUS).mean()) * math.pi


def test_distances_are_those_of_the_path():
    path = np.array([[30.2, 40.1], [70.0, 44.3], [90.0, 30.0]])
    near = field()
    kernels.sweep_near(near, path, RADIUS + 3.0)
    true = slow_distance(near.shape, path)
    band = np.abs(true - RADIUS) < 2.0
    assert np.abs(near - true)[band].max() < 1e-4
    assert (near[true > RADIUS + 6.0] > RADIUS).all()


@pytest.mark.parametrize("step", [1.0, 4.0, 8.0, 12.0, 18.0])
def test_the_engaged_angle_along_a_straight_front(step):
    """acos(1 - step / radius): elementary, and in any handbook of milling."""
    near = field()
    kernels.sweep_near(near, np.array([[20.0, 50.0], [120.0, 50.0]]), RADIUS + 3.0)
    path = np.column_stack([np.linspace(30, 110, 161), np.full(161, 50.0 - step)])
    angle = np.zeros(161)
    kernels.engaged_along(near, path, RADIUS, RADIUS, RIM, angle)
    wanted = math.acos(1.0 - step / RADIUS)
    assert np.abs(angle[40:] - wanted).max() < math.radians(1.5)


def test_clear_places_are_those_within_what_was_walked():
    near = field()
    kernels.sweep_near(near, np.array([[30.0, 45.0], [100.0, 45.0]]), RADIUS + 3.0)
    assert kernels.clear_along(near, np.array([[40.0, 45.0], [90.0, 45.0]]), RADIUS, RADIUS - 1)
    assert not kernels.clear_along(near, np.array([[40.0, 48.0]]), RADIUS, RADIUS - 1)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_front_is_followed_within_the_bound(side):
    bound = math.radians(60.0)
    near, room = field(140, 220), np.empty((140, 220), dtype=np.float32)
    rows, columns = np.indices(room.shape)
    room[:] = np.minimum.reduce([columns - 20.0, 200.0 - columns, rows - 20.0, 120.0 - rows])
    walked = np.array([[25.0, 70.0], [195.0, 70.0]])
    kernels.sweep_near(near, walked, RADIUS + 3.0)
    way = np.array([RADIUS, bound, 0.8, 6.0, 0.28, RADIUS, RADIUS, 0.2, side, math.radians(1.5)])
    start = np.array([60.0, 70.0, 0.0])
    path, angle = np.empty((400, 2)), np.empty(400)
    count, last, first = kernels.follow_front(near, room, start, way, RIM, path, angle)
    assert 0 <= first < last <= count
    column, row = np.round(path[:count]).astype(int).T
    assert (room[row, column] > -1.0).all()
    known = walked
    for k in range(1, last):
        ahead = path[k] - path[k - 1]
        met = slow_engaged(known, path[k], math.atan2(ahead[1], ahead[0]))
        assert met <= bound + math.radians(7.0), (
            k,
            math.degrees(met),
            math.degrees(angle[k]),
            path[k],
        )
        known = np.vstack([known, path[k]]) if k > 1 else np.vstack([walked, start[:2], path[1]])
    settled = angle[first + 20 : first + 80]
    assert np.abs(settled - bound).max() < math.radians(3.0)
    assert (side * (path[last - 1, 1] - 70.0)) < 0.0
