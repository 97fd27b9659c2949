"""The reader against a slow one written apart, and against itself in other spellings."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from random_programs import programs, respelt, spelt
from slow_reader import slow_read

from toolpath.motion.moves import Kind
from toolpath.rs274.read import read_program
from toolpath.units import Unit

NEAR = 1e-7
"""What sums of increments and rounding may differ by, mm; less than any decimal written."""


@given(programs())
def test_the_reader_agrees_with_a_slow_one(lines):
    text = spelt(lines)
    table = read_program(text, unit=Unit.MM).moves
    rows = list(enumerate(table.line.tolist()))
    paths = [path for path in slow_read(text) if path.flat or path.start != path.end]
    for number in {path.line for path in paths} | set(table.line.tolist()):
        mine = [row for row, line in rows if line == number and moved(table, row)]
        theirs = [path for path in paths if path.line == number]
        if theirs and theirs[0].flat and table.kind[mine[0]] != Kind.ARC:
            compare_chords(table, mine, theirs[0])
            continue
        assert len(mine) == len(theirs), (text, number)
        for row, path in zip(mine, theirs, strict=True):
            assert (table.kind[row] == Kind.RAPID) == path.rapid
            for t in (0.0, 0.25, 0.5, 1.0):
                place = table.at(np.array([row]), np.array([t]))[0]
                np.testing.assert_allclose(place, path.at(t), atol=NEAR, err_msg=text)


def moved(table, row):
    return table.kind[row] == Kind.ARC or bool((table.start[row] != table.end[row]).any())


def compare_chords(table, rows, path):
    count = len(rows)
    for index, row in enumerate(rows):
        np.testing.assert_allclose(table.end[row], path.at((index + 1) / count), atol=1e-6)
    assert table.kind[rows[0]] == Kind.LINE


@given(programs(), st.randoms(use_true_random=False))
def test_another_spelling_gives_the_same_moves_bit_for_bit(lines, random):
    # NISTIR 6556 3.3: case, blanks, line numbers, comments and order of words have no effect.
    one = read_program(spelt(lines), unit=Unit.MM)
    other = read_program(respelt(lines, random), unit=Unit.MM)
    for column in ("kind", "start", "end", "centre", "sweep", "feed"):
        first, second = getattr(one.moves, column), getattr(other.moves, column)
        assert first.tobytes() == second.tobytes()
    assert one.dwell_seconds == other.dwell_seconds
