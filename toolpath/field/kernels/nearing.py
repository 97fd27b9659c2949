"""The compiled search for the nearest triangle of a mesh along moves: arrays in, arrays out, no
checks. The front is `check/mesh.py`, which says why the bounds hold.

A place in the search is a row of `ITEM` numbers: a part of a move (least and greatest parameters,
middle, half way, bend and radius as in `check/paths.py`) and, below the tree, a triangle with the
angles that it may be turned by; and a row of three whole numbers: the level of the tree (-1 for a
triangle), its node, and a bit for each body of the cutter that may still be too near.
"""

from __future__ import annotations

import math

from toolpath.field.kernels.compiled import compiled, inner

ITEM = 25
"""Numbers of a place: 0 least, 3 greatest parameters, 6 middle, 9 half way, 12 bend, 13 radius,
14 corners, 23 first and 24 last angle."""
SEEN = 28
"""Numbers that are noted of a triangle: 0 corners as turned, 9 middle, 12 direction, 15 what span,
triangle and turn take off its bound, 18 their sizes, 21 gap, 22 body, 23 what a length along each
axis takes off the bound, 26 the corner and 27 the end of the angles that promise the least."""
_EVEN = 0.01
"""What a length takes off the bound at least, where it is asked what to split: speed only."""
COARSE, FINER = 4.0, 8.0
"""To what gaps are found at first, mm, and how many times finer each time: speed only."""
BODIES = 60
"""Bodies that have a bit of their own; those beyond share the last."""
_RAPID, _ARC = 0, 2


@inner()
def _at(path, share, tip):  # type: ignore[no-untyped-def]
    """The tip at a share of a line or an arc (kind, start, end, centre, sweep)."""
    for axis in range(3):
        tip[axis] = path[1 + axis] + (path[4 + axis] - path[1 + axis]) * share
    if path[0] == _ARC:
        x, y = path[1] - path[7], path[2] - path[8]
        first, last = math.hypot(x, y), math.hypot(path[4] - path[7], path[5] - path[8])
        radius, angle = first + (last - first) * share, math.atan2(y, x) + path[9] * share
        tip[0], tip[1] = path[7] + radius * math.cos(angle), path[8] + radius * math.sin(angle)


@inner()
def _lay(path, item):  # type: ignore[no-untyped-def]
    """Middle, half way, bend and radius of a part of a move, from its parameters."""
    box, square = path[0] == _RAPID, 0.0
    for axis in range(3):
        k = axis if box else 0
        way = path[4 + axis] - path[1 + axis]
        item[6 + axis] = path[1 + axis] + way * (item[k] + item[3 + k]) / 2.0
        item[9 + axis] = (abs(way) if box else way) * (item[3 + k] - item[k]) / 2.0
        square += item[9 + axis] * item[9 + axis]
    item[12], item[13] = 0.0, math.sqrt(square)
    if path[0] == _ARC:
        _lay_arc(path, item)


@inner()
def _lay_arc(path, item):  # type: ignore[no-untyped-def]
    """The same for an arc, whose half way goes along the tangent at its middle."""
    share, half = (item[0] + item[3]) / 2.0, (item[3] - item[0]) / 2.0
    x, y, sweep, rise = path[1] - path[7], path[2] - path[8], path[9], path[6] - path[3]
    first, last = math.hypot(x, y), math.hypot(path[4] - path[7], path[5] - path[8])
    grown, angle = last - first, math.atan2(y, x) + sweep * share
    radius, widest, c, s = first + grown * share, max(first, last), math.cos(angle), math.sin(angle)
    item[6], item[7] = path[7] + radius * c, path[8] + radius * s
    item[9] = (grown * c - radius * sweep * s) * half
    item[10] = (grown * s + radius * sweep * c) * half
    item[11] = rise * half
    item[12] = (widest * sweep * sweep + 2.0 * abs(grown * sweep)) * half * half / 2.0
    item[13] = math.sqrt((widest * sweep) ** 2 + grown * grown + rise * rise) * half


