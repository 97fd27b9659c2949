"""The fast way through common lines beside the interpreter, which stands for the standard."""

import io
import math
import random
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_programs import programs, respelt

from toolpath.errors import ProgramError
from toolpath.rs274 import read as reading
from toolpath.rs274.read import read_program
from toolpath.rs274.words import split_line
from toolpath.units import Unit

HEAD = "G17 G21 G90 G94 G54\nM3 S900 F100\nG0 X1 Y2 Z3\nG1 X2\n"


def outcome(text, unit=Unit.MM):
    """All that reading gives, to the last bit, or the error."""
    try:
        program = read_program(text, unit=unit)
    except ProgramError as error:
        return str(error), error.reason, error.line, error.text
    moves = program.moves
    columns = (moves.kind, moves.start, moves.end, moves.centre, moves.sweep, moves.feed)
    bits = [(c.dtype, c.shape, c.tobytes()) for c in (*columns, moves.line)]
    rest = (program.notes, program.lines, program.unit, program.speeds, program.dwell_seconds)
    return bits, rest, program.stops, program.arcs_in_chords, program.chords


def slow(text, unit=Unit.MM):
    """The same by the interpreter alone."""
    with mock.patch.object(reading, "run_common"):
        return outcome(text, unit)


def interpreted(text):
    """Numbers of the lines that were left to the interpreter."""
    seen = []

    def note(line, number):
        seen.append(number)
        return split_line(line, number)

    with mock.patch.object(reading, "split_line", note):
        outcome(text)
    return seen


@settings(max_examples=60, deadline=None)
@given(programs(), st.integers(0, 2**31), st.sampled_from(Unit))
def test_random_programs_however_they_are_spelt(lines, seed, unit):
    text = respelt(lines, random.Random(seed))
    assert outcome(text, unit) == slow(text, unit)


NUMBERS = st.one_of(
    st.floats(-30, 30).map(lambda value: f"{value:.4f}"),
    st.integers(-40, 40).map(str),
    st.sampled_from(["-0", "+.5", "1.", ".", "", "1e3", "--1", "1.2.3", "-.25", "10000000"]),
    st.sampled_from(["9999999.99999999999", "0.1234567890123456", "00000000000000000000000012"]),
    st.sampled_from(["0.000000000000000000000000001", "123456789012345", "0.30000000000000004"]),
)
WORDS = st.one_of(
    st.tuples(st.sampled_from("XYZxyzIJF"), NUMBERS).map("".join),
    st.sampled_from(["G0", "G1", "G01", "G2", "g3", "G2", "G3", "G1.0", "G4 P1", "G80", "G53"]),
    st.sampled_from(
        ["G90", "G91", "G20", "G21", "G17", "G18", "G54", "G55", "G94", "G90.1", "G61"]
    ),
    st.sampled_from(["(a note)", "(a (b", "()", "(ü)", ";x", "M5", "M3", "S0", "S500", "T1", "/"]),
    st.sampled_from(
        ["N10", "N123456", "N1.5", "N", "R5", "K1", "A1", " ", "\t", "%", "\x07", "#1"]
    ),
)
LINES = st.lists(WORDS, max_size=5).map(" ".join)
ENDS = st.sampled_from(["\n", "\r\n", "\r", "\n\r", "\n\n"])


@settings(max_examples=400, deadline=None)
@given(st.lists(st.tuples(LINES, ENDS), max_size=6), st.sampled_from(["M2\n", "M2", "", "%"]))
def test_random_words_right_and_wrong(lines, last):
    text = HEAD + "".join(line + end for line, end in lines) + last
    assert outcome(text) == slow(text)


def test_random_arcs():
    rng = np.random.default_rng(7)
    lines = []
    for _ in range(3000):
        radius, first, turn = rng.uniform(0.05, 90), *rng.uniform(-7, 7, 2)
        x, y = rng.uniform(-90, 90, 2).round(4)
        i, j = np.round([-radius * math.cos(first), -radius * math.sin(first)], 4)
        u, v = radius * math.cos(first + turn), radius * math.sin(first + turn)
        end = f"X{x + i + u:.4f} Y{y + j + v:.4f}" if rng.random() < 0.9 else f"X{x} Y{y}"
        lines += [
            f"G0 X{x} Y{y}",
            f"G{rng.integers(2, 4)} {end} I{i} J{j} Z{rng.uniform(-9, 9):.3f}",
        ]
    text = HEAD + "\n".join(lines) + "\nM2\n"
    assert outcome(text) == slow(text)
    assert len(interpreted(text)) < 100


