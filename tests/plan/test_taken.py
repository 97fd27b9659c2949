"""Engaged widths and depths against areas swept by buffered paths (shapely)."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString

from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.plan.taken import Block


def line(start, end):
    return Move(kind=Kind.LINE, start=start, end=end, feed=1000.0)


def taken(shop, moves, *, top=0.0, **other):
    """Widths and depths of the stretches of each move."""
    cutter, table = shop.cutter(**other), MoveTable.of(moves)
    block = Block([table], (cutter.diameter, cutter.diameter), top)
    bitten = block.cut(table, cutter, shop.machine())
    rows = [bitten.row == i for i in range(len(moves))]
    return [bitten.width[r] for r in rows], [bitten.depth[r] for r in rows], block


def middle(stretches):
    """All but the ends, where what is cut is that of a corner."""
    return stretches[2:-2]


def test_a_slot_and_the_lane_beside_it(shop):
    slot = line((0, 0, -2), (60, 0, -2))
    over = line((60, 0, 1), (60, 2, 1))
    lane = line((60, 2, -2), (0, 2, -2))
    again = line((0, 2, -2), (60, 2, -2))
    width, depth, block = taken(shop, [slot, over, lane, again])
    assert len(width[0]) == 30
    assert middle(width[0]) == pytest.approx(6.0, abs=block.cell * 1.01)
    assert width[1].max() == 0.0
    assert middle(width[2]) == pytest.approx(2.0, abs=block.cell * 1.01)
    assert width[3].max() == 0.0
    assert [each.max() for each in depth] == pytest.approx([2.0, 0.0, 2.0, 0.0], abs=1e-5)


@pytest.mark.parametrize("step", [0.6, 1.5, 2.4, 3.0])
@pytest.mark.parametrize("angle", [0.0, 0.4, 0.8])
def test_lanes_against_swept_areas(shop, step, angle):
    ahead = np.array([math.cos(angle), math.sin(angle)])
    aside = np.array([-ahead[1], ahead[0]])
    ends = [(aside * step * i, aside * step * i + 50 * ahead) for i in range(2)]
    moves = [line((*a, -2.0), (*b, -2.0)) for a, b in ends]
    width, _, block = taken(shop, moves)
    first, second = (LineString(pair).buffer(3.0, quad_segs=64) for pair in ends)
    window = LineString([aside * 9 + 20 * ahead, aside * 9 + 30 * ahead]).buffer(20, cap_style=2)
    expected = second.difference(first).intersection(window).area / 10.0
    assert expected == pytest.approx(step, abs=1e-3)
    assert middle(width[1]) == pytest.approx(expected, abs=block.cell * 1.01)
    assert middle(width[1]).mean() == pytest.approx(expected, abs=block.cell * 0.6)


def test_a_helix_takes_its_full_width_and_its_pitch(shop):
    turns = [
        Move(
            kind=Kind.ARC,
            start=(2.7 * (-1) ** i, 0, -0.4 * i),
            end=(-2.7 * (-1) ** i, 0, -0.4 * (i + 1)),
            centre=(0, 0),
            sweep=math.pi,
            feed=1000.0,
        )
        for i in range(8)
    ]
    width, depth, _ = taken(shop, turns)
    assert all((each >= 5.4).all() for each in width)
    assert max(each.max() for each in depth[2:]) == pytest.approx(0.8, abs=0.05)


def test_arcs_far_from_their_ends(shop):
    # Half turns: what they cut lies far beyond the box of their ends.
    ends = [(60.0, 0.0, -2.0), (-60.0, 0.0, -2.0), (60.0, 0.0, -2.0)]
    arcs = [
        Move(kind=Kind.ARC, start=a, end=b, centre=(0, 0), sweep=math.pi, feed=1000.0)
        for a, b in pairwise(ends)
    ]
    width, _, block = taken(shop, arcs)
    assert np.concatenate([each[3:-4] for each in width]).min() >= 5.4
    ring = math.pi * (63**2 - 57**2)
    assert float((block.z < 0).sum()) * block.cell**2 == pytest.approx(ring, rel=0.01)


def test_material_that_begins_lower(shop):
    moves = [line((0, 0, -2), (30, 0, -2)), line((30, 0, -4), (0, 0, -4))]
    width, depth, _ = taken(shop, moves, top=-3.0)
    assert width[0].max() == 0.0 and depth[1].max() == pytest.approx(1.0, abs=1e-5)


def test_rapids_and_upright_moves_take_no_width(shop):
    rapid = Move(kind=Kind.RAPID, start=(0, 0, -3), end=(40, 0, -3))
    sink = line((40, 0, -1), (40, 0, -2))
    width, _, block = taken(shop, [rapid, sink])
    assert len(width[0]) == 0 and width[1].tolist() == [0.0]
    # The sink took the disc under the cutter.
    area = float((block.z < -1.0).sum()) * block.cell**2
    assert area == pytest.approx(math.pi * 9, rel=0.03)


def test_short_moves_are_put_together(shop):
    # A slot in pieces of 0.3 mm: each for itself would be a footprint or nothing.
    moves = [line((0.3 * i, 0, -1), (0.3 * (i + 1), 0, -1)) for i in range(100)]
    width, _, block = taken(shop, moves)
    inner = np.concatenate(width[14:-14])
    assert inner == pytest.approx(6.0, abs=block.cell * 1.01)


def test_fine_cutters_get_fine_cells_but_large_jobs_no_more_than_fit(shop):
    short = MoveTable.of([line((0, 0, -1), (30, 0, -1))])
    assert Block([short], (1.5, 1.5), 0.0).cell == pytest.approx(0.1)
    assert Block([short], (12.0, 12.0), 0.0).cell == pytest.approx(0.4)
    wide = MoveTable.of([line((0, 0, -1), (2000, 2000, -1))])
    assert Block([wide], (3.0, 3.0), 0.0).z.size <= 4.1e6


def test_the_swept_area_of_a_whole_pocket(shop):
    corners = [(0, 0), (40, 0), (40, 30), (0, 30), (0, 2.4), (37.6, 2.4)]
    moves = [line((*a, -2), (*b, -2)) for a, b in pairwise(corners)]
    *_, block = taken(shop, moves)
    swept = shapely.union_all([LineString([a, b]).buffer(3, quad_segs=32) for a, b in
                               pairwise(corners)])  # fmt: skip
    assert float((block.z < 0).sum()) * block.cell**2 == pytest.approx(swept.area, rel=0.02)
