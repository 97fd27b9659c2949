import itertools
import math

import numpy as np
import pytest

from toolpath.errors import ProgramError
from toolpath.motion.moves import Kind
from toolpath.rs274.read import read_program
from toolpath.units import Unit

UNKNOWN = math.nan


def messages(program):
    return [note.message for note in program.notes]


def at(program, row=-1):
    return program.moves.end[row].tolist()


# Lines and modes.


def test_rapids_and_lines(run):
    # NISTIR 6556 3.5.1, 3.5.2: straight lines; axes left out keep their value.
    program = run("G0 X1 Y2 Z3\nG1 Z-1\nX4 F200\nG0 X0 Y0 Z9")
    moves = program.moves
    assert moves.kind.tolist() == [Kind.RAPID, Kind.LINE, Kind.LINE, Kind.RAPID]
    assert moves.end.tolist() == [[1, 2, 3], [1, 2, -1], [4, 2, -1], [0, 0, 9]]
    assert moves.start[1:].tolist() == moves.end[:-1].tolist()
    assert moves.feed.tolist() == [0, 100, 200, 0]
    assert moves.line.tolist() == [3, 4, 5, 6]
    assert program.notes == ()


def test_where_it_starts_is_unknown(run):
    program = run("G0 Z5\nX1\nY2")
    np.testing.assert_array_equal(program.moves.start[0], [UNKNOWN] * 3)
    np.testing.assert_array_equal(
        program.moves.end, [[UNKNOWN, UNKNOWN, 5], [1, UNKNOWN, 5], [1, 2, 5]]
    )


@pytest.mark.parametrize("body", ["G0", "G1", "G1 F100", "G0 Z1\nG1", "G2", "G3"])
def test_motion_without_axes(refused, body):
    # NISTIR 6556 3.5.1 to 3.5.3: an error if every axis word is missing.
    assert "without" in refused(body).reason


def test_axes_without_motion(refused):
    # NISTIR 6556 3.5.15: axis words while G80 is in force; and none was ever given.
    assert "no motion" in refused("X1").reason
    assert "G80" in refused("G0 X1\nG80\nX2").reason
    assert "G80" in refused("G80 X2").reason


def test_g80_then_a_motion_again(run):
    assert at(run("G0 X1 Y1 Z1\nG80\nG0 X3")) == [3, 1, 1]


def test_increments(run, refused):
    # NISTIR 6556 3.5.17.
    assert at(run("G0 X1 Y2 Z3\nG91 X1 Y-1\nX1\nG90 Y7")) == [3, 7, 3]
    assert "unknown place" in refused("G91 G0 X1").reason
    assert "unknown place" in refused("G0 X1\nG91 Z1").reason


def test_units_and_a_change_in_mid_program(run):
    # NISTIR 6556 3.5.7; an inch is 25.4 mm exactly (1959 agreement).
    program = run("G0 X10 Y0 Z0\nG20 G1 X1 F10\nY1\nG21 X1")
    assert program.moves.end.tolist() == [[10, 0, 0], [25.4, 0, 0], [25.4, 25.4, 0], [1, 25.4, 0]]
    # Table 8: F (step 3) is set before the unit (step 12), so it is F10 in mm/min.
    assert program.moves.feed.tolist() == [0, 10, 10, 10]
    assert [(note.line, note.message) for note in program.notes] == [
        (4, "the unit changes to in in mid-program"),
        (6, "the unit changes to mm in mid-program"),
    ]
    assert program.unit is Unit.MM


@pytest.mark.parametrize(
    "head", ["G20 F10 G17 G90 G94 G54 M3 S1", "F10 G17 G90 G94 G54 M3 S1\nG20"]
)
def test_the_first_unit_word_rules_what_stands_before_it(run, head):
    program = run("G0 X0 Y0 Z0\nG1 X2", head=f"{head}\n")
    assert program.unit is Unit.INCH
    assert program.moves.feed[-1] == pytest.approx(254.0)
    assert at(program)[0] == 50.8
    assert messages(program) == [
        "the program is in inches (G20), the job in millimetres (G21): is that meant?"
    ]


