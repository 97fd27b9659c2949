"""Lines to begin a program again at, against the text of a program that was read back."""

import re
from dataclasses import replace

import pytest

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
    moves = read_program(text, unit=Unit.MM).moves
    view = whole_scene.programs[0]
    cut = replace(view.cuts[0], moves=moves)
    return text.splitlines(), replace(view, cuts=(cut,))


def test_each_level_is_a_line_across_with_x_and_y(whole_scene):
    lines, view = program(whole_scene, (10, 2), (20, 2), (10, 4), (20, 4))
    found = restarts(view, MM)
    assert found.head == len(HEAD)
    assert [row.depth for row in found.rows] == ["2 mm", "4 mm"]
    for row in found.rows:
        assert re.fullmatch(r"G0 X\d+ Y\d+", lines[row.line - 1])


def test_no_more_lines_than_fit(whole_scene):
    holes = [(10, 2 + i % 2) for i in range(100)]
    _, view = program(whole_scene, *holes)
    assert MOST_RESTARTS / 2 <= len(restarts(view, MM).rows) <= MOST_RESTARTS


@pytest.mark.parametrize("holes", [()])
def test_nothing_to_begin(whole_scene, holes):
    _, view = program(whole_scene, *holes)
    assert restarts(view, MM) == replace(restarts(view, MM), head=0, rows=())
