import math

import pytest

from toolpath.errors import InternalError
from toolpath.motion.moves import Kind, Move
from toolpath.rs274.rounding import Steps, arc_pieces, chord_count, plain_arc, point_on
from toolpath.units import Unit

MM = Steps(unit=Unit.MM, decimals=4)


def arc(radius, first, sweep, *, centre=(0.0, 0.0), z=(0.0, 0.0)):
    def place(angle, height):
        x = centre[0] + radius * math.cos(angle)
        return (x, centre[1] + radius * math.sin(angle), height)

    return Move(
        kind=Kind.ARC,
        start=place(first, z[0]),
        end=place(first + sweep, z[1]),
        centre=centre,
        sweep=sweep,
        feed=100.0,
    )


def offset(move, steps=MM):
    start, end = steps.point(move.start), steps.point(move.end)
    return plain_arc(move, start[:2], end[:2], steps)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0.0000"),
        (-0.0, "0.0000"),
        (-0.00004, "0.0000"),
        (-0.00006, "-0.0001"),
        (0.05, "0.0500"),
        (-12.34567, "-12.3457"),
        (1e-12, "0.0000"),
        (1234.5, "1234.5000"),
    ],
)
def test_numbers_have_fixed_decimals(value, text):
    # NISTIR 6556 3.3.2.1 has no exponent form.
    assert MM.show(MM.of(value)) == text


def test_inches():
    steps = Steps(unit=Unit.INCH, decimals=5)
    assert steps.show(steps.of(25.4)) == "1.00000"
    assert steps.size == pytest.approx(0.000254)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e9])
def test_what_is_no_position(value):
    with pytest.raises(InternalError):
        MM.of(value)


@pytest.mark.parametrize("decimals", [0, 7])
def test_decimals_that_cannot_be_written(decimals):
    with pytest.raises(InternalError):
        Steps(unit=Unit.MM, decimals=decimals)


def test_arcs_near_a_full_turn_are_halved():
    assert len(list(arc_pieces(arc(5, 1, 5.0)))) == 1
    first, second = arc_pieces(arc(5, 0, -2 * math.pi, z=(0, -1)))
    assert first.end == second.start == pytest.approx((-5, 0, -0.5))
    assert first.sweep == second.sweep == -math.pi


def test_an_arc_that_is_not_finite():
    move = Move(kind=Kind.ARC, start=(0, 0, 0), end=(1, 1, 0), sweep=1.0, feed=1.0)
    with pytest.raises(InternalError):
        list(arc_pieces(move))


def test_chords_for_a_tolerance():
    # n = pi / acos(1 - t / R) for a full circle: 5 mm and 0.001 mm give 157.07, so 158.
    assert chord_count(arc(5, 0, 2 * math.pi)) == math.ceil(math.pi / math.acos(1 - 0.001 / 5))
    assert chord_count(arc(0.0005, 0, 1.0)) == 1


def test_a_good_arc_keeps_its_centre():
    assert offset(arc(5, 0, math.pi / 2)) == (-50000, 0)
    assert offset(arc(5, 0, -math.pi / 2, centre=(1, 2))) == (-50000, 0)


def test_arcs_that_are_better_as_lines():
    assert offset(arc(5, 0, 1e-4)) is None
    assert offset(arc(0.0002, 0, 2.0)) is None
    assert offset(arc(5000, 0, 5e-4)) is None


def test_coarse_decimals_break_the_radius_tolerance():
    # NISTIR 6556 3.5.3.2: with two decimals most arcs differ by more than 0.002 mm.
    steps = Steps(unit=Unit.MM, decimals=2)
    good = [offset(arc(7.3 + i / 10, i, 1.5), steps) is not None for i in range(200)]
    assert sum(good) < 60


def test_points_on_an_arc():
    assert point_on(arc(2, 0, math.pi, z=(0, 4)), 0.5) == pytest.approx((0, 2, 2))
