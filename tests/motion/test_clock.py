import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.motion import clock
from toolpath.motion.clock import seconds
from toolpath.motion.moves import Kind, Move, MoveTable


def table(points, *, feed=1000.0, kind=Kind.LINE):
    ends = itertools.pairwise(points)
    feed = 0.0 if kind is Kind.RAPID else feed
    return MoveTable.of(Move(kind=kind, start=tuple(a), end=tuple(b), feed=feed) for a, b in ends)


def along(count, step, **changes):
    return table([(i * step, 0.0, 0.0) for i in range(count + 1)], **changes)


def total(moves, acceleration, rapid=5000.0):
    return float(seconds(moves, rapid=rapid, acceleration=acceleration).sum())


def trapezoid(length, speed, acceleration):
    """Time of a move from rest to rest, closed formula."""
    if length >= speed * speed / acceleration:
        return length / speed + speed / acceleration
    return 2 * math.sqrt(length / acceleration)


def test_two_thousand_short_moves():
    # NISTIR 6556 5.3: 2000 moves of 0.1 mm at 1000 mm/min take 12 s.
    assert total(along(2000, 0.1), math.inf) == pytest.approx(12.0)


@pytest.mark.parametrize("length", [0.01, 1.0, 1.2, 1.3, 5.0, 400.0])
@pytest.mark.parametrize("kind", [Kind.LINE, Kind.RAPID])
def test_one_move_from_rest_to_rest(length, kind):
    feed = 1500.0
    moves = along(1, length, feed=feed, kind=kind)
    expected = trapezoid(length, feed / 60, 500.0)
    assert total(moves, 500.0, rapid=feed) == pytest.approx(expected)


def test_the_way_to_reach_a_speed():
    # v² / 2a: at 200 mm/s² it takes 1.5625 mm to reach 1500 mm/min, 25 mm/s, so a move of twice
    # that just reaches it, in 0.25 s.
    assert total(along(1, 3.125, feed=1500.0), 200.0) == pytest.approx(0.25)
    split = seconds(along(2, 1.5625, feed=1500.0), rapid=1.0, acceleration=200.0)
    assert split == pytest.approx([0.125, 0.125])


@pytest.mark.parametrize("count", [2, 10, 1000])
def test_collinear_pieces_take_as_long_as_the_whole(count):
    whole = total(along(1, 50.0), 300.0)
    assert total(along(count, 50.0 / count), 300.0) == pytest.approx(whole)


def test_a_change_of_feed_is_made_within_the_slower_move_only():
    fast, slow = along(1, 50.0, feed=3000.0), table([(50, 0, 0), (60, 0, 0)], feed=600.0)
    both = MoveTable.of(
        Move(kind=Kind.LINE, start=tuple(t.start[0]), end=tuple(t.end[0]), feed=float(t.feed[0]))
        for t in (fast, slow)
    )
    first, second = seconds(both, rapid=5000.0, acceleration=500.0)
    v, w, a = 50.0, 10.0, 500.0
    ramps = v / a + (v - w) / a
    level = 50.0 - v * v / (2 * a) - (v * v - w * w) / (2 * a)
    assert first == pytest.approx(ramps + level / v)
    assert second == pytest.approx(w / a + (10.0 - w * w / (2 * a)) / w)


@pytest.mark.parametrize(("degrees", "stops"), [(61, True), (90, True), (180, True), (59, False)])
def test_corners_over_sixty_degrees_are_a_full_stop(degrees, stops):
    turn = math.radians(degrees)
    corner = (20.0, 0.0, 0.0)
    end = (20 + 20 * math.cos(turn), 20 * math.sin(turn), 0.0)
    spent = total(table([(0.0, 0.0, 0.0), corner, end]), 500.0)
    rest = 2 * trapezoid(20, 1000 / 60, 500.0)
    assert (spent == pytest.approx(rest)) == stops
    assert spent <= rest + 1e-9


def test_rapids_and_feed_moves_are_parted_by_a_stop():
    moves = MoveTable.of(
        [
            Move(kind=Kind.RAPID, start=(0, 0, 0), end=(30, 0, 0)),
            Move(kind=Kind.LINE, start=(30, 0, 0), end=(60, 0, 0), feed=1200.0),
        ]
    )
    spent = seconds(moves, rapid=3000.0, acceleration=400.0)
    assert spent == pytest.approx([trapezoid(30, 50, 400), trapezoid(30, 20, 400)])


def circle_as_chords(radius, count, feed):
    angle = np.linspace(0, 2 * np.pi, count + 1)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 0 * angle])
    return table(points.tolist(), feed=feed)


