"""Compiled loop over lines of common words of a program. The front is `rs274/common.py`.

It judges nothing: a line that is not wholly plain, or that is near any limit, is left to the
interpreter. All sums are those of the interpreter, in the same order.
"""

from __future__ import annotations

import math

import numpy as np

from toolpath.field.kernels.compiled import compiled, inner

LETTERS = "XYZIJFGN"
X, Y, Z, I, J, F, G, N = range(8)  # noqa: E741

_INDEX = np.full(256, -1, dtype=np.int64)
for _number_of, _letter in enumerate(LETTERS):
    _INDEX[ord(_letter)] = _INDEX[ord(_letter.lower())] = _number_of
_DIGITS = 15  # so many are exact in float64, as a whole number and as a power of ten
_POWERS = 10.0 ** np.arange(_DIGITS + 1)
_LINE, _LABEL = 256, 5
_COMMENT = 1 << 20  # among the groups: a comment was met, so that no N may follow
_TURN = 2.0 * math.pi
_CENTRE = (1 << I) | (1 << J)


@inner(inlined=True)
def _byte(data, at):  # type: ignore[no-untyped-def]
    """data[at]; an index that cannot be negative is not looked at twice."""
    return int(data[np.uint64(at)])


@inner(inlined=True)
def _value(data, at):  # type: ignore[no-untyped-def]
    """A plain decimal number from `at` on: its value, where it ends, whether it has digits only;
    the end is -1 if it is not one. Whole digits below 2 ** 53 over a power of ten are rounded
    once, so the value is that of `float`."""
    first, negative = at, _byte(data, at) == 45
    if negative or _byte(data, at) == 43:
        at += 1
    start, mantissa = at, 0
    c = _byte(data, at)
    while 48 <= c <= 57:
        mantissa = 10 * mantissa + (c - 48)
        at += 1
        c = _byte(data, at)
    digits, decimals = at - start, 0
    if c == 46:
        at += 1
        c = _byte(data, at)
        while 48 <= c <= 57:
            mantissa = 10 * mantissa + (c - 48)
            at += 1
            c = _byte(data, at)
        decimals = at - start - digits - 1
    if digits + decimals == 0 or digits + decimals > _DIGITS:
        return 0.0, -1, False
    value = mantissa / _POWERS[decimals]
    return -value if negative else value, at, start == first and at == first + digits


@inner(inlined=True)
def _comment_end(data, at):  # type: ignore[no-untyped-def]
    """Where a comment that begins at `at` is over; -1 if it is not plain and closed."""
    at += 1
    while _byte(data, at) != 41:
        c = _byte(data, at)
        if c == 40 or c > 126 or (c < 32 and c != 9):
            return -1
        at += 1
    return at + 1


@inner(inlined=True)
def _word(data, at, values, given, groups, allowed):  # type: ignore[no-untyped-def]
    """One word: where it ends (-1: not plain), the letters given and the groups met so far."""
    letter = _INDEX[_byte(data, at)]
    if letter < 0:
        return -1, given, groups
    value, end, bare = _value(data, at + 1)
    if end < 0 or value >= 1e7 or value <= -1e7:
        return -1, given, groups
    if letter == N:
        plain = bare and end - at - 1 <= _LABEL and given == 0 and groups == 0
        return end if plain else -1, given | (1 << N), groups
    if letter == G:
        code = int(value) if bare and value < allowed.size else 0
        group = allowed[code]
        if not bare or value >= allowed.size or group == 0 or groups & group:
            return -1, given, groups
        if code <= 3:
            values[G] = code
            given |= 1 << G
        return end, given, groups | group
    if given & (1 << letter):
        return -1, given, groups
    values[letter] = value
    return end, given | (1 << letter), groups


@inner(inlined=True)
def _split(data, at, values, allowed):  # type: ignore[no-untyped-def]
    """The words of the line at `at`: where the next begins (-1: not plain) and what was given."""
    start, given, groups = at, 0, 0
    while True:
        c = _byte(data, at)
        if c == 10 or c == 13:
            break
        if c == 32 or c == 9:
            at += 1
        elif c == 40:
            at = _comment_end(data, at)
            groups |= _COMMENT
        else:
            at, given, groups = _word(data, at, values, given, groups, allowed)
        if at < 0:
            return -1, 0
    if at - start > _LINE:
        return -1, 0
    return at + (2 if c == 13 and _byte(data, at + 1) == 10 else 1), given


