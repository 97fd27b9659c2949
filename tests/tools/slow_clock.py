"""A slow twin of the machine clock: the same stated motion, walked in tiny steps of time.

The motion (docs/feeds.md): along the path no faster than the feed, or the rapid speed; round a
curve of radius r no faster than the root of a r; speed changes by at most a a second; the tip
stands still at both ends, between rapids and feeds, where moves do not join and where the path
turns by more than 60 degrees; at other joints it is no faster than round an arc that touches both
moves, cuts the corner by 0.02 mm at most and takes half of the shorter move at most.

It shares no code with `toolpath.motion.clock`: lengths, headings and radii come from points on the
moves, and no formula of a trapezoid is used.
"""

from __future__ import annotations

import cmath
import itertools
import math

CUT = 0.02
STOP = 60.0
FINE = 2000


def place(move, share):
    """A point of a move, arcs by turning about their centre."""
    z = move.start[2] + (move.end[2] - move.start[2]) * share
    if move.sweep == 0.0:
        return tuple(a + (b - a) * share for a, b in zip(move.start, move.end, strict=True))
    centre = complex(*move.centre)
    spot = centre + (complex(*move.start[:2]) - centre) * cmath.exp(1j * move.sweep * share)
    return spot.real, spot.imag, z


def length_of(move):
    points = [place(move, i / FINE) for i in range(FINE + 1)]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def heading(move, share):
    """The direction of travel near a place, a unit vector."""
    low, high = max(0.0, share - 1e-6), min(1.0, share + 1e-6)
    a, b = place(move, low), place(move, high)
    gone = math.dist(a, b)
    return tuple((q - p) / gone for p, q in zip(a, b, strict=True))


def bend(move, length):
    """The radius of the path, by how much its heading turns from a quarter to three quarters."""
    if move.sweep == 0.0:
        return math.inf
    # Small turns add up over many pieces; a chord of a turn would be too short.
    pieces = 64
    heads = [heading(move, 0.25 + 0.5 * i / pieces) for i in range(pieces + 1)]
    turned = sum(between(a, b) for a, b in itertools.pairwise(heads))
    return length / 2.0 / turned


def between(a, b):
    """The angle between two unit vectors, well for small ones too."""
    return 2.0 * math.asin(min(1.0, math.dist(a, b) / 2.0))


def joint_speed(before, after, lengths, acceleration):
    """The greatest speed at the joint of two moves."""
    apart = max(abs(p - q) for p, q in zip(before.end, after.start, strict=True))
    if (before.kind == 0) != (after.kind == 0) or apart > CUT:
        return 0.0
    turn = between(heading(before, 1.0), heading(after, 0.0))
    if math.degrees(turn) > STOP:
        return 0.0
    if turn < 1e-5:  # less than the headings are known to
        return math.inf
    by_cut = CUT / (1.0 / math.cos(turn / 2.0) - 1.0)
    by_room = min(lengths) / 2.0 / math.tan(turn / 2.0)
    return math.sqrt(acceleration * min(by_cut, by_room))


def slow_seconds(moves, *, rapid, acceleration, step):
    """Seconds for moves that all have a length, in steps of `step` seconds."""
    lengths = [length_of(move) for move in moves]
    limits = []
    for move, length in zip(moves, lengths, strict=True):
        speed = (rapid if move.kind == 0 else move.feed) / 60.0
        limits.append(min(speed, math.sqrt(acceleration * bend(move, length))))
    gates = [
        min(joint_speed(moves[i], moves[i + 1], lengths[i : i + 2], acceleration), limits[i + 1])
        for i in range(len(moves) - 1)
    ]
    gates.append(0.0)
    ends = [sum(lengths[: i + 1]) for i in range(len(lengths))]
    return _walk(ends, limits, gates, acceleration, step)


def _walk(ends, limits, gates, acceleration, step):
    clock, along, speed, now = 0.0, 0.0, 0.0, 0
    while True:
        faster = min(speed + acceleration * step, limits[now])
        ahead = along + (speed + faster) / 2.0 * step
        for end, gate in zip(ends[now:], gates[now:], strict=True):
            room = max(0.0, end - ahead)
            faster = min(faster, math.sqrt(gate * gate + 2.0 * acceleration * room))
        ahead = along + (speed + faster) / 2.0 * step
        left = ends[now] - along
        if ahead >= ends[now] or left < acceleration * step * step:
            # To the very joint, in the part of a step that it takes.
            mean = max((speed + faster) / 2.0, acceleration * step / 2.0)
            clock += min(step, left / mean)
            along, speed = ends[now], min(faster, gates[now])
            now += 1
            if now == len(ends):
                return clock
            continue
        clock, along, speed = clock + step, ahead, faster