def test_modes_left_out_are_noted_once(run):
    program = run("G0 X1 Y1 Z1\nX2\nG17 G90", head="")
    assert [note.line for note in program.notes] == [1] * 5
    assert [message.split("taken as ")[1] for message in messages(program)] == [
        "G17 (XY plane)",
        "G90 (absolute)",
        "G94 (feed per minute)",
        "G54 (first zero)",
        "G21 (mm)",
    ]
    inch = run("G0 X1 Y1 Z1", head="", unit=Unit.INCH)
    assert at(inch) == [25.4, 25.4, 25.4]
    assert messages(inch)[-1].endswith("taken as G20 (in)")


def test_harmless_words(run):
    body = "G40 G49 G61\nG61.1\nG64\nG80\nG98\nG99 M7\nM9 M48\nM8\nT1 M6\nM3 S500\nG0 X1 Y1 Z1"
    assert len(run(body).moves) == 1
    assert messages(run("G91.1\nG0 X1 Y1 Z1")) == [
        "G91.1 read: arc centres from the arc's start, as ever"
    ]


@pytest.mark.parametrize(
    "body",
    [
        "G0 X1 A5",
        "G0 X1 B5",
        "G0 X1 C5",
        "G0 X1 H1",
        "G0 X1 D1",
        "G0 X1 L2",
        "G0 X1 Q2",
        "G0 X1 K2",
        "G0 X1 I2",
        "G0 X1 R2",
        "G0 X1 P2",
        "G64 P0.01",
        "P5",
        "I1 J1",
        "G0 X0 Y0 Z0\nG2 X1 I0.5 K2",
        "G4 P1 R2",
    ],
)
def test_no_word_is_passed_over(refused, body):
    # NISTIR 6556 3.3.5: what is not expressly allowed is an error; G64 P is not in the report.
    assert refused(body).line >= 3


# Feeds, spindle, waits, stops, cutters.


@pytest.mark.parametrize("word", ["", "F0"])
def test_a_feed_move_needs_a_feed(refused, word):
    # NISTIR 6556 4.3.5.1.
    reason = refused(f"G1 X1 Y1 Z1 {word}", head="G21 G17 G90 G94 G54 M3 S1\n").reason
    assert "no feed (F)" in reason


@pytest.mark.parametrize("word", ["F-1", "S-1", "T-1", "T1.5", "T1.0002", "G4 P-1", "G4"])
def test_words_out_of_range(refused, word):
    # NISTIR 6556 3.7.1 to 3.7.3, 3.5.4, 3.3.2.1.
    refused(word)


def test_whole_numbers_within_a_ten_thousandth(run):
    # NISTIR 6556 3.3.2.1.
    assert len(run("T1.00005\nT1\nG0 X1").moves) == 1


def test_waits_are_seconds(run):
    # NISTIR 6556 3.5.4.
    assert run("G4 P0.5\nG4 P2\nG04 P0\nG0 X1").dwell_seconds == 2.5
    text = "G4 P500\nG0 X1\nM2"
    assert read_program(text, unit=Unit.MM, wait_in_ms=True).dwell_seconds == 0.5


def test_speeds_and_stops(run):
    program = run("S8000\nM0\nG0 X1\nM1\nS9000.5 M3")
    assert [(word.line, word.rpm) for word in program.speeds] == [
        (2, 1000),
        (3, 8000),
        (7, 9000.5),
    ]
    assert program.stops == 2


@pytest.mark.parametrize(
    ("head", "body", "message"),
    [
        ("", "G0 X0 Y0 Z0\nG1 X1\nX2", "a feed move with the spindle off"),
        ("M3 S500", "G0 X0 Y0 Z0\nG1 X1 M5", "a feed move with the spindle off"),
        ("M3 S500", "T1 M6\nG0 X0 Y0 Z0\nG1 X1", "a feed move with the spindle off"),
        ("M4 S500", "G0 X0 Y0 Z0\nG1 X1", "a feed move with the spindle turning backwards (M4)"),
        ("M3", "G0 X0 Y0 Z0\nG1 X1", "a feed move with no spindle speed (S) in force"),
        ("M3 S0", "G0 X0 Y0 Z0\nG1 X1", "a feed move with no spindle speed (S) in force"),
    ],
)
def test_cutting_without_a_turning_spindle_is_noted(run, head, body, message):
    # NISTIR 6556 table 8: M5 (step 7) comes before the motion (step 20); 3.6.3: M6 stops it.
    program = run(body, head=f"G17 G21 G90 G94 G54 F100\n{head}\n")
    assert messages(program) == [message]


