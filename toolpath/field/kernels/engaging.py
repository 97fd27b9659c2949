"""Compiled loops that lead a cutter along stock with a bounded engaged angle: arrays in, arrays
out, no checks. All lengths are in cells; place (0, 0) is the middle of cell [0, 0].
"""

from __future__ import annotations

import math

from toolpath.field.kernels.compiled import compiled, inner


@inner(inlined=True)
def _at(field, x, y):  # type: ignore[no-untyped-def]
    """A field at a place, linear between the middles of cells; places must lie inside."""
    column, row = int(x), int(y)
    fx, fy = x - column, y - row
    low = field[row, column] * (1.0 - fx) + field[row, column + 1] * fx
    high = field[row + 1, column] * (1.0 - fx) + field[row + 1, column + 1] * fx
    return low * (1.0 - fy) + high * fy


@inner()
def _engaged(near, x, y, heading, edge, radius, rim):  # type: ignore[no-untyped-def]
    """The angle of the leading half of the rim about (x, y) further than `edge` from the path."""
    c, s = math.cos(heading), math.sin(heading)
    pitch = math.pi / (rim.shape[0] - 1)
    angle, before = 0.0, 0.0
    for k in range(rim.shape[0]):
        ux = c * rim[k, 0] - s * rim[k, 1]
        uy = s * rim[k, 0] + c * rim[k, 1]
        over = _at(near, x + radius * ux, y + radius * uy) - edge
        if k > 0:
            if over > 0.0 and before > 0.0:
                angle += pitch
            elif over > 0.0:
                angle += pitch * over / (over - before)
            elif before > 0.0:
                angle += pitch * before / (before - over)
        before = over
    return angle


@inner()
def _cut(near, ax, ay, bx, by, least, reach):  # type: ignore[no-untyped-def]
    """Lowers the distances from the path by those from a straight piece of it, up to `reach`."""
    rows, columns = near.shape
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    first = max(0, int(min(ay, by) - reach))
    last = min(rows - 1, int(max(ay, by) + reach) + 1)
    left = max(0, int(min(ax, bx) - reach))
    right = min(columns - 1, int(max(ax, bx) + reach) + 1)
    for row in range(first, last + 1):
        oy = row - ay
        for column in range(left, right + 1):
            old = near[row, column]
            if old < least:
                continue
            ox = column - ax
            share = 0.0
            if square > 0.0:
                share = min(1.0, max(0.0, (ox * dx + oy * dy) / square))
            ex, ey = ox - share * dx, oy - share * dy
            away = ex * ex + ey * ey
            if away < old * old:
                near[row, column] = math.sqrt(away)


@compiled()
def sweep_near(near, path, reach):  # type: ignore[no-untyped-def]
    """Lowers distances near (rows, columns) by those from a path (n, 2), up to `reach`."""
    for i in range(path.shape[0] - 1):
        _cut(near, path[i, 0], path[i, 1], path[i + 1, 0], path[i + 1, 1], reach - 6.0, reach)


@compiled()
def engaged_along(near, path, edge, radius, rim, angle):  # type: ignore[no-untyped-def]
    """The engaged angle at each place of a path (n, 2) on its way there, into angle (n,), as the
    stock stands when it comes there: near (rows, columns) is lowered by all of the path. Stock is
    what is further than `edge` from it."""
    for i in range(1, path.shape[0]):
        x, y = path[i, 0], path[i, 1]
        dx, dy = x - path[i - 1, 0], y - path[i - 1, 1]
        angle[i] = _engaged(near, x, y, math.atan2(dy, dx), edge, radius, rim)
        _cut(near, path[i - 1, 0], path[i - 1, 1], x, y, radius - 3.0, radius + 3.0)


@compiled()
def clear_along(near, path, edge, radius):  # type: ignore[no-untyped-def]
    """Whether discs of a radius about all places (n, 2) hold nothing further than `edge` from what
    was walked."""
    for i in range(path.shape[0]):
        x, y = path[i, 0], path[i, 1]
        for row in range(int(y - radius) + 1, int(y + radius) + 1):
            half = math.sqrt(max(0.0, radius * radius - (row - y) * (row - y)))
            for column in range(int(x - half) + 1, int(x + half) + 1):
                if near[row, column] > edge:
                    return False
    return True