@pytest.mark.parametrize("turn", [1e-9, 5e-8, 1e-7, 2e-7, 1e-6, 1e-5, 2e-5, 3e-5])
@pytest.mark.parametrize("radius", [1e-7, 1e-6, 1.0, 1000.0])
def test_arcs_near_the_limits(turn, radius):
    place = f"X{radius * math.cos(turn):.15f} Y{radius * math.sin(turn):.15f}"
    for code in "23":
        text = f"{HEAD}G1 X{radius:.12f} Y0\nG{code} {place} I{-radius:.12f} J0\nM2\n"
        assert outcome(text) == slow(text)


@pytest.mark.parametrize("apart", [0.00199, 0.002, 0.00200000001, 0.0021])
def test_radii_near_the_tolerance(apart):
    # NISTIR 6556 3.5.3.2: 0.002 mm
    text = f"{HEAD}G1 X10 Y0\nG3 X0 Y{10 + apart:.12f} I-10 J0\nM2\n"
    assert outcome(text) == slow(text)


def test_only_what_is_unusual_is_left_to_the_interpreter():
    common = "N5 G1 X1.5 Y-2 (here) F90\n\nx3\ng3 X4 Y-1 J1\r\nG0 G90 Z5\n"
    text = f"{HEAD}{common}S700\nG1 X2 F100\n{common}G2 X9 Y9 R30\n{common}M2\n"
    # S, the next feed move (its note), R, M2; before them the head
    assert interpreted(text) == [1, 2, 3, 4, 10, 11, 17, 23]


def test_more_moves_than_are_held_at_first():
    text = HEAD + "".join(f"G1 X{n % 97} Y{n % 31}\n" for n in range(70000)) + "M2\n"
    assert outcome(text) == slow(text)
    assert len(interpreted(text)) < 20  # one more at each end of a piece


def test_a_pipe_of_unknown_size_reads_the_same():
    text = HEAD + "".join(f"X{n % 97} Y{n % 31}\r\n" for n in range(40000)) + "M2\r\n"
    lines = reading.Lines(io.BytesIO(text.encode()))
    program = reading._read(lines, reading.Machine(unit=Unit.MM))
    assert program.moves.end.tobytes() == read_program(text, unit=Unit.MM).moves.end.tobytes()


def test_the_most_lines_are_counted_on_both_ways(monkeypatch):
    monkeypatch.setattr("toolpath.rs274.lines.LINES_LIMIT", 9)
    text = HEAD + "X1\n" * 20 + "M2\n"
    assert outcome(text) == slow(text)
    assert "more than 9 lines" in outcome(text)[0]


def test_inches_and_increments_on_the_fast_way():
    # NISTIR 6556 3.5.7 and 3.5.17: G20 lengths in inches of 25.4 mm, G91 from where the tip is
    head = "G17 G20 G90 G94 G54\nM3 S900 F10\nG0 X1 Y2 Z3\nG1 X2\n"
    text = head + "X.5 Y-1\nG2 X1.5 I.5 J0 F20\nG1 Z-.25\nG91\nX1 Y.25\nX-.5\nM2\n"
    assert outcome(text) == slow(text)
    assert interpreted(text) == [1, 2, 3, 4, 8, 11]
    moves = read_program(text, unit=Unit.MM).moves
    assert moves.end[-1] == pytest.approx([2.0 * 25.4, -0.75 * 25.4, -0.25 * 25.4])
    assert moves.feed[-1] == pytest.approx(20 * 25.4)


@pytest.mark.parametrize("plane", ["G18", "G19"])
def test_arcs_in_other_planes_are_left_to_the_interpreter(plane):
    # Such words would make an arc in XY too, another one.
    words = "X4 I1" if plane == "G18" else "Y4 J1"
    text = HEAD.replace("G17", plane) + f"G1 X2 Y2\nG2 {words}\nG1 X5\nM2\n"
    assert outcome(text) == slow(text)
    assert 6 in interpreted(text)
    moves = read_program(text, unit=Unit.MM).moves
    # NISTIR 6556 3.5.3: clockwise as seen from the positive end of the axis the plane is square to
    extreme = moves.end[:, 2].min() if plane == "G18" else moves.end[1:, 2].max()
    assert extreme == pytest.approx(2.0 if plane == "G18" else 4.0, abs=0.01)


def test_after_an_arc_a_line_without_a_g_word_is_an_arc():
    text = HEAD + "G1 X4 Y0\nG3 X4 Y2 J1\nX5 Y5 F90\nM2\n"
    assert outcome(text) == slow(text)
    assert isinstance(outcome(text)[0], str)  # one that has no centre, and is refused