def test_one_cutter_only(run, refused):
    # NISTIR 6556 3.6.3, 3.7.3; a program is judged with one cutter.
    assert len(run("T2\nM6\nG0 X1\nT2").moves) == 1
    assert "second cutter" in refused("T1 M6\nT2").reason
    assert "second cutter" in refused("T1\nG0 X1\nM6").reason
    assert "second cutter" in refused("M6\nG0 X1\nM6").reason
    assert "second cutter" in refused("G0 X1\nT3 M6").reason


def test_a_line_acts_in_the_order_of_table_8(run):
    # NISTIR 6556 table 8: F, S, spindle, wait, unit, distance mode, motion, then the stop.
    program = run("G0 X1 Y1 Z1\nM0 X2 G91 G4 P1 F50 M3 S700 G1\nM2 X5\nX9")
    assert program.moves.end.tolist() == [[1, 1, 1], [3, 1, 1], [8, 1, 1]]
    assert program.moves.feed.tolist() == [0, 50, 50]
    assert (program.stops, program.dwell_seconds) == (1, 1)


def test_words_stand_in_any_order(run):
    # NISTIR 6556 3.3.6: five items can be put in 120 ways, all with one meaning.
    items = ["G40", "G1", "X3", "(foo)", "F400"]
    lines = [" ".join(order) for order in itertools.permutations(items)]
    assert len(set(lines)) == 120
    for line in lines:
        program = run(f"G0 X0 Y0 Z0\n{line}")
        assert at(program) == [3, 0, 0]
        assert program.moves.feed[-1] == 400


# Arcs.


def test_worked_arc_a(run):
    # NISTIR 6556 3.5.3.2: from (7, 7): centre (10, 11), radius 5, and to Z9.
    moves = run("G0 X7 Y7 Z0\nG17 G2 X10 Y16 I3 J4 Z9").moves
    assert moves.centre[1].tolist() == [10, 11]
    assert math.degrees(moves.sweep[1]) == pytest.approx(-143.1301, abs=1e-4)
    assert moves.lengths()[1] == pytest.approx(math.hypot(12.490458, 9), abs=1e-6)
    assert moves.end[1].tolist() == [10, 16, 9]


def test_worked_arc_b(run):
    # NISTIR 6556 table 10: from (3, 1, 0), G2 to (0, 1) R7.01 Z0.5: centre (1.5, 7.8476).
    moves = run("g0 z0\ng1 x3 y1 f20.0\ng2 x0 r7.01 z0.5").moves
    assert moves.centre[-1] == pytest.approx((1.5, 7.847635), abs=1e-6)
    assert moves.end[-1].tolist() == [0, 1, 0.5]
    assert moves.sweep[-1] < 0
    assert moves.feed[-1] == 20


def test_helix(run):
    # One turn of radius 5, rising 1: hypot(10 pi, 1) = 31.431838.
    moves = run("G0 X5 Y0 Z0\nG3 X5 I-5 Z1").moves
    assert moves.sweep[1] == 2 * math.pi
    assert moves.lengths()[1] == pytest.approx(31.431838, abs=1e-6)
    assert moves.at(np.array([1]), np.array([0.25]))[0] == pytest.approx([0, 5, 0.25], abs=1e-12)


def test_clockwise_is_g2_seen_from_above(run):
    # NISTIR 6556 3.5.3, 4.3.6.1.
    moves = run("G0 X0 Y1 Z0\nG2 X1 Y0 J-1\nG3 X0 Y1 I-1").moves
    assert moves.sweep[1:] == pytest.approx([-math.pi / 2, math.pi / 2])


