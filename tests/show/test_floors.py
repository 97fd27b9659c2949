import math

import numpy as np
import pytest

from toolpath.field.grid import Grid
from toolpath.job.model import Side
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.show.floors import chords, cut_away, floor_along
from toolpath.show.pieces import Line
from toolpath.show.seen import seen_from


def line_move(a, b):
    return Move(kind=Kind.LINE, start=a, end=b, feed=600)


def test_arcs_become_chords_within_two_hundredths(cutter):
    turn = Move(
        kind=Kind.ARC,
        start=(25, 0, -1),
        end=(25, 0, -1),
        centre=(0, 0),
        sweep=2 * math.pi,
        feed=600,
    )
    start, end = chords(MoveTable.of([turn]), cutter)
    middles = np.hypot(*((start + end) / 2)[:, :2].T)
    assert np.hypot(*start[:, :2].T) == pytest.approx(25.0)
    assert (25.0 - middles < 0.0201).all() and len(start) > 20
    assert start[1:] == pytest.approx(end[:-1])


def test_rapids_and_moves_in_the_air_cut_nothing(cutter):
    rapid = Move(kind=Kind.RAPID, start=(0, 0, -5), end=(9, 0, -5))
    air = line_move((0, 0, 2), (9, 0, 2))
    assert len(chords(MoveTable.of([rapid, air]), cutter)[0]) == 0


def test_a_slot_is_as_wide_as_its_cutter(scene, cutter):
    grid = Grid(x0=0, y0=0, cell=0.25, rows=80, columns=200)
    z = np.zeros(grid.shape, dtype=np.float32)
    ends = (np.array([[10.0, 10.0, -4.0]]), np.array([[40.0, 10.0, -4.0]]))
    cut_away(z, grid, scene.job, cutter, ends)
    # Closed formula: a slot with round ends, 30 long, 6 wide.
    area = (z < 0).sum() * grid.cell**2
    assert area == pytest.approx(30 * 6 + math.pi * 9, rel=0.01)
    assert z.min() == pytest.approx(-4.0, abs=1e-6)


@pytest.mark.parametrize("side", Side)
def test_a_floor_along_a_slanting_line(scene, cutter, side):
    # A line at 3-4-5 crosses a slot of width 6 along x on 6 / 0.8 = 7.5 mm.
    seen = seen_from(scene.job, side)
    x, y = seen.point(200, 140)
    line = Line(origin=(x, y), direction=(0.6, 0.8))
    moves = MoveTable.of([line_move((150, 140, -7), (250, 140, -7))])
    s, floor = floor_along(scene.job, [(cutter, moves)], seen, line, (-30.0, 30.0))
    cut = s[floor < 0]
    assert cut.max() - cut.min() == pytest.approx(7.5, abs=0.15)
    assert floor.min() == pytest.approx(-7.0, abs=1e-6)