@inner()
def _sway(path, item, x, y, z):  # type: ignore[no-untyped-def]
    """The most that a step within a part of a move goes along a direction."""
    x, y, z, level = x * item[9], y * item[10], z * item[11], math.hypot(x, y)
    along = abs(x) + abs(y) + abs(z) if path[0] == _RAPID else abs(x + y + z)
    return along + item[12] * level


@inner()
def _forward(path, item, direction, tip):  # type: ignore[no-untyped-def]
    """The end, or the corner, of a part of a move that is furthest along a direction."""
    if path[0] == _RAPID:
        for axis in range(3):
            way = path[4 + axis] - path[1 + axis]
            share = item[3 + axis] if direction[axis] * way > 0.0 else item[axis]
            tip[axis] = path[1 + axis] + way * share
        return
    along = direction[0] * item[9] + direction[1] * item[10] + direction[2] * item[11]
    _at(path, item[3] if along > 0.0 else item[0], tip)


@inner()
def _from_cone(body, r, z):  # type: ignore[no-untyped-def]
    """From the half section of a pointed body to (r, z): out and up."""
    across, rise = body[1] - body[0], body[3] - body[2]
    if z >= body[3]:
        return max(r - body[1], 0.0), max(z - body[4], 0.0)
    if z >= body[2] and (r - body[0]) * rise <= (z - body[2]) * across:
        return 0.0, 0.0
    if r <= body[0] and z < body[2]:
        return 0.0, z - body[2]
    share = ((r - body[0]) * across + (z - body[2]) * rise) / (across * across + rise * rise)
    share = min(max(share, 0.0), 1.0)
    return r - (body[0] + share * across), z - (body[2] + share * rise)


@inner()
def _from_body(body, r, low, high):  # type: ignore[no-untyped-def]
    """How far the half section of a body is from an upright line, and the direction out and up."""
    z, corner = max(min(body[3], high), low), body[5]
    if corner > 0.0 and z < body[3]:
        out, up = max(r - (body[1] - corner), 0.0), z - body[3]
    elif corner > 0.0:
        out, up, corner = max(r - body[1], 0.0), max(z - body[4], 0.0), 0.0
    elif body[0] < body[1]:
        out, up = _from_cone(body, r, z)
    else:
        out, up = max(r - body[1], 0.0), z - min(max(z, body[2]), body[4])
    away = math.hypot(out, up)
    if away - corner <= 0.0:
        return 0.0, 0.0, 0.0
    return away - corner, out / away, up / away


@inner()
def _nearest(bodies, mask, tip, at, drift):  # type: ignore[no-untyped-def]
    """The least gap between the bodies and a point that may have drifted, and which body's."""
    r = max(math.hypot(at[0] - tip[0], at[1] - tip[1]) - drift[0], 0.0)
    low, high = at[2] - drift[1] - tip[2], at[2] + drift[1] - tip[2]
    gap, body = math.inf, 0
    for b in range(bodies.shape[0]):
        if mask >> min(b, BODIES - 1) & 1:
            found = _from_body(bodies[b], r, low, high)[0]
            if found < gap:
                gap, body = found, b
    return gap, body


