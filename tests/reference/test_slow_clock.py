"""The machine clock against its slow twin, which walks the same motion in tiny steps."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from slow_clock import slow_seconds

from toolpath.motion.clock import seconds
from toolpath.motion.moves import Kind, Move, MoveTable

STEP = 4e-4
"""Seconds; the paths below take some seconds, so that the twin is right to a few thousandths."""


def both(moves, *, rapid, acceleration):
    fast = float(seconds(MoveTable.of(moves), rapid=rapid, acceleration=acceleration).sum())
    return fast, slow_seconds(moves, rapid=rapid, acceleration=acceleration, step=STEP)


def test_the_twin_knows_a_trapezoid_and_a_triangle():
    # From rest to rest, elementary: L / v + v / a where v is reached, else 2 sqrt(L / a).
    for length, expected in ((100.0, 100 / 20 + 20 / 400), (0.5, 2 * math.sqrt(0.5 / 400))):
        move = Move(kind=Kind.LINE, start=(0, 0, 0), end=(length, 0, 0), feed=1200.0)
        slow = slow_seconds([move], rapid=1.0, acceleration=400.0, step=1e-4)
        assert slow == pytest.approx(expected, rel=5e-3)


def test_the_twin_knows_a_circle():
    # v² / r = a: radius 2 at 200 mm/s² allows 20 mm/s.
    half = [
        Move(kind=Kind.ARC, start=a, end=b, centre=(0, 0), sweep=math.pi, feed=6000.0)
        for a, b in (((2.0, 0, 0), (-2.0, 0, 0)), ((-2.0, 0, 0), (2.0, 0, 0)))
    ]
    slow = slow_seconds(half, rapid=1.0, acceleration=200.0, step=1e-4)
    assert slow == pytest.approx(4 * math.pi / 20 + 20 / 200, rel=5e-3)


@st.composite
def chains(draw):
    """Moves that join: lines, arcs and helices at several feeds, and rapids between."""
    place, heading, moves = (0.0, 0.0, 0.0), 0.0, []
    for _ in range(draw(st.integers(2, 9))):
        kind = draw(st.sampled_from(["line", "line", "arc", "arc", "rapid"]))
        feed = draw(st.sampled_from([300.0, 900.0, 1500.0, 4000.0]))
        heading += math.radians(draw(st.sampled_from([0, 0, 5, -20, 45, 58, -75, 130])))
        size = draw(st.floats(0.3, 25.0))
        drop = draw(st.sampled_from([0.0, 0.0, -0.4, 0.3]))
        if kind == "arc":
            sweep = math.radians(draw(st.sampled_from([15, 90, -90, 180, -300])))
            move = arc(place, heading, size, sweep, drop)
            heading += sweep
            moves.append(Move(kind=Kind.ARC, feed=feed, **move))
        else:
            end = (
                place[0] + size * math.cos(heading),
                place[1] + size * math.sin(heading),
                place[2] + drop,
            )
            rapid = kind == "rapid"
            moves.append(
                Move(
                    kind=Kind.RAPID if rapid else Kind.LINE,
                    start=place,
                    end=end,
                    feed=0.0 if rapid else feed,
                )
            )
        place = moves[-1].end
    return moves


def arc(start, heading, radius, sweep, drop):
    side = math.copysign(1.0, sweep)
    x = start[0] - side * radius * math.sin(heading)
    y = start[1] + side * radius * math.cos(heading)
    first = heading - side * math.pi / 2.0
    end = (
        x + radius * math.cos(first + sweep),
        y + radius * math.sin(first + sweep),
        start[2] + drop,
    )
    return {"start": start, "end": end, "centre": (x, y), "sweep": sweep}


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    moves=chains(),
    rapid=st.sampled_from([2000.0, 5000.0]),
    acceleration=st.sampled_from([150.0, 500.0, 2000.0]),
)
def test_random_paths_take_as_long_within_half_a_hundredth(moves, rapid, acceleration):
    fast, slow = both(moves, rapid=rapid, acceleration=acceleration)
    assert fast == pytest.approx(slow, rel=0.005, abs=len(moves) * STEP)
