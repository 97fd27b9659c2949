import math

import numpy as np
import pytest

from toolpath.motion.moves import Kind
from toolpath.rs274 import cycles, interpret

START = "G0 X1 Y2 Z3\n"


def path(program):
    """(kind, end) of each move after the first."""
    moves = program.moves
    return [
        ("rapid" if kind == Kind.RAPID else "feed", *np.round(end, 9).tolist())
        for kind, end in zip(moves.kind.tolist()[1:], moves.end[1:], strict=True)
    ]


def test_published_sequence_with_increments_and_repeats(run):
    # NISTIR 6556 3.5.16, second worked example (G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 from (1, 2, 3)).
    program = run(f"{START}G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")
    expected = [("rapid", 1, 2, 4.8)]
    for x, y in ((5, 7), (9, 12), (13, 17)):
        expected += [("rapid", x, y, 4.8), ("feed", x, y, 4.2), ("rapid", x, y, 4.8)]
    assert path(program) == expected
    assert set(program.moves.feed.tolist()) == {0.0, 100.0}
    assert program.notes == ()


def test_back_to_the_height_before_or_to_r(run):
    # NISTIR 6556 3.5.16, first worked example, and 3.5.20: from (1, 2, 3), G90 G81 G98.
    assert path(run(f"{START}G90 G81 G98 X4 Y5 Z1.5 R2.8")) == [
        ("rapid", 4, 5, 3),
        ("rapid", 4, 5, 2.8),
        ("feed", 4, 5, 1.5),
        ("rapid", 4, 5, 3),
    ]
    assert path(run(f"{START}G90 G81 G99 X4 Y5 Z1.5 R2.8"))[-1] == ("rapid", 4, 5, 2.8)
    # 3.5.20: unless that is lower than R.
    assert path(run(f"{START}G90 G81 G98 X4 Y5 Z1.5 R5"))[-1] == ("rapid", 4, 5, 5)


def test_all_lengths_of_a_cycle_are_in_the_unit(run):
    # NISTIR 6556 3.5.7: after G20 lengths are inches; an inch is 25.4 mm (NIST SP 811, B.8).
    found = path(run("G0 X0 Y0 Z1\nG99 G83 X2 Y-1 Z-0.3 R0.1 Q0.25\nX3", head="G20 M3 S1 F9\n"))
    places = {each[1:3] for each in found if each[0] == "feed"}
    assert places == {(50.8, -25.4), (76.2, -25.4)}
    assert [each[3] for each in found if each[0] == "feed"] == pytest.approx([-3.81, -7.62] * 2)
    assert found[-1] == ("rapid", 76.2, -25.4, 2.54)


def test_a_start_below_r_rises_first(run):
    # NISTIR 6556 3.5.16.1: preliminary motion.
    assert path(run(f"{START}G81 G98 X4 Z1 R5"))[:2] == [("rapid", 1, 2, 5), ("rapid", 4, 2, 5)]


def test_r_and_the_depth_hold_on_the_next_lines_and_places_do_not_repeat(run):
    # NISTIR 6556 3.5.16: R and Z are sticky, L is not.
    found = path(run(f"{START}G99 G81 X4 Y5 Z-1 R1 L2\nX7\nY9 Z-2\nG80"))
    feeds = [each for each in found if each[0] == "feed"]
    assert feeds == [("feed", 4, 5, -1)] * 2 + [("feed", 7, 5, -1), ("feed", 7, 9, -2)]


def test_a_wait_at_the_bottom(run):
    # NISTIR 6556 3.5.16: G82 waits P seconds at the bottom of each hole.
    program = run(f"{START}G98 G82 X4 Z1 R2 P0.5 L2\nX5\nX6 P2")
    assert program.dwell_seconds == 0.5 * 3 + 2
    assert path(program)[:3] == path(run(f"{START}G98 G81 X4 Z1 R2"))[:3]


def test_pecks(run):
    # NISTIR 6556 appendix C.3, line N0090: from R 0.2 to -1.1 by 0.21 is 7 pecks, the last 0.04.
    found = path(run("G0 X0 Y0 Z1\nG98 G83 X0 Z-1.1 R0.2 Q0.21"))
    depths = [each[3] for each in found if each[0] == "feed"]
    assert depths == pytest.approx([0.2 - 0.21 * n for n in range(1, 7)] + [-1.1])
    assert depths[-2] - depths[-1] == pytest.approx(0.04)
    # Between pecks: out to the height to go back to, and down to the last bottom.
    assert [each[3] for each in found if each[0] == "rapid"][1:3] == pytest.approx([1, -0.01])


def test_pecks_that_divide_the_depth_leave_no_sliver(run):
    found = path(run("G0 X0 Y0 Z1\nG98 G83 X0 Z-0.3 R0 Q0.1"))
    assert [each[3] for each in found if each[0] == "feed"] == pytest.approx([-0.1, -0.2, -0.3])


