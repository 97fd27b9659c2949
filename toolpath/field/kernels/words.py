"""Compiled loop over lines of common words of a program. The front is `rs274/common.py`.

It judges nothing: a line that is not wholly plain, or that is near any limit, is left to the
interpreter. All sums are those of the interpreter, in the same order.
"""

from __future__ import annotations

import math

import numpy as np

from toolpath.field.kernels.compiled import compiled

LETTERS = "XYZIJFGN"
X, Y, Z, I, J, F, G, N = range(8)  # noqa: E741

_INDEX = np.full(256, -1, dtype=np.int64)
for _number_of, _letter in enumerate(LETTERS):
    _INDEX[ord(_letter)] = _INDEX[ord(_letter.lower())] = _number_of
_POWERS = 10.0 ** np.arange(23)  # all exact in float64
_MANTISSA = 10**14  # with one more digit still exact in float64
_LINE, _LABEL = 256, 5
_COMMENT = 1 << 20  # among the groups: a comment was met, so that no N may follow
_TURN = 2.0 * math.pi


@compiled()
def _value(data, at):  # type: ignore[no-untyped-def]
    """A plain decimal number from `at` on: its value, where it ends, whether it has digits only;
    the end is -1 if it is not one. Whole digits below 2 ** 53 over a power of ten are rounded
    once, so the value is that of `float`."""
    negative = data[at] == 45
    signed = negative or data[at] == 43
    if signed:
        at += 1
    mantissa, digits, decimals, dot = 0, 0, 0, False
    while True:
        c = data[at]
        if 48 <= c <= 57:
            if mantissa >= _MANTISSA:
                return 0.0, -1, False
            mantissa = 10 * mantissa + (c - 48)
            digits += 1
            decimals += dot
        elif c == 46 and not dot:
            dot = True
        else:
            break
        at += 1
    if digits == 0 or decimals > 22:
        return 0.0, -1, False
    value = mantissa / _POWERS[decimals]
    return -value if negative else value, at, not (signed or dot)


@compiled()
def _comment_end(data, at):  # type: ignore[no-untyped-def]
    """Where a comment that begins at `at` is over; -1 if it is not plain and closed."""
    at += 1
    while data[at] != 41:
        c = data[at]
        if c == 40 or c > 126 or (c < 32 and c != 9):
            return -1
        at += 1
    return at + 1


@compiled()
def _word(data, at, values, given, groups, allowed):  # type: ignore[no-untyped-def]
    """One word: where it ends (-1: not plain), the letters given and the groups met so far."""
    letter = _INDEX[data[at]]
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


@compiled()
def _split(data, at, values, allowed):  # type: ignore[no-untyped-def]
    """The words of the line at `at`: where the next begins (-1: not plain) and what was given."""
    start, given, groups = at, 0, 0
    while True:
        c = data[at]
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
    return at + (2 if c == 13 and data[at + 1] == 10 else 1), given


@compiled()
def _arc(here, end, offset, clockwise, limits):  # type: ignore[no-untyped-def]
    """Sweep of an arc by its centre, as `rs274/arcs.py` has it; 0 for one near any limit."""
    tolerance, same, tiny = limits
    cx, cy = here[0] + offset[0], here[1] + offset[1]
    ax, ay, bx, by = here[0] - cx, here[1] - cy, end[0] - cx, end[1] - cy
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


@compiled()
def _target(values, given, here, end, scale, relative):  # type: ignore[no-untyped-def]
    """Writes where a line goes to `end`; False for an increment from an unknown place."""
    for axis in range(3):
        end[axis] = here[axis]
        if given & (1 << axis):
            step = values[axis] * scale
            if relative:
                if math.isnan(here[axis]):
                    return False
                step += here[axis]
            end[axis] = step
    return True


@compiled()
def _may_arc(given, here):  # type: ignore[no-untyped-def]
    """Whether the words and the start of an arc say where it runs."""
    in_plan = given & ((1 << X) | (1 << Y)) and given & ((1 << I) | (1 << J))
    known = not (math.isnan(here[0]) or math.isnan(here[1]))
    return in_plan and known and not (given & (1 << Z) and math.isnan(here[2]))


@compiled()
def _move(values, given, row, state, modes, limits, into):  # type: ignore[no-untyped-def]
    """Writes the move of one line as a row; False if it is not plain."""
    kind, path, centre, sweep, feed, _ = into
    here, end, motion = path[row], path[row + 1], int(state[0])
    centre_given = given & ((1 << I) | (1 << J))
    if motion < 0 or not _target(values, given, here, end, modes[0], modes[1] != 0.0):
        return False
    centre[row, 0] = centre[row, 1] = np.nan
    sweep[row] = feed[row] = 0.0
    kind[row] = min(motion, 2)
    if motion > 0:
        if state[1] <= 0.0 or modes[2] == 0.0:
            return False
        feed[row] = state[1]
    if motion < 2:
        return not centre_given
    if modes[3] == 0.0 or not _may_arc(given, here):
        return False
    i = values[I] * modes[0] if given & (1 << I) else 0.0
    j = values[J] * modes[0] if given & (1 << J) else 0.0
    sweep[row] = _arc(here, end, (i, j), motion == 2, limits)
    centre[row, 0], centre[row, 1] = here[0] + i, here[1] + j
    return sweep[row] != 0.0


@compiled()
def common_lines(data, span, count, state, modes, allowed, limits, into):  # type: ignore[no-untyped-def]
    """Runs lines of common words, one after the other, up to the first that is not plain.

    Parameters
    ----------
    data : (n,) uint8, of which span = (first, stop, line, last line) are lines with their ends;
        `line` is the number of the first one, and none after `last line` is run.
    count : (2,) rows there are, and how many there may be.
    state : (2,) float64, changed: motion 0 to 3 (-1: none), feed mm/min (0: none).
    modes : (4,) float64: mm of a unit, whether increments, whether feed moves need no note,
        whether arcs are in the XY plane.
    allowed : (100,) int64 a bit for the modal group of each G code that may stand, 0 for others.
    limits : tolerance of an arc's radius, shortest arc, smallest sweep.
    into : columns kind, path (one row more, of which the first `count + 1` are there), centre,
        sweep, feed, line.

    Returns the place after the last line that was run, the place of that line, the number of the
    next line, and the rows that there are now.
    """
    at, stop, number, last = span
    row, most = count
    values, before = np.zeros(len(LETTERS)), at
    while at < stop and number <= last and row < most:
        following, given = _split(data, at, values, allowed)
        if following < 0:
            break
        moves, motion, feed = given & 7, state[0], state[1]
        if given & (1 << G):
            state[0] = values[G]
        if given & (1 << F):
            state[1] = values[F] * modes[0]
        plain = not (given & (1 << F) and values[F] < 0.0)
        if moves:
            plain = plain and _move(values, given, row, state, modes, limits, into)
        else:
            plain = plain and not given & ((1 << G) | (1 << I) | (1 << J))
        if not plain:
            state[0], state[1] = motion, feed
            break
        if moves:
            into[5][row] = number
            row += 1
        before, at, number = at, following, number + 1
    return at, before, number, row