def test_an_arc_stays_in_force(run):
    moves = run("G0 X0 Y0 Z0\nG2 X2 I1\nX4 I1\nG1 X0").moves
    assert moves.kind.tolist() == [Kind.RAPID, Kind.ARC, Kind.ARC, Kind.LINE]


def test_arc_centres_are_offsets_with_increments_too(run):
    # NISTIR 6556 3.5.17: I and J are always incremental.
    moves = run("G0 X10 Y10 Z0\nG91 G3 X-10 Y10 I-10").moves
    assert moves.centre[1].tolist() == [0, 10]
    assert moves.end[1].tolist() == [0, 20, 0]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("G2 I5", "without X, Y or Z"),
        ("G2 Z1 I5", "without X or Y"),
        ("G2 Z1 R5", "without X or Y"),
        ("G2 X1 Y1", "without a centre"),
        ("G2 X1 K5", "without a centre"),
        ("G2 X1 I5 R5", "both R and a centre"),
        ("G2 X0 R5", "full circle needs I and J"),
        ("G3 X20 R5", "too far"),
        ("G3 X20 R0", "too far"),
        ("G3 X10 I5.002", "they may differ by 0.00200 mm"),
        ("G3 X0 I0", "no radius"),
    ],
)
def test_arcs_that_are_wrong(refused, line, reason):
    # NISTIR 6556 3.5.3.1, 3.5.3.2.
    assert reason in refused(f"G0 X0 Y0 Z0\n{line}").reason


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ("G2 X1 Y1 I1", "give X and Y before"),
        ("G0 X0\nG2 X1 Y1 I1", "give X and Y before"),
        ("G0 X0 Y0\nG2 X2 I1 Z-1", "give Z before"),
    ],
)
def test_arcs_from_an_unknown_place(refused, body, reason):
    assert reason in refused(body).reason


def test_an_arc_at_an_unknown_height_is_read(run):
    assert math.isnan(run("G0 X0 Y0\nG2 X2 I1").moves.end[-1, 2])


@pytest.mark.parametrize(
    ("unit", "far", "fits"),
    [
        ("G21", "0.0019", True),
        ("G21", "0.0021", False),
        ("G20", "0.00019", True),
        ("G20", "0.00021", False),
        ("G20", "0.002", False),
    ],
)
def test_the_radius_tolerance_is_that_of_the_unit(unit, far, fits):
    # NISTIR 6556 3.5.3.2: 0.002 mm, or 0.0002 inch.
    end = 10 + float(far)
    text = f"{unit} F5\nG0 X10 Y0 Z0\nG3 X0 Y{end:.5f} I-10\nM2"
    if fits:
        assert len(read_program(text, unit=Unit.MM).moves) == 2
    else:
        with pytest.raises(ProgramError, match="may differ"):
            read_program(text, unit=Unit.MM)


def test_arcs_that_machines_may_read_otherwise_are_noted(run):
    # NISTIR 6556 3.5.3.1: R is bad near a half turn, worse near a full one.
    assert "by R" in messages(run("G0 X0 Y0 Z0\nG2 X10 R5"))[0]
    assert messages(run("G0 X0 Y0 Z0\nG2 X10 R6")) == []


def test_an_arc_that_could_be_a_full_turn_cannot_be_judged(run):
    with pytest.raises(ProgramError, match="full turn"):
        run("G0 X0 Y0 Z0\nG2 Y0.0001 I100")


# Published contours.

TABLE_12 = """G0 X2 Y3 Z0
G2 X3 Y2 J-1
G1 Y-1
G2 X2 Y-2 I-1
G1 X-2
G2 X-2.6 Y-0.2 J1
G1 X1.4 Y2.8
G2 X2 Y3 I0.6 J-0.8"""

TABLE_13 = """G0 X2 Y3.5 Z0
G2 X3.5 Y2 J-1.5
G1 Y-1
G2 X2 Y-2.5 I-1.5
G1 X-2
G2 X-2.9 Y0.2 J1.5
G1 X1.1 Y3.2
G2 X2 Y3.5 I0.9 J-1.2"""