@inner()
def _may(near, room, x, y, heading, side, bend, ahead, bound, radius, rim):  # type: ignore[no-untyped-def]
    """Whether an arc ahead stays in the room and its half and its end within the bound."""
    for k in range(1, 5):
        far = ahead * k / 4.0
        turn = side * bend * far / 2.0
        chord = far if abs(turn) < 1e-6 else far * math.sin(turn) / turn
        px = x + chord * math.cos(heading + turn)
        py = y + chord * math.sin(heading + turn)
        if _at(room, px, py) < 0.0:
            return False
        if k % 2 == 0 and (
            _engaged(near, px, py, heading + 2.0 * turn, radius, radius, rim) > bound
        ):
            return False
    return True


@inner()
def _steer(near, room, x, y, heading, side, bend, ahead, most, bound, radius, rim):  # type: ignore[no-untyped-def]
    """The bend furthest to the right of which the arc ahead may be; 1e9 for none."""
    step = most / 16.0
    if _may(near, room, x, y, heading, side, bend, ahead, bound, radius, rim):
        good = bend
        while True:
            if good <= -most:
                return -most
            bad = max(-most, good - step)
            if not _may(near, room, x, y, heading, side, bad, ahead, bound, radius, rim):
                break
            good = bad
            step *= 2.0
    else:
        bad = bend
        while True:
            if bad >= most:
                return 1e9
            good = min(most, bad + step)
            if _may(near, room, x, y, heading, side, good, ahead, bound, radius, rim):
                break
            bad = good
            step *= 2.0
    for _ in range(6):
        middle = (good + bad) / 2.0
        if _may(near, room, x, y, heading, side, middle, ahead, bound, radius, rim):
            good = middle
        else:
            bad = middle
    return good


@compiled()
def follow_front(near, room, start, way, rim, path, angle):  # type: ignore[no-untyped-def]
    """Goes along stock, as far to its side as the bound lets it.

    near (rows, columns): distances from what was walked, lowered on the way; stock is what is
    further than the radius. room: distance to the edge of where the centre may be, inside
    positive. start: x, y, heading. way: radius, bound, step, look ahead, sharpest bend, how far
    without stock before the first and after the last, the angle that counts as stock, the side of
    the stock (1 right, -1 left) and by how much a single step may pass the bound.
    path (n, 2) and angle (n,) are filled. Returns how many places, how many of them up to the last
    that cut, and the first that cut.
    """
    radius, bound, step, look, most = way[0], way[1], way[2], way[3], way[4]
    before, after, side, spare = way[5], way[6], way[8], way[9]
    x, y, heading, bend = start[0], start[1], start[2], 0.0
    path[0, 0], path[0, 1], angle[0] = x, y, 0.0
    count, last, first = 1, 0, -1
    idle = 0.0
    while count < path.shape[0]:
        ahead, sharp = look, most
        found, far, px, py, met, turn = 1e9, 0.0, x, y, 0.0, 0.0
        for _ in range(4):
            limited = min(sharp, max(-sharp, bend))
            found = _steer(
                near, room, x, y, heading, side, limited, ahead, sharp, bound, radius, rim
            )
            if found < 1e8:
                far = min(step, 0.2 / max(abs(found), 1e-9), ahead / 2.0)
                turn = side * found * far / 2.0
                chord = far if abs(turn) < 1e-6 else far * math.sin(turn) / turn
                px, py = x + chord * math.cos(heading + turn), y + chord * math.sin(heading + turn)
                met = _engaged(near, px, py, heading + 2.0 * turn, radius, radius, rim)
                if met <= bound + spare:
                    break
                found = 1e9
            ahead /= 2.0
            sharp *= 2.0
        if found > 1e8:
            break
        bend = found
        heading += 2.0 * turn
        _cut(near, x, y, px, py, radius - 3.0, radius + 3.0)
        x, y = px, py
        path[count, 0], path[count, 1], angle[count] = x, y, met
        count += 1
        if met > way[7]:
            idle = 0.0
            last = count
            if first < 0:
                first = count - 1
        else:
            idle += far
            if idle > (after if first >= 0 else before):
                break
    return count, last, first
