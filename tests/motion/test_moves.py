import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from toolpath.motion import moves as moves_module
from toolpath.motion.moves import Kind, Move, MoveTable


def arc(start, end, centre, sweep):
    return Move(kind=Kind.ARC, start=start, end=end, centre=centre, sweep=sweep, feed=100.0)


HELIX = arc((5, 0, 0), (5, 0, -1), (0, 0), 2 * math.pi)
SLANT = Move(kind=Kind.LINE, start=(0, 0, 0), end=(3, 4, 12), feed=100.0)
UNKNOWN = Move(kind=Kind.RAPID, start=(math.nan,) * 3, end=(math.nan, math.nan, 5))


def test_lengths():
    # A 3-4-12-13 box diagonal; a helix of radius 5 and pitch 1 is 31.431838 long.
    assert SLANT.length == 13.0
    assert HELIX.length == pytest.approx(31.431838, abs=1e-6)
    moves = MoveTable.of([SLANT, HELIX, UNKNOWN])
    assert moves.lengths()[:2] == pytest.approx([SLANT.length, HELIX.length])
    assert math.isnan(moves.lengths()[2])


def test_columns():
    moves = MoveTable.of([SLANT, HELIX, UNKNOWN])
    assert len(moves) == 3
    assert moves.kind.dtype == np.int8
    assert (moves.start.shape, moves.centre.shape) == ((3, 3), (3, 2))
    assert moves.known.tolist() == [True, True, False]
    chosen = moves.take(np.array([False, True, False]))
    assert (len(chosen), chosen.sweep[0], chosen.feed[0]) == (1, 2 * math.pi, 100.0)


def test_an_empty_table():
    moves = MoveTable.of([])
    assert len(moves) == 0
    assert moves.start.shape == (0, 3)
    assert np.isnan(moves.bounds()).all()


def test_places_along_moves():
    moves = MoveTable.of([SLANT, HELIX])
    found = moves.at(np.array([0, 1, 1, 1]), np.array([0.5, 0.25, 0.5, 1.0]))
    expected = [[1.5, 2, 6], [0, 5, -0.25], [-5, 0, -0.5], [5, 0, -1]]
    assert found == pytest.approx(np.array(expected), abs=1e-12)


def test_an_arc_whose_radii_differ_by_what_is_tolerated():
    move = arc((5, 0, 0), (0, 5.002, 0), (0, 0), math.pi / 2)
    middle, end = MoveTable.of([move]).at(np.array([0, 0]), np.array([0.5, 1.0]))
    assert math.hypot(middle[0], middle[1]) == pytest.approx(5.001)
    assert end == pytest.approx([0, 5.002, 0], abs=1e-12)


def test_bounds_know_the_extremes_of_arcs():
    half = arc((3, 0, 1), (-3, 0, 2), (0, 0), math.pi)
    assert MoveTable.of([half]).bounds() == pytest.approx(np.array([[-3, 0, 1], [3, 3, 2]]))
    other = arc((3, 0, 1), (-3, 0, 2), (0, 0), -math.pi)
    assert MoveTable.of([other]).bounds() == pytest.approx(np.array([[-3, -3, 1], [3, 0, 2]]))
    low, high = MoveTable.of([UNKNOWN, HELIX]).bounds()
    assert low == pytest.approx([-5, -5, -1])
    assert high == pytest.approx([5, 5, 5])


@given(
    first=st.floats(-4, 4),
    sweep=st.floats(-6.28, 6.28).filter(lambda s: abs(s) > 0.01),
    radius=st.floats(0.1, 100),
)
def test_bounds_hold_every_place_and_no_more(first, sweep, radius):
    def place(angle):
        return (7 + radius * math.cos(angle), -3 + radius * math.sin(angle), 0.0)

    moves = MoveTable.of([arc(place(first), place(first + sweep), (7, -3), sweep)])
    t = np.linspace(0, 1, 2001)
    dense = moves.at(np.zeros(len(t), dtype=np.intp), t)
    low, high = moves.bounds()
    assert (dense >= low - 1e-9).all()
    assert (dense <= high + 1e-9).all()
    assert dense.min(axis=0) == pytest.approx(low, abs=1e-5 * radius)
    assert dense.max(axis=0) == pytest.approx(high, abs=1e-5 * radius)


@pytest.mark.parametrize(
    "which",
    [
        slice(0, 0),
        slice(2, 5),
        slice(4, 99),
        np.array([4, 1, 1, -1, 0]),
        np.array([], dtype=np.intp),
        np.array([False, True, False, True, True, False]),
    ],
)
def test_rows_keep_their_arcs(which):
    moves = [SLANT, HELIX, UNKNOWN, arc((5, 0, 0), (0, 5, 0), (0, 0), 1.5), HELIX, SLANT]
    chosen = MoveTable.of(moves).take(which)
    wanted = MoveTable.of([moves[i] for i in np.arange(6)[which]])
    assert chosen.arcs.row.tolist() == np.flatnonzero(wanted.kind == Kind.ARC).tolist()
    np.testing.assert_array_equal(chosen.centre, wanted.centre)
    np.testing.assert_array_equal(chosen.sweep, wanted.sweep)
    np.testing.assert_array_equal(chosen.lengths(), wanted.lengths())


def test_parts_are_all_rows(monkeypatch):
    table = MoveTable.of([SLANT, HELIX, UNKNOWN, HELIX, HELIX])
    whole = table.lengths(), table.bounds()
    monkeypatch.setattr(moves_module, "_AT_ONCE", 2)
    assert [len(part) for part in table.parts()] == [2, 2, 1]
    np.testing.assert_array_equal(np.concatenate([p.sweep for p in table.parts()]), table.sweep)
    np.testing.assert_array_equal(table.lengths(), whole[0])
    np.testing.assert_array_equal(table.bounds(), whole[1])