@pytest.mark.parametrize(
    ("text", "perimeter", "area"),
    [
        (TABLE_12, 12 + 2 * math.pi, 18 + math.pi),
        (TABLE_13, 12 + 3 * math.pi, 24 + 2.25 * math.pi),
    ],
)
def test_published_contours(run, text, perimeter, area):
    # NISTIR 6556 tables 12 and 13: offsets by 1 and 1.5 of a 3-4-5 triangle, clockwise; the
    # figures follow from Steiner's formula, A + P r + pi r^2 with A = 6 and P = 12.
    moves = run(text).moves.take(np.arange(1, 8))
    assert moves.lengths().sum() == pytest.approx(perimeter, abs=1e-9)
    start, end = moves.start, moves.end
    chords = 0.5 * np.sum(start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])
    arcs = moves.kind == Kind.ARC
    radius = np.hypot(*(start[arcs, :2] - moves.centre[arcs]).T)
    sweep = moves.sweep[arcs]
    segments = 0.5 * np.sum(radius**2 * (sweep - np.sin(sweep)))
    assert chords + segments == pytest.approx(-area, abs=1e-9)


# Zeros, G53, and habits.


@pytest.mark.parametrize("code", ["G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"])
def test_one_zero_whatever_its_number(run, refused, code):
    # NISTIR 6556 3.5.13; where the zeros lie to one another is stored in the machine.
    program = run(f"{code}\nG0 X1 Y1 Z1\n{code} X2")
    assert at(program) == [2, 1, 1]
    assert messages(program) == [f"the zero of {code} is taken as that of the job"]
    assert "one zero" in refused(f"G0 X1\n{code} X2").reason
    assert "one zero" in refused(f"{code} G0 X1\nG54 X2").reason
    assert "one zero" in refused(f"G0 X1\n{code} X2", head="G21 G17 G90 G94\n").reason


def test_the_machines_own_zero_before_a_place_is_known(run, refused):
    # NISTIR 6556 3.5.12: needs G0 or G1, not modal; where it ends is not known.
    program = run("G53 G0 Z0\nG0 X1 Y1 Z1")
    np.testing.assert_array_equal(program.moves.end[0], [UNKNOWN] * 3)
    assert at(program) == [1, 1, 1]
    np.testing.assert_array_equal(at(run("G0 Z5\nG53 X0 Y0")), [UNKNOWN, UNKNOWN, 5])
    for body in ("G0 X1 Y1 Z1\nG53 Z0", "G0 Z5\nG53 G1 Z0", "G91\nG90 G0 Z5\nG53 X0 Z0"):
        assert "before the first Z" in refused(body).reason
    for body in ("G53 X0", "G0 X0 Y0 Z0\nG2 X2 I1\nG53 X0", "G80\nG53 X0", "G53 G81 X1 Z0 R1"):
        refused(body)
    for body in ("G0 Z5\nG53", "G53 G0", "G0 G53 I1 X0", "G53 G4 P1 G0 X0"):
        refused(body)
    assert "no feed" in refused("G53 G1 Z0", head="G21 G17 G90 G94 G54\n").reason


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("M6", "M6 with no cutter chosen (T): read as no change"),
        ("T1 M6\nG0 X1\nM6", "M6 with the cutter that is in already: read as no change"),
        ("T1 M6\nG0 X1\nT1 M6", "M6 with the cutter that is in already: read as no change"),
        ("M49", "M49 takes the feed override away from whoever stands at the machine"),
        (
            "N123456 G0 X1",
            "a line number of more than 5 digits, the most in the standard: passed over",
        ),
        (
            "G91.1\nG0 X1\nG91.1",
            "G91.1 read: arc centres from the arc's start, as ever (2 times)",
        ),
    ],
)
def test_habits_are_noted(run, body, message):
    # Common practice, no source.
    assert messages(run(body)) == [message]


def test_m6_stops_the_spindle_each_time(run):
    # NISTIR 6556 3.6.3.
    program = run("T1 M6\nM3\nG0 X0 Y0 Z0\nG1 X1\nM6\nX2")
    assert [note.line for note in program.notes] == [7, 8]
    assert messages(program)[-1] == "a feed move with the spindle off"
