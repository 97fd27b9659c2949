"""Lines to begin a program again at, against the text of a program that was read back."""

import re
from dataclasses import replace

import numpy as np
import pytest

from toolpath.blank.frames import Frame
from toolpath.rs274.read import read_program
from toolpath.show.restarts import MOST_RESTARTS, restarts
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)
HEAD = ["G17 G21 G90 G94", "G54", "G0 Z6", "M3 S16000", "G4 P5", "(Cut movement)"]
HOLE = ["G0 X{x} Y5", "G0 Z1", "G1 Z-{z} F300", "G1 X{x}.5 F1200", "G0 Z6"]


def program(whole_scene, *holes):
    """A program of one cut that goes down at places (x, z)."""
    lines = list(HEAD)
    for x, z in holes:
        lines += [line.format(x=x, z=z) for line in HOLE]
    text = "\n".join([*lines, "M5", "M30", ""])
    view = whole_scene.programs[0]
    frame = Frame.of(whole_scene.job, view.face)
    moves = frame.table_to_page(read_program(text, unit=Unit.MM).moves)
    cut = replace(view.cuts[0], moves=moves)
    return text.splitlines(), replace(view, cuts=(cut,))


def test_each_level_is_a_line_across_with_x_and_y(whole_scene):
    lines, view = program(whole_scene, (10, 2), (20, 2), (10, 4), (20, 4))
    found = restarts(whole_scene.job, view, MM)
    assert found.head == len(HEAD)
    assert [row.depth for row in found.rows] == ["2 mm", "4 mm"]
    for row in found.rows:
        assert re.fullmatch(r"G0 X\d+ Y\d+", lines[row.line - 1])


DEEPER = [
    *("G1 X15 Z-{z} F900", "G2 X20 Y10 Z-{z} I5 J0 F800", "G1 X40", "G3 X40 Y30 I0 J10"),
    *("G1 X12 Y5 F1200", "G1 Z-{above}"),
]


def test_a_level_without_a_lift_names_the_words_to_enter_first(whole_scene):
    down = [line.format(z=z, above=round(z - 0.2, 4)) for z in (2, 4, 6) for line in DEEPER]
    body = ["G0 X12 Y5", "G0 Z1", "G1 Z0.2 F300", *down, "G0 Z6"]
    lines = [*HEAD, *body, "M5", "M30"]
    whole = read_program("\n".join([*lines, ""]), unit=Unit.MM).moves
    view = whole_scene.programs[0]
    moves = Frame.of(whole_scene.job, view.face).table_to_page(whole)
    view = replace(view, cuts=(replace(view.cuts[0], moves=moves),))
    found = restarts(whole_scene.job, view, MM)
    assert [row.depth for row in found.rows] == ["2 mm", "4 mm", "6 mm"]
    assert found.rows[0].words == ""
    for row in found.rows[1:]:
        entered = row.words.split(", ")
        again = [*lines[: found.head], *entered, *lines[row.line - 1 :]]
        got = read_program("\n".join([*again, ""]), unit=Unit.MM).moves
        rest = np.flatnonzero(whole.line >= row.line)
        same = len(got) - len(rest)
        # After the words the machine does what it would have done, at the same feeds.
        np.testing.assert_allclose(got.start[same:], whole.start[rest], atol=1e-9)
        np.testing.assert_allclose(got.end[same:], whole.end[rest], atol=1e-9)
        np.testing.assert_allclose(got.feed[same:], whole.feed[rest])
        # Before them it only goes across above the face and straight down, to where it has been.
        across, sunk = got.end[same - 2], got.end[same - 1]
        assert across[2] > 0.0 and (across[:2] == sunk[:2]).all()
        assert (np.abs(whole.end[: rest[0]] - sunk).max(axis=1) < 1e-9).any()


def lines_of(whole_scene, *body):
    """Rows found in a program whose cut has a body; the cutter's stepdown is 3."""
    text = "\n".join([*HEAD, *body, "G0 Z6", "M5", "M30", ""])
    view = whole_scene.programs[0]
    assert view.cutter.stepdown == 3.0
    moves = Frame.of(whole_scene.job, view.face).table_to_page(
        read_program(text, unit=Unit.MM).moves
    )
    return restarts(whole_scene.job, replace(view, cuts=(replace(view.cuts[0], moves=moves),)), MM)


def test_a_way_that_goes_on_falling_has_a_line_for_each_stepdown(whole_scene):
    # Half a lap falls by 0.75 mm, so every fourth comes to the stepdown.
    laps = [f"G1 X{40 if n % 2 else 10} Z{-0.75 * n} F900" for n in range(1, 14)]
    found = lines_of(whole_scene, "G0 X10 Y5", "G0 Z1", "G1 Z0 F300", *laps, "G1 X10")
    assert [row.depth for row in found.rows] == ["3 mm", "6 mm", "9 mm", "9.75 mm"]
    first = found.rows[0].line + 3
    assert [row.line for row in found.rows[1:]] == [first + 4, first + 8, first + 12]
    assert "Z-3 " in found.rows[1].words


def test_moves_that_fall_slowly_are_no_levels(whole_scene):
    # 0.004 mm a move: twenty of them are 0.08 mm, more than tells two floors apart.
    falls = [f"G1 X{40 if n % 2 else 10} Z{-1 - 0.004 * n:.3f} F900" for n in range(1, 200)]
    found = lines_of(whole_scene, "G0 X10 Y5", "G0 Z1", "G1 Z-1 F300", *falls, "G1 X11")
    assert [row.depth for row in found.rows] == ["1.8 mm"]


def test_a_way_down_through_what_is_gone_is_no_level(whole_scene):
    body = ["G0 X10 Y5", "G0 Z1", "G1 Z-7 F300", "G1 X40 Z-8 F900", "G1 X10 Z-9", "G1 X40"]
    assert [row.depth for row in lines_of(whole_scene, *body).rows] == ["9 mm"]


def test_no_more_lines_than_fit(whole_scene):
    holes = [(10, 2 + i % 2) for i in range(100)]
    _, view = program(whole_scene, *holes)
    assert MOST_RESTARTS / 2 <= len(restarts(whole_scene.job, view, MM).rows) <= MOST_RESTARTS


def test_of_more_lines_than_fit_none_is_left_out_that_goes_deeper(whole_scene):
    holes = [(10, 2 + i % 2 + i // 14 if i % 14 < 2 else 1 + i % 2) for i in range(140)]
    _, view = program(whole_scene, *holes)
    found = restarts(whole_scene.job, view, MM)
    depths = [row.depth for row in found.rows]
    assert len(depths) <= MOST_RESTARTS < len(depths) + found.left_out
    assert {f"{z} mm" for z in range(2, 13)} <= set(depths)


def test_of_more_levels_than_fit_every_other_is_listed(whole_scene):
    _, view = program(whole_scene, *[(10, round(1 + i / 10, 1)) for i in range(100)])
    rows = restarts(whole_scene.job, view, MM).rows
    assert [row.depth for row in rows[:3]] == ["1 mm", "1.2 mm", "1.4 mm"]
    assert len(rows) == 50


@pytest.mark.parametrize("holes", [()])
def test_nothing_to_begin(whole_scene, holes):
    _, view = program(whole_scene, *holes)
    assert restarts(whole_scene.job, view, MM) == replace(
        restarts(whole_scene.job, view, MM), head=0, rows=()
    )