@pytest.mark.parametrize(
    "body",
    [
        "G98 G81 X4 Z1 R2",
        "G98 G81 X4 Z1 R4",
        "G99 G83 X4 Z-0.3 R2.7 Q0.1",
        "G98 G83 X4 Z-0.3 R2.7 Q0.13",
        "G98 G83 X4 Z1 R1 Q2",
        "G91 G98 G83 X4 Z-3 R0.5 Q1 L7",
    ],
)
def test_a_cycle_may_make_as_many_moves_as_there_is_room_for(run, refused, monkeypatch, body):
    moves = len(run(START + body).moves)
    monkeypatch.setattr(interpret, "MADE_LIMIT", moves - 4)  # and one for each of four lines
    assert len(run(START + body).moves) == moves
    monkeypatch.setattr(interpret, "MADE_LIMIT", moves - 5)
    assert "moves beyond one a line" in refused(START + body).reason


def test_endless_pecks_are_refused_before_any_is_made(refused, monkeypatch):
    monkeypatch.setattr(cycles.Drilling, "steps", lambda cycle: pytest.fail("made"))
    for body in ("G83 X5 Z-9 R9999999 Q2", "G81 X1 Z-1 R1 L9999999"):
        assert "more than 1000000 moves" in refused(f"{START}G98 {body}").reason


@pytest.mark.parametrize(
    ("plane", "words", "bottom", "out"),
    [
        ("G17", "X4 Y5 Z-9", (4, 5, -9), (4, 5, 2.5)),
        ("G18", "X4 Y-9 Z5", (4, -9, 5), (4, 2.5, 5)),
        ("G19", "X-9 Y4 Z5", (-9, 4, 5), (2.5, 4, 5)),
    ],
)
def test_all_planes(run, plane, words, bottom, out):
    # NISTIR 6556 3.5.16: cycles work along the axis square to the plane in force.
    found = path(run(f"{START}{plane} G99 G81 {words} R2.5"))
    assert found[-2:] == [("feed", *bottom), ("rapid", *out)]


@pytest.mark.parametrize(
    ("body", "word"),
    [
        ("G81 X1 Y1 Z-1", "without R"),
        ("G81 X1 Y1 R1", "without Z"),
        ("G18 G81 X1 Z1 R1", "without Y"),
        ("G81", "without X, Y or Z"),
        ("G81 R1 L2", "without X, Y or Z"),
        ("G81 X1 Z2 R1", "below its bottom"),
        ("G81 X1 Z-1 R1 L0", "L0"),
        ("G81 X1 Z-1 R1 L1.5", "whole number"),
        ("G81 X1 Z-1 R1 L-1", "whole number"),
        ("G81 X1 Z-1 R1 P1", "P means nothing"),
        ("G81 X1 Z-1 R1 Q1", "Q means nothing"),
        ("G81 X1 Z-1 R1 I1", "I means nothing"),
        ("G81 X1 Z-1 R1 A1", "A turns an axis"),
        ("G82 X1 Z-1 R1", "without P"),
        ("G82 X1 Z-1 R1 P-1", "cannot be negative"),
        ("G4 P1 G82 X1 Z-1 R1", "a line of its own"),
        ("G83 X1 Z-1 R1", "without Q"),
        ("G83 X1 Z-1 R1 Q0", "more than 0"),
        ("G83 X1 Z-1 R1 Q-1", "more than 0"),
        ("G81 X1 Z-1 R1\nG82 X2 P1", "without R"),
        ("G81 X1 Z-1 R1\nG80\nG81 X2", "without R"),
        ("G81 X1 Z-1 R1\nG0 X2\nG81 X2", "without R"),
        ("G81 X1 Z-1 R1\nG91 X2", "without R"),
        ("G81 X1 Z-1 R1\nG20 X2", "without R"),
        ("G81 X1 Z-1 R1\nG18 X2", "without R"),
        ("G81 X1 Z-1 R1\nR3", "R means nothing"),
        ("G81 X1 Z-1 R1 L9999999", "more than 1000000 moves"),
        ("G83 X1 Z-9 R1 Q0.0000001", "more than 1000000 moves"),
        ("G83 X1 Z-9999999 R9999999 Q0.00000000001", "more than 1000000 moves"),
    ],
)
def test_words_of_a_cycle_that_are_wrong(refused, body, word):
    # NISTIR 6556 3.5.16: errors of canned cycles.
    assert word in refused(START + body).reason


@pytest.mark.parametrize(
    ("body", "word"),
    [
        ("G0 X1 Y1\nG81 X1 Z-1 R1", "unknown Z"),
        ("G0 Z1\nG81 X1 Z-1 R1", "unknown Y"),
        ("G0 Z1\nG91 G81 X1 Y1 Z-1 R1", "unknown X"),
    ],
)
def test_a_cycle_from_an_unknown_place(refused, body, word):
    assert word in refused(body).reason


def test_a_first_hole_from_above_an_unknown_place(run):
    program = run("G0 Z5\nG99 G81 X4 Y5 Z-1 R1")
    assert math.isnan(program.moves.start[1, 0])
    assert program.moves.end[-1].tolist() == [4, 5, 1]


def test_what_is_assumed_is_noted(run):
    told = [note.message for note in run(f"{START}G81 X4 Z-1 R1\nX5").notes]
    assert told == ["no word gives the return in canned cycles: taken as G98"]
    told = [note.message for note in run(f"{START}G99 G81 X4 Z-1 R1\nG98 X5").notes]
    assert told == ["G98 after G99 in one series: back to the height before this line"]


def test_a_cycle_needs_a_feed(refused):
    assert "no feed" in refused(f"{START}G81 X4 Z-1 R1", head="G17 G21 G90 G94 G54\n").reason