@inner()
def _node(path, item, mask, bodies, box, drift, enough):  # type: ignore[no-untyped-def]
    """Which bodies may come nearer than `enough` to anything in a box (least and greatest corner),
    wherever it has drifted."""
    far_x = max(abs(box[0] - drift[3]), abs(box[3] - drift[3]))
    far_y = max(abs(box[1] - drift[4]), abs(box[4] - drift[4]))
    pad = drift[0] + 2.0 * math.hypot(far_x, far_y) * math.sin(drift[2] / 2.0)
    x = max(box[0] - item[6], 0.0) - max(item[6] - box[3], 0.0)
    y = max(box[1] - item[7], 0.0) - max(item[7] - box[4], 0.0)
    distance = math.hypot(x, y)
    r, scale = max(distance - pad, 0.0), 1.0 / distance if distance > 0.0 else 0.0
    low, high = box[2] - drift[1] - item[8], box[5] + drift[1] - item[8]
    kept = 0
    for b in range(bodies.shape[0]):
        if mask >> min(b, BODIES - 1) & 1:
            gap, out, up = _from_body(bodies[b], r, low, high)
            sway = _sway(path, item, x * scale * out, y * scale * out, up)
            if not gap - sway >= enough:
                kept |= 1 << min(b, BODIES - 1)
    return kept


@inner()
def _turn(drift, corners, angle, seen):  # type: ignore[no-untyped-def]
    """Corners as turned about the pivot, into seen[0:9]."""
    c, s = math.cos(angle), math.sin(angle)
    for k in range(0, 9, 3):
        x, y = corners[k] - drift[3], corners[k + 1] - drift[4]
        seen[k], seen[k + 1] = drift[3] + x * c - y * s, drift[4] + x * s + y * c
        seen[k + 2] = corners[k + 2]


@inner()
def _sized(item, drift, seen):  # type: ignore[no-untyped-def]
    """A triangle in the middle of its angles: corners, middle, and sizes of span, triangle and
    turn, into `seen`."""
    _turn(drift, item[14:23], (item[23] + item[24]) / 2.0, seen)
    for axis in range(3):
        seen[9 + axis] = (seen[axis] + seen[3 + axis] + seen[6 + axis]) / 3.0
    spread, arm = 0.0, 0.0
    for k in range(0, 9, 3):
        x, y, z = seen[k] - seen[9], seen[k + 1] - seen[10], seen[k + 2] - seen[11]
        spread = max(spread, x * x + y * y + z * z)
        arm = max(arm, math.hypot(seen[k] - drift[3], seen[k + 1] - drift[4]))
    seen[18], seen[19], seen[20] = item[13], math.sqrt(spread), arm * (item[24] - item[23]) / 2.0


@inner()
def _reach(item, drift, seen, x, y, z):  # type: ignore[no-untyped-def]
    """How far a triangle reaches from its middle against a direction, by itself, and with what it
    may be turned by: along the tangent, and by the rest of the arc."""
    half, level = (item[24] - item[23]) / 2.0, math.hypot(x, y)
    alone = reach = -math.inf
    for k in range(0, 9, 3):
        against = -(x * (seen[k] - seen[9]) + y * (seen[k + 1] - seen[10]))
        against -= z * (seen[k + 2] - seen[11])
        arm_x, arm_y = seen[k] - drift[3], seen[k + 1] - drift[4]
        swing = abs(y * arm_x - x * arm_y) * half
        rest = math.hypot(arm_x, arm_y) * half * half / 2.0
        alone = max(alone, against)
        reach = max(reach, against + swing + rest * level)
    return alone, reach


@inner()
def _triangle(path, item, mask, bodies, drift, enough, seen):  # type: ignore[no-untyped-def]
    """Which bodies may come nearer than `enough` to a triangle over all of a part of a move and of
    its angles; what was seen of it into `seen`."""
    _sized(item, drift, seen)
    x, y = seen[9] - item[6], seen[10] - item[7]
    distance = math.hypot(x, y)
    r, scale = max(distance - drift[0], 0.0), 1.0 / distance if distance > 0.0 else 0.0
    low, high = seen[11] - drift[1] - item[8], seen[11] + drift[1] - item[8]
    size = seen[18] + seen[19] + seen[20]
    kept, least, seen[21] = 0, math.inf, math.inf
    for b in range(bodies.shape[0]):
        if not mask >> min(b, BODIES - 1) & 1:
            continue
        gap, out, up = _from_body(bodies[b], r, low, high)
        dx, dy = x * scale * out, y * scale * out
        if gap < seen[21]:
            seen[12], seen[13], seen[14], seen[21], seen[22] = dx, dy, up, gap, b
        if gap - size >= enough:
            continue
        alone, reach = _reach(item, drift, seen, dx, dy, up)
        sway = _sway(path, item, dx, dy, up)
        bound = max(gap - sway - reach, gap - size)
        if bound >= enough:
            continue
        kept |= 1 << min(b, BODIES - 1)
        if bound < least:
            least, seen[15], seen[16], seen[17] = bound, sway, alone, reach - alone
            seen[23], seen[24] = math.copysign(_EVEN, dx) + dx, math.copysign(_EVEN, dy) + dy
            seen[25] = math.copysign(_EVEN, up) + up
    return kept


