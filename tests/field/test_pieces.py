"""Flat tables as rectangles and pieces, beside the cells of the table counted one by one."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.field.pieces import plan, rectangles


def disc(radius):
    away = np.arange(-radius, radius + 1)
    half = np.floor(np.sqrt(radius**2 - away**2)).astype(np.int64)
    return np.stack([-half, half + 1], axis=1)


def cells(chords):
    return {(row, x) for row, (a, b) in enumerate(chords.tolist()) for x in range(a, b)}


def covered(steps, looks):
    """Cells under the looks, by rows from the middle, from what each step says of its table."""
    tables = [{(0, 0)}]
    for table, columns, rows in steps.tolist():
        one = tables[table]
        tables.append(one | {(y - rows, x + columns) for y, x in one})
    return {(row + y, first + x) for t, row, first in looks.tolist() for y, x in tables[t]}


CHORDS = st.integers(0, 12).flatmap(
    lambda up: st.lists(
        st.tuples(st.integers(-9, 9), st.integers(0, 20)), min_size=2 * up + 1, max_size=2 * up + 1
    )
)


@settings(max_examples=150, deadline=None)
@given(CHORDS)
def test_pieces_cover_the_table_and_nothing_else(pairs):
    chords = np.array([(a, a + n) if n else (0, 0) for a, n in pairs], dtype=np.int64)
    up = len(chords) // 2
    wanted = {(row - up, x) for row, x in cells(chords)}
    if wanted:
        found = plan(chords)
        assert covered(found.steps, found.looks) == wanted


def test_a_disc_needs_fewer_looks_than_two_a_row():
    for radius, most in ((15, 36), (30, 72), (60, 144)):
        chords = disc(radius)
        found = plan(chords)
        assert covered(found.steps, found.looks) == {(row - radius, x) for row, x in cells(chords)}
        assert len(found.looks) <= most < 2 * len(chords)


def test_rows_alike_are_taken_together():
    assert len(rectangles(np.array([(0, 5)] * 7))) == 1
    assert len(plan(np.array([(0, 5)] * 7)).looks) == 4
    assert len(plan(np.array([(0, 4)] * 8)[:7]).looks) == 2  # 4 columns are one piece