@inner()
def _arc(ends, i, j, clockwise, limits):  # type: ignore[no-untyped-def]
    """Sweep of an arc by its centre, as `rs274/arcs.py` has it; 0 for one near any limit."""
    tolerance, same, tiny = limits
    cx, cy = ends[0] + i, ends[1] + j
    ax, ay, bx, by = ends[0] - cx, ends[1] - cy, ends[2] - cx, ends[3] - cy
    first, last = math.sqrt(ax * ax + ay * ay), math.sqrt(bx * bx + by * by)
    if not (abs(first - last) < 0.999 * tolerance and min(first, last) > 10.0 * same):
        return 0.0
    angle = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    apart = abs(angle) * first
    if apart < 0.5 * same:
        return -_TURN if clockwise else _TURN
    if apart < 2.0 * same:
        return 0.0
    if clockwise:
        angle = angle if angle < 0.0 else angle - _TURN
    else:
        angle = angle if angle > 0.0 else angle + _TURN
    return angle if abs(angle) > 2.0 * tiny else 0.0


@inner(inlined=True)
def _go(values, given, path, row, modes):  # type: ignore[no-untyped-def]
    """Writes where a line goes; False for an increment from an unknown place."""
    for axis in range(3):
        end = path[row, axis]
        if given & (1 << axis):
            step = values[axis] * modes[0]
            if modes[1] != 0.0:
                if math.isnan(end):
                    return False
                step += end
            end = step
        path[row + 1, axis] = end
    return True


@inner()
def _may_arc(given, path, row):  # type: ignore[no-untyped-def]
    """Whether the words and the start of an arc say where it runs."""
    in_plan = given & ((1 << X) | (1 << Y)) and given & _CENTRE
    known = not (math.isnan(path[row, 0]) or math.isnan(path[row, 1]))
    return in_plan and known and not (given & (1 << Z) and math.isnan(path[row, 2]))


@inner()
def _turn(values, given, path, centre, places, clockwise, modes, limits):  # type: ignore[no-untyped-def]
    """Writes the centre of an arc and returns its sweep; 0 for one that is not plain. `places`:
    its row, and its number among the arcs."""
    row, arc = places
    if modes[3] == 0.0 or not _may_arc(given, path, row):
        return 0.0
    i = values[I] * modes[0] if given & (1 << I) else 0.0
    j = values[J] * modes[0] if given & (1 << J) else 0.0
    centre[arc, 0], centre[arc, 1] = path[row, 0] + i, path[row, 1] + j
    ends = path[row, 0], path[row, 1], path[row + 1, 0], path[row + 1, 1]
    return _arc(ends, i, j, clockwise, limits)


@compiled(counted=False)
def common_lines(data, span, count, state, modes, allowed, limits, values, into):  # type: ignore[no-untyped-def]
    """Runs lines of common words, one after the other, up to the first that is not plain.

    Parameters
    ----------
    data : (n,) uint8, of which span = (first, stop, line, last line) are lines with their ends;
        `line` is the number of the first one, and none after `last line` is run.
    count : (3,) rows there are, how many there may be, and arcs there are.
    state : (2,) float64, changed: motion 0 to 3 (-1: none), feed mm/min (0: none).
    modes : (4,) float64: mm of a unit, whether increments, whether feed moves need no note,
        whether arcs are in the XY plane.
    allowed : (100,) int64 a bit for the modal group of each G code that may stand, 0 for others.
    limits : tolerance of an arc's radius, shortest arc, smallest sweep.
    values : (8,) float64, the numbers of a line by their letters.
    into : columns kind, path (one row more, of which the first `count + 1` are there), feed, line;
        of arcs row, centre, sweep.

    Returns the place after the last line that was run, the place of that line, the number of the
    next line, and the rows and the arcs that there are now.
    """
    at, stop, number, last = span
    row, most, arc = count
    kind, path, feeds, line, arcs, centre, sweep = into
    before, scale = at, modes[0]
    now, feed_now = int(state[0]), state[1]
    while at < stop and number <= last and row < most:
        following, given = _split(data, at, values, allowed)
        if following < 0:
            break
        motion = int(values[G]) if given & (1 << G) else now
        feed = values[F] * scale if given & (1 << F) else feed_now
        if given & (1 << F) and values[F] < 0.0:
            break
        if given & 7:
            if motion < 0 or not _go(values, given, path, row, modes):
                break
            if motion > 0 and (feed <= 0.0 or modes[2] == 0.0):
                break
            turn = 0.0
            if motion >= 2:
                places = row, arc
                turn = _turn(values, given, path, centre, places, motion == 2, modes, limits)
            if (turn != 0.0) != (motion >= 2) or (motion < 2 and given & _CENTRE):
                break
            kind[row], line[row] = min(motion, 2), number
            if motion >= 2:
                arcs[arc], sweep[arc] = row, turn
                arc += 1
            feeds[row] = feed if motion > 0 else 0.0
            row += 1
        elif given & (_CENTRE | (1 << G)):
            break
        now, feed_now = motion, feed
        before, at, number = at, following, number + 1
    state[0], state[1] = now, feed_now
    return at, before, number, row, arc