@inner()
def _end_of(path, item, drift, seen, tip, at):  # type: ignore[no-untyped-def]
    """The end of a part of a move, and the corner of a triangle at an end of its angles, that
    promise the least gap."""
    _forward(path, item, seen[12:15], tip)
    best, chosen = math.inf, 0
    for k in range(0, 9, 3):
        along = seen[12] * seen[k] + seen[13] * seen[k + 1] + seen[14] * seen[k + 2]
        if along < best:
            best, chosen = along, k
    swing = seen[13] * (seen[chosen] - drift[3]) - seen[12] * (seen[chosen + 1] - drift[4])
    seen[26], seen[27] = chosen // 3, 23 if swing > 0.0 else 24
    angle = item[int(seen[27])]
    c, s = math.cos(angle), math.sin(angle)
    x, y = item[14 + chosen] - drift[3], item[15 + chosen] - drift[4]
    at[0], at[1] = drift[3] + x * c - y * s, drift[4] + x * s + y * c
    at[2] = item[16 + chosen]


@inner()
def _told(best, group, how, growth):  # type: ignore[no-untyped-def]
    """To what the gap of a group is asked for by now."""
    return max(how[0] * growth, how[1] * best[1][group])


@inner()
def _offer(best, name, gap, tip, body):  # type: ignore[no-untyped-def]
    """Takes a gap that is nearer than what was known; name = group, row, owner."""
    if gap < best[1][name[0]]:
        _force(best, name, gap, tip, body)


@inner()
def _force(best, name, gap, tip, body):  # type: ignore[no-untyped-def]
    group = name[0]
    best[1][group] = gap
    for axis in range(3):
        best[2][group, axis] = tip[axis]
    best[3][group], best[4][group], best[5][group] = name[1], name[2], body


@inner()
def _put(items, marks, count, item, mark):  # type: ignore[no-untyped-def]
    """Puts a place among those that wait; how many do then."""
    for i in range(ITEM):
        items[count, i] = item[i]
    for i in range(3):
        marks[count, i] = mark[i]
    return count + 1


@inner()
def _span_halved(path, items, marks, count, item, mark, weight):  # type: ignore[no-untyped-def]
    """Puts both halves of a part of a move: of a box across the side that takes most off the bound,
    `weight` being that of a length along each axis. The half that it points to is put last."""
    axis, along = 0, item[9] * weight[0] + item[10] * weight[1] + item[11] * weight[2]
    if path[0] == _RAPID:
        for other in range(1, 3):
            if item[9 + other] * abs(weight[other]) > item[9 + axis] * abs(weight[axis]):
                axis = other
        along = weight[axis] * (path[4 + axis] - path[1 + axis])
    middle = (item[axis] + item[3 + axis]) / 2.0
    for half in range(2):
        _put(items, marks, count, item, mark)
        items[count, axis if (half == 1) == (along > 0.0) else 3 + axis] = middle
        _lay(path, items[count])
        count += 1
    return count


