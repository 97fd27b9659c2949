import numpy as np
import pytest

from toolpath.motion.moves import Kind
from toolpath.rs274.rows import Rows


def test_rows_grow_and_follow_on_each_other():
    rows = Rows()
    rng = np.random.default_rng(1)
    places = rng.uniform(-9, 9, (5000, 3))
    for n, place in enumerate(places):
        rows.add(Kind.LINE, tuple(place), ((np.nan, np.nan), 0.0), 90.0 + n, n + 4)
    table = rows.table()
    assert len(table) == len(rows) == 5000
    assert np.array_equal(table.end, places)
    assert np.array_equal(table.start[1:], places[:-1])
    assert np.isnan(table.start[0]).all()
    assert table.line.tolist() == list(range(4, 5004))
    assert rows.place == tuple(places[-1])


def test_starts_and_ends_share_memory_and_cannot_be_written():
    rows = Rows()
    rows.add(Kind.RAPID, (1.0, 2.0, 3.0), ((np.nan, np.nan), 0.0), 0.0, 1)
    with pytest.raises(ValueError, match="read-only"):
        rows.table().end[0, 0] = 4.0


def test_arcs_are_kept_by_themselves_while_rows_grow():
    rows, moves = Rows(), []
    for n in range(3000):
        kind = Kind.ARC if n % 7 == 3 else Kind.LINE
        place = ((n + 0.5, -n), 0.1 * n) if kind is Kind.ARC else ((np.nan, np.nan), 0.0)
        rows.add(kind, (n, n, n), place, 90.0, n)
        moves.append((kind, *place))
    table = rows.table()
    assert rows.arcs == len(table.arcs.row) == 429
    np.testing.assert_array_equal(table.centre, [centre for _, centre, _ in moves])
    np.testing.assert_array_equal(table.sweep, [sweep for _, _, sweep in moves])
    np.testing.assert_array_equal(table.kind, [kind for kind, _, _ in moves])
