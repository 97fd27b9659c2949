import math

import numpy as np
import pytest

from toolpath.check.unknown import judged_moves, unknown_notes
from toolpath.errors import ProgramError
from toolpath.motion.moves import Kind, Move, MoveTable

NAN = math.nan
NOWHERE = (NAN, NAN, NAN)


def moves(*rows):
    return MoveTable.of(
        [
            Move(kind=kind, start=start, end=end, feed=0.0 if kind is Kind.RAPID else 600.0, line=n)
            for n, (kind, start, end) in enumerate(rows, 11)
        ]
    )


def test_a_known_table_is_left_alone():
    table = moves((Kind.RAPID, (0, 0, 5), (1, 2, 5)), (Kind.LINE, (1, 2, 5), (1, 2, -1)))
    judged = judged_moves(table)
    np.testing.assert_array_equal(judged.start, table.start)
    np.testing.assert_array_equal(judged.end, table.end)
    assert unknown_notes(table) == []


def test_what_ends_nowhere_is_dropped_and_what_starts_there_stands_at_its_end():
    table = moves(
        (Kind.RAPID, NOWHERE, (NAN, NAN, 5.0)),
        (Kind.RAPID, (NAN, NAN, 5.0), (1.0, 2.0, -1.0)),
        (Kind.LINE, (1.0, 2.0, -1.0), (1.0, 2.0, -3.0)),
    )
    judged = judged_moves(table)
    assert judged.line.tolist() == [12, 13]
    np.testing.assert_array_equal(judged.start[0], [1.0, 2.0, -1.0])
    # Not even the known z of the start is taken: the tip stands at the end.
    low = judged_moves(moves((Kind.LINE, (NAN, NAN, 9.0), (1.0, 2.0, -3.0))))
    np.testing.assert_array_equal(low.start, [[1.0, 2.0, -3.0]])
    assert np.isfinite(judged.start).all()


def test_a_first_rapid_above_the_face_is_left_to_the_move_that_begins_at_its_end():
    down = (Kind.LINE, (1.0, 2.0, 5.0), (1.0, 2.0, -3.0))
    nowhere, above = (NAN, NAN, 5.0), (1.0, 2.0, 5.0)
    table = moves((Kind.RAPID, NOWHERE, nowhere), (Kind.RAPID, nowhere, above), down)
    judged = judged_moves(table)
    assert judged.line.tolist() == [13]
    assert np.shares_memory(judged.start, table.start)
    np.testing.assert_array_equal(judged.start[0], above)  # where the rapid's tip is, too
    assert judged_moves(moves((Kind.RAPID, nowhere, above))).line.tolist() == [11]  # none after
    fed = moves((Kind.LINE, nowhere, above), down)  # a feed move is judged as one
    assert judged_moves(fed).line.tolist() == [11, 12]


@pytest.mark.parametrize(
    ("end", "axes"), [((NAN, NAN, -1.0), "XY"), ((1.0, 2.0, NAN), "Z"), ((NAN, 2.0, NAN), "XZ")]
)
def test_a_feed_move_to_nowhere_cannot_be_judged(end, axes):
    table = moves((Kind.RAPID, NOWHERE, (NAN, NAN, 5.0)), (Kind.LINE, NOWHERE, end))
    with pytest.raises(ProgramError, match=f"^line 12: .*before {axes} is known"):
        judged_moves(table)


def test_an_arc_needs_its_start_and_a_line_does_not():
    start, end = (NAN, 2.0, -1.0), (1.0, 2.0, -1.0)
    assert len(judged_moves(moves((Kind.LINE, start, end)))) == 1
    with pytest.raises(ProgramError, match="line 11"):
        judged_moves(moves((Kind.ARC, start, end)))


def test_rapids_above_the_face_need_no_note_and_all_else_does():
    usual = (Kind.RAPID, NOWHERE, (NAN, NAN, 5.0))
    assert unknown_notes(moves(usual)) == []
    for odd in (
        (Kind.RAPID, NOWHERE, (NAN, NAN, 0.0)),
        (Kind.RAPID, NOWHERE, (1.0, NAN, NAN)),
        (Kind.LINE, (NAN, NAN, 5.0), (1.0, 2.0, 5.0)),
    ):
        (found,) = unknown_notes(moves(usual, odd))
        assert not found.refuses
        assert found.line == 11
        dropped = 1 + int(not np.isfinite(odd[2]).all())
        assert f"{dropped} moves that end at a place not wholly known" in found.message


def test_a_feed_move_above_the_face_to_nowhere_is_passed_over():
    table = moves(
        (Kind.LINE, NOWHERE, (NAN, NAN, 5.0)), (Kind.LINE, (NAN, NAN, 5.0), (1.0, NAN, 5.0))
    )
    assert len(judged_moves(table)) == 0
    assert unknown_notes(table)