@inner()
def _turn_halved(items, marks, count, item, mark, last):  # type: ignore[no-untyped-def]
    """Puts both halves of the angles, that about the end `last` (23 or 24) of them last."""
    middle = (item[23] + item[24]) / 2.0
    for half in range(2):
        _put(items, marks, count, item, mark)
        items[count, 47 - last if half else last] = middle
        count += 1
    return count


@inner()
def _quartered(items, marks, count, item, mark, last):  # type: ignore[no-untyped-def]
    """Puts a triangle as four, by the middles of its sides; the one at the corner `last` last."""
    for at in range(4):
        part = 3 if at == 0 else (last + at) % 3
        _put(items, marks, count, item, mark)
        for k in range(3):
            one, two = (k, part) if part < 3 else (k, (k + 1) % 3)
            for axis in range(3):
                a, b = item[14 + 3 * one + axis], item[14 + 3 * two + axis]
                items[count, 14 + 3 * k + axis] = (a + b) / 2.0
        count += 1
    return count


@inner()
def _children(tree, items, marks, count, item, mark):  # type: ignore[no-untyped-def]
    """Puts the nodes below a node, the nearer one last, or the triangle of a leaf."""
    boxes, first, corners = tree
    level, node = mark[0] - 1, 2 * mark[1]
    if level < 0:
        count = _put(items, marks, count, item, mark)
        marks[count - 1, 0] = -1
        for k in range(9):
            items[count - 1, 14 + k] = corners[mark[1], k // 3, k % 3]
        return count
    away = 0.0
    for child in range(node, min(node + 2, first[level + 1] - first[level])):
        count = _put(items, marks, count, item, mark)
        marks[count - 1, 0], marks[count - 1, 1] = level, child
        found, box = 0.0, boxes[first[level] + child]
        for axis in range(3):
            found += ((box[axis] + box[3 + axis]) / 2.0 - item[6 + axis]) ** 2
        if child > node and found > away:
            marks[count - 2, 1], marks[count - 1, 1] = child, node
        away = found
    return count


@inner()
def _split(path, items, marks, count, item, mark, seen, least):  # type: ignore[no-untyped-def]
    """Splits a triangle by what takes most off its bound, of what is not small yet."""
    most, widest = -math.inf, 0
    for k in range(3):
        weight = seen[15 + k] + _EVEN * seen[18 + k]
        if 2.0 * seen[18 + k] > least and weight > most:
            most, widest = weight, k
    if widest == 0:
        return _span_halved(path, items, marks, count, item, mark, seen[23:26])
    if widest == 1:
        return _quartered(items, marks, count, item, mark, int(seen[26]))
    return _turn_halved(items, marks, count, item, mark, int(seen[27]))


@inner()
def _look_node(place, count, name, mesh, best, enough, least):  # type: ignore[no-untyped-def]
    """Looks at a node, and puts what is below it, or the halves of a move that reaches further."""
    path, items, marks, item, mark = place
    tree, bodies, drift, notes = mesh
    box = tree[0][tree[1][mark[0]] + mark[1]]
    mark[2] = _node(path, item, mark[2], bodies, box, drift, enough)
    if not mark[2]:
        return count
    gap, body = _nearest(bodies, mark[2], item[6:9], box[6:9], drift)
    _offer(best, name, gap, item[6:9], body)
    size = math.hypot(box[3] - box[0], box[4] - box[1]) / 2.0 + (box[5] - box[2]) / 2.0
    if item[13] > max(size, least):
        longest = notes[SEEN : SEEN + 3]
        longest[:] = 1.0
        return _span_halved(path, items, marks, count, item, mark, longest)
    return _children(tree, items, marks, count, item, mark)


@inner()
def _look_triangle(place, count, name, mesh, best, enough, least):  # type: ignore[no-untyped-def]
    """Looks at a triangle, and puts its parts; one too small to be split, of a group of which
    nothing was found yet, counts as found."""
    path, items, marks, item, mark = place
    _, bodies, drift, notes = mesh
    seen, tip, at = notes[:SEEN], notes[SEEN : SEEN + 3], notes[SEEN + 3 :]
    near = _triangle(path, item, mark[2], bodies, drift, enough, seen)
    _offer(best, name, seen[21], item[6:9], int(seen[22]))
    if not near:
        return count
    _end_of(path, item, drift, seen, tip, at)
    gap, body = _nearest(bodies, mark[2], tip, at, drift)
    _offer(best, name, gap, tip, body)
    mark[2] = near
    if 2.0 * max(seen[18], seen[19], seen[20]) > least:
        return _split(path, items, marks, count, item, mark, seen, least)
    if best[4][name[0]] < 0:
        _force(best, name, seen[21], item[6:9], int(seen[22]))
    return count


@inner()
def _search(place, name, mesh, best, how, coarse, looked):  # type: ignore[no-untyped-def]
    """Goes through a mesh for one move, to within `coarse` or what is asked for; returns the
    triangles looked at, or -1 for no room."""
    path, items, marks, item, mark = place
    tree, bodies, drift, _ = mesh
    room, group = len(items) - 1, name[0]
    item[0:3], item[3:6], item[23], item[24] = 0.0, 1.0, -drift[2], drift[2]
    mark[0], mark[1], mark[2] = len(tree[1]) - 2, 0, (1 << min(len(bodies), BODIES)) - 1
    _lay(path, item)
    count = _put(items, marks, 0, item, mark)
    while count:
        if count + 4 > room:
            return -1
        count -= 1
        _put(items, marks, room, items[count], marks[count])
        growth, enough = 2.0 ** (looked // int(how[5])), best[0][group]
        if best[4][group] >= 0:
            enough = best[1][group] - max(coarse, _told(best, group, how, growth))
        if mark[0] >= 0:
            count = _look_node(place, count, name, mesh, best, enough, how[2])
        else:
            looked += 1
            least = min(how[2] * growth, how[3])
            count = _look_triangle(place, count, name, mesh, best, enough, least)
    return looked


@compiled()
def least_gaps(moves, pairs, tree, tool, how, best, scratch):  # type: ignore[no-untyped-def]
    """Brings `best` to the least gap of each group over moves to one mesh; returns the triangles
    looked at in all, or -1 where more places wait than there is room for.

    All is gone through coarsely first, then finer: whoever goes on to the last at one place may
    long be busy beside the nearest one. A group of which nothing was found is done by then, as is
    one whose gap was asked for no finer.

    moves (k, 10): kind, start, end, centre, sweep. pairs = (row (k,), group (k,)). tree = boxes
    (n, 9) of the nodes of all levels with a corner of each, first (levels + 1,) of each level,
    corners (t, 3, 3). tool = bodies (b, 6), drift (5,) = side, rise, turn, pivot. how (7,) = gaps
    found to, or to a share; least length, at most; looked before, looks after which lengths double;
    owner. best = limit, gap, tip, row, owner, body. scratch = room for m places that wait and one
    more, (m + 1, ITEM), (m + 1, 3) whole numbers, and (SEEN + 6,).
    """
    (row, group), (bodies, drift), (items, marks, notes) = pairs, tool, scratch
    item, mark, mesh = items[len(items) - 1], marks[len(items) - 1], (tree, bodies, drift, notes)
    looked, owner, before, coarse = int(how[4]), int(how[6]), math.inf, COARSE
    while True:
        for n in range(len(row)):
            if before < math.inf:
                growth = 2.0 ** (looked // int(how[5]))
                if best[4][group[n]] < 0 or before <= _told(best, group[n], how, growth):
                    continue
            place, name = (moves[n], items, marks, item, mark), (group[n], row[n], owner)
            looked = _search(place, name, mesh, best, how, coarse, looked)
            if looked < 0:
                return -1
        if coarse <= how[0]:
            return looked
        before, coarse = coarse, max(coarse / FINER, how[0])
