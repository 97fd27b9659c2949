"""The compiled loops of bounded engagement against plain Python and elementary geometry."""

import itertools
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


class SlowFollower:
    """`follow_front` again in plain Python, one place of a field at a time."""

    def __init__(self, near, room, way):
        self.near, self.room = near, room
        self.radius, self.bound, self.step, self.look, self.most = way[:5]
        self.before, self.after, self.bite, self.side, self.spare = way[5:]

    def value(self, field, x, y):
        column, row = int(x), int(y)
        fx, fy = x - column, y - row
        corner = [float(field[row + j, column + i]) for j in (0, 1) for i in (0, 1)]
        low = corner[0] * (1.0 - fx) + corner[1] * fx
        high = corner[2] * (1.0 - fx) + corner[3] * fx
        return low * (1.0 - fy) + high * fy

    def engaged(self, x, y, heading):
        """The share of each gap between two places of the rim that lies in stock, added up."""
        c, s = math.cos(heading), math.sin(heading)
        over = []
        for ahead, aside in RIM.tolist():
            px = x + self.radius * (c * ahead - s * aside)
            py = y + self.radius * (s * ahead + c * aside)
            over.append(self.value(self.near, px, py) - self.radius)
        total = 0.0
        for one, two in itertools.pairwise(over):
            if one > 0.0 and two > 0.0:
                total += math.pi / (len(over) - 1)
            elif max(one, two) > 0.0:
                total += math.pi / (len(over) - 1) * max(one, two) / abs(two - one)
        return total

    def ahead(self, x, y, heading, bend, far):
        """The place and the heading at the end of an arc."""
        turn = self.side * bend * far / 2.0
        chord = far if abs(turn) < 1e-6 else far * math.sin(turn) / turn
        px, py = x + chord * math.cos(heading + turn), y + chord * math.sin(heading + turn)
        return px, py, heading + 2.0 * turn

    def may(self, at, bend, far):
        ends = [self.ahead(*at, bend, far * k / 4.0) for k in (1, 2, 3, 4)]
        if any(self.value(self.room, x, y) < 0.0 for x, y, _ in ends):
            return False
        return all(self.engaged(*ends[k]) <= self.bound for k in (1, 3))

    def steer(self, at, bend, far, most):
        """The least bend that may be, walked to in growing steps and then halved in six."""
        step, good = most / 16.0, self.may(at, bend, far)
        inner = outer = bend
        while True:
            if good and inner <= -most:
                return -most
            if not good and outer >= most:
                return None
            tried = max(-most, inner - step) if good else min(most, outer + step)
            found = self.may(at, tried, far)
            if good and found:
                inner = tried
            elif good:
                outer = tried
                break
            elif found:
                inner = tried
                break
            else:
                outer = tried
            step *= 2.0
        for _ in range(6):
            middle = (inner + outer) / 2.0
            if self.may(at, middle, far):
                inner = middle
            else:
                outer = middle
        return inner

    def cut(self, start, end):
        reach, least = self.radius + 3.0, self.radius - 3.0
        dx, dy = end[0] - start[0], end[1] - start[1]
        square = dx * dx + dy * dy
        rows, columns = self.near.shape
        for row in range(rows):
            if not int(min(start[1], end[1]) - reach) <= row:
                continue
            if row > int(max(start[1], end[1]) + reach) + 1:
                break
            for column in range(columns):
                if not int(min(start[0], end[0]) - reach) <= column:
                    continue
                if column > int(max(start[0], end[0]) + reach) + 1:
                    break
                ox, oy = column - start[0], row - start[1]
                share = min(1.0, max(0.0, (ox * dx + oy * dy) / square)) if square > 0.0 else 0.0
                ex, ey = ox - share * dx, oy - share * dy
                old = self.near[row, column]
                if old >= least and ex * ex + ey * ey < float(old * old):
                    self.near[row, column] = math.sqrt(ex * ex + ey * ey)

    def next_place(self, at, bend):
        """The bend taken, the place and heading, how far and what is met there; None for none."""
        far, sharp = self.look, self.most
        for _ in range(4):
            found = self.steer(at, min(sharp, max(-sharp, bend)), far, sharp)
            if found is not None:
                go = min(self.step, 0.2 / max(abs(found), 1e-9), far / 2.0)
                place = self.ahead(*at, found, go)
                met = self.engaged(*place)
                if met <= self.bound + self.spare:
                    return found, place, go, met
            far, sharp = far / 2.0, sharp * 2.0
        return None

    def follow(self, start, most):
        at, bend, idle, first, last = tuple(start.tolist()), 0.0, 0.0, -1, 0
        path, angle = [at[:2]], [0.0]
        while len(path) < most:
            found = self.next_place(at, bend)
            if found is None:
                break
            bend, place, far, met = found
            self.cut(at, place)
            at = place
            path.append(at[:2])
            angle.append(met)
            if met > self.bite:
                idle, last = 0.0, len(path)
                first = len(path) - 1 if first < 0 else first
            else:
                idle += far
                if idle > (self.after if first >= 0 else self.before):
                    break
        return len(path), last, first, np.array(path), np.array(angle)


def walled_room(rng, shape):
    """A room that bends, and stock that was opened along a line through it."""
    rows, columns = np.indices(shape)
    wave = 6.0 * np.sin(columns / rng.uniform(8.0, 20.0))
    room = np.minimum.reduce(
        [columns - 18.0, shape[1] - 18.0 - columns, rows - 18.0 - wave, shape[0] - 18.0 - rows]
    )
    near = np.full(shape, 1e6, dtype=np.float32)
    y = rng.uniform(50.0, 60.0)
    kernels.sweep_near(near, np.array([[24.0, y], [shape[1] - 24.0, y + 3.0]]), RADIUS + 3.0)
    on = y + 3.0 * 16.0 / (shape[1] - 48.0)
    return near, room.astype(np.float32), np.array([40.0, on, rng.uniform(-0.1, 0.1)])


@pytest.mark.parametrize("seed", range(6))
def test_a_front_is_followed_as_plain_loops_do(seed):
    """The same number of places, and the same ones to a millionth of a cell: the last bit of a
    cosine may differ between two libraries."""
    rng = np.random.default_rng(seed)
    near, room, start = walled_room(rng, (100, 130))
    bound, side = rng.uniform(0.6, 1.7), float(rng.choice([-1.0, 1.0]))
    look, bend = rng.uniform(4.0, 7.0), rng.uniform(0.15, 0.4)
    way = np.array([RADIUS, bound, 0.9, look, bend, 2.0 * RADIUS, RADIUS, 0.2, side, 0.026])
    slow = SlowFollower(near.copy(), room, way)
    path, angle = np.empty((60, 2)), np.empty(60)
    count, last, first = kernels.follow_front(near, room, start, way, RIM, path, angle)
    slow_count, slow_last, slow_first, slow_path, slow_angle = slow.follow(start, 60)
    assert (count, last, first) == (slow_count, slow_last, slow_first)
    assert count > 10
    np.testing.assert_allclose(path[:count], slow_path, rtol=0.0, atol=1e-6)
    np.testing.assert_allclose(angle[:count], slow_angle, rtol=0.0, atol=1e-6)
    np.testing.assert_allclose(near, slow.near, rtol=0.0, atol=1e-4)