def circle_as_arcs(radius, feed, drop=0.0):
    out, back = (radius, 0.0, 0.0), (-radius, 0.0, -drop / 2)
    return MoveTable.of(
        Move(kind=Kind.ARC, start=a, end=b, centre=(0, 0), sweep=math.pi, feed=feed)
        for a, b in ((out, back), (back, (radius, 0.0, -drop)))
    )


def test_round_a_circle_the_acceleration_rules():
    # v² / r = a: radius 2 at 200 mm/s² allows 20 mm/s, 1200 mm/min.
    spent = total(circle_as_arcs(2.0, 6000.0), 200.0)
    assert spent == pytest.approx(trapezoid(4 * math.pi, 20.0, 200.0))
    slower = total(circle_as_arcs(2.0, 600.0), 200.0)
    assert slower == pytest.approx(trapezoid(4 * math.pi, 10.0, 200.0))


@pytest.mark.parametrize("count", [90, 360, 3000])
def test_a_circle_of_chords_takes_as_long_as_one_of_arcs(count):
    arcs = total(circle_as_arcs(5.0, 6000.0), 500.0)
    assert total(circle_as_chords(5.0, count, 6000.0), 500.0) == pytest.approx(arcs, rel=0.02)


def test_a_helix_is_timed_along_its_path():
    # One turn of radius 5 falling 1: hypot(10 pi, 1) = 31.431838 (NISTIR 6556 2.1.2.6).
    spent = total(circle_as_arcs(5.0, 600.0, drop=1.0), math.inf)
    assert spent == pytest.approx(31.431838 / 10, abs=1e-6)


def test_unknown_and_empty_moves_take_no_time():
    nowhere = math.nan
    moves = MoveTable.of(
        [
            Move(kind=Kind.RAPID, start=(nowhere, nowhere, nowhere), end=(nowhere, nowhere, 5)),
            Move(kind=Kind.RAPID, start=(nowhere, nowhere, 5), end=(1, 1, 5)),
            Move(kind=Kind.LINE, start=(1, 1, 5), end=(11, 1, 5), feed=600.0),
            Move(kind=Kind.LINE, start=(11, 1, 5), end=(11, 1, 5), feed=600.0),
            Move(kind=Kind.LINE, start=(11, 1, 5), end=(21, 1, 5), feed=600.0),
        ]
    )
    spent = seconds(moves, rapid=1000.0, acceleration=500.0)
    assert spent[[0, 1, 3]].tolist() == [0, 0, 0]
    assert spent.sum() == pytest.approx(trapezoid(20, 10, 500))
    assert seconds(MoveTable.of([]), rapid=1.0, acceleration=1.0).shape == (0,)


@pytest.mark.parametrize(("rapid", "acceleration"), [(0.0, 1.0), (1.0, 0.0), (math.nan, 1.0)])
def test_speeds_must_be_positive(rapid, acceleration):
    with pytest.raises(ValueError, match="positive"):
        seconds(along(1, 1.0), rapid=rapid, acceleration=acceleration)


def test_a_feed_move_without_a_feed():
    with pytest.raises(ValueError, match="feed"):
        seconds(along(1, 1.0, feed=0.0), rapid=1.0, acceleration=1.0)


point = st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(-20, 5))


@given(
    points=st.lists(point, min_size=2, max_size=20),
    low=st.floats(10, 1000),
    more=st.floats(1, 50),
)
def test_more_acceleration_is_never_slower(points, low, more):
    moves = table(points)
    slow, fast, most = (total(moves, a) for a in (low, low * more, math.inf))
    assert slow >= fast * (1 - 1e-9)
    assert fast >= most * (1 - 1e-9)
    each = seconds(moves, rapid=5000.0, acceleration=low)
    assert (each >= moves.lengths() / (1000 / 60) * (1 - 1e-9)).all()


@given(points=st.lists(point, min_size=2, max_size=20), acceleration=st.floats(10, 1000))
def test_the_way_back_takes_as_long(points, acceleration):
    there, back = table(points), table(points[::-1])
    assert total(there, acceleration) == pytest.approx(total(back, acceleration), rel=1e-6)


@pytest.mark.parametrize("at_once", [1, 3])
def test_the_time_does_not_depend_on_how_much_is_looked_at_at_once(monkeypatch, at_once):
    turns = np.cumsum(np.random.default_rng(3).normal(size=40) * 0.4)
    points = np.cumsum(np.column_stack([np.cos(turns), np.sin(turns), 0.0 * turns]), axis=0)
    moves = table(points.tolist())
    whole = [seconds(moves, rapid=5000.0, acceleration=each) for each in (50.0, math.inf)]
    monkeypatch.setattr(clock, "_AT_ONCE", at_once)
    for found, each in zip(whole, (50.0, math.inf), strict=True):
        assert np.array_equal(seconds(moves, rapid=5000.0, acceleration=each), found)
