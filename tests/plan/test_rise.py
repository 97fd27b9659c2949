import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from toolpath.blank.frames import Frame
from toolpath.blank.tips import Tips
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.drawing.shapes import rect
from toolpath.job.model import Box, Cylinder, Drift, Mesh, Piece, Shape, Side, Sphere
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.rise import RisingFloor
from toolpath.plan.route import Route

CELL = 0.15
DEPTH = 9.0
SQUARE = (-14.0, -14.0, 14.0, 14.0)


def pebble():
    ball = trimesh.creation.icosphere(subdivisions=3, radius=1.0)
    return Mesh(
        file=Path("pebble.stl"),
        vertices=np.array(ball.vertices * [7, 5, 4]),
        triangles=np.array(ball.faces, dtype=np.int64),
        tilt=(0.3, -0.4),
    )


SOLIDS = {
    "box": Box(size=(10.0, 6.0, 5.0)),
    "cylinder": Cylinder(diameter=9.0, height=4.0),
    "sphere": Sphere(diameter=10.0),
    "mesh": pebble(),
}


def shop_with(shop, kind, side=Side.FRONT, drift=None, at=(0.5, 1.0), **tool):
    piece = Piece(
        name="cog",
        solid=SOLIDS[kind],
        at=at,
        measured_from=side,
        depth=5.0,
        clearance=1.0,
        turn=0.5,
        drift=drift or Drift(),
    )
    cut = shop.pocket(rect(*SQUARE), depth=DEPTH, face=side, **tool)
    return replace(shop.job(cut), pieces=(piece,)), cut


def finished(job, cut):
    rising = RisingFloor.of(job, cut, cut.cutter, shapely.box(*SQUARE), -cut.depth)
    centres = shapely.box(*SQUARE).buffer(-cut.cutter.radius)
    route = Route(cutter=cut.cutter, machine=job.machine, safe=6.0, start=(0.0, 0.0))
    rising.finish(route, centres, 0.0)
    return rising, centres, route


def tips_on(moves, step=0.05):
    """(n, 3) tips along the feed moves."""
    found = []
    for move in moves:
        if move.kind is not Kind.RAPID:
            count = max(1, math.ceil(move.length / step))
            row = np.zeros(count + 1, dtype=np.intp)
            found.append(MoveTable.of([move]).at(row, np.linspace(0, 1, count + 1)))
    return np.concatenate(found)


def lattice():
    side = np.arange(SQUARE[0] - 0.5, SQUARE[2] + 0.5, CELL)
    x, y = np.meshgrid(side, side)
    return np.column_stack([x.ravel(), y.ravel()]), len(side)


def under(values, offsets):
    """The least over a set of offsets (row, column, rise) of values moved by it."""
    out = np.full(values.shape, np.inf)
    n, most = len(values), max(abs(v) for row, column, _ in offsets for v in (row, column))
    wide = np.pad(values, most, constant_values=np.inf)
    for row, column, rise in offsets:
        part = wide[most + row : most + row + n, most + column : most + column + n]
        np.minimum(out, part + rise, out=out)
    return out


def disc(radius, rise):
    count = math.ceil(radius / CELL)
    steps = list(itertools.product(range(-count, count + 1), repeat=2))
    return [
        (a, b, rise(math.hypot(a, b) * CELL)) for a, b in steps if math.hypot(a, b) * CELL <= radius
    ]


def floor_under(tips, n, cutter):
    """(n, n) what a cutter leaves of a lattice at tips (k, 3), to the nearest cell."""
    z = np.full((n, n), np.inf)
    place = np.round((tips[:, :2] - (SQUARE[0] - 0.5)) / CELL).astype(int)
    inside = ((place >= 0) & (place < n)).all(axis=1)
    np.minimum.at(z, (place[inside, 1], place[inside, 0]), tips[inside, 2])
    r = cutter.radius
    ball = cutter.shape is Shape.BALL
    return under(z, disc(r, lambda d: r - math.sqrt(r * r - d * d) if ball else 0.0))


def lowest_clear(job, cut, places):
    """(n,) the lowest clear tip by halving, asked of the exact check; over a mesh, which it takes
    its time for, by the tips that are held against it in their own tests."""
    if isinstance(job.pieces[0].solid, Mesh):
        tips = Tips.of(job, cut.face, cut.cutter, margin=0.0, within=shapely.box(*SQUARE))
        return np.maximum(tips.lowest(places, 0.0), -cut.depth)
    obstacles = Obstacles.of(job, cut.face)
    tool, frame = tool_of(cut.cutter, job.machine.nut), Frame.of(job, cut.face)
    low, high = np.full(len(places), -cut.depth), np.zeros(len(places))
    xy = frame.xy_to_program(places)
    first = obstacles.blocked(np.column_stack([xy, low]), tool)
    high = np.where(first, high, low)
    for _ in range(8):
        middle = (low + high) / 2
        bad = obstacles.blocked(np.column_stack([xy, middle]), tool)
        low, high = np.where(bad, middle, low), np.where(bad, high, middle)
    return high


def assert_close_to_the_lowest(job, cut, rising, centres, moves):
    """The floor after the levels and the passes is nowhere more than 0.3 mm in space over that of
    all lowest clear tips; a cell is added for the lattice."""
    places, n = lattice()
    inside = shapely.contains_xy(centres.buffer(1e-6), places)
    near = inside & shapely.contains_xy(rising.over.buffer(2 * CELL), places)
    ideal = np.column_stack([places, np.full(len(places), -cut.depth)])
    ideal[near, 2] = lowest_clear(job, cut, places[near])
    best = floor_under(ideal[inside], n, cut.cutter)
    tips = [tips_on(moves)]
    for z in (-3.0, -6.0, -cut.depth):
        free = shapely.contains_xy(centres.difference(rising.blocked(z)).buffer(1e-6), places)
        tips.append(np.column_stack([places[free], np.full(free.sum(), z)]))
    found = floor_under(np.concatenate(tips), n, cut.cutter)
    error = 0.3 + CELL
    allowed = -under(
        np.where(np.isfinite(best), -best, -5.0),
        disc(error, lambda d: -math.sqrt(error**2 - d * d)),
    )
    there = np.isfinite(best)
    assert (found[there] <= allowed[there]).all()
    # and it is the passes that bring it there
    bare = floor_under(np.concatenate(tips[1:]), n, cut.cutter)
    assert (bare[there] > allowed[there]).sum() > 50


CASES = [
    ("box", Side.FRONT, {}, None),
    ("cylinder", Side.BACK, {}, Drift(side=0.3, rise=0.2)),
    ("sphere", Side.FRONT, {"shape": Shape.BALL}, None),
    ("sphere", Side.BACK, {}, None),
    ("mesh", Side.BACK, {"shape": Shape.BALL}, Drift(side=0.2, turn=0.1)),
]


@pytest.mark.parametrize(("kind", "side", "tool", "drift"), CASES)
def test_the_floor_follows_the_lowest_clear_one(shop, kind, side, tool, drift):
    job, cut = shop_with(shop, kind, side, drift, **tool)
    rising, centres, route = finished(job, cut)
    table = MoveTable.of(Frame.of(job, side).to_program(route.moves))
    exact = tool_of(cut.cutter, job.machine.nut)
    assert not len(Obstacles.of(job, side).breaches(table, exact).row)
    assert_close_to_the_lowest(job, cut, rising, centres, route.moves)


@pytest.mark.parametrize(("kind", "side", "tool", "drift"), CASES[::2])
def test_the_way_is_whole_and_gentle(shop, judge, kind, side, tool, drift):
    job, cut = shop_with(shop, kind, side, drift, **tool)
    _, centres, route = finished(job, cut)
    moves = route.moves
    assert all(math.dist(a.end, b.start) < 1e-9 for a, b in itertools.pairwise(moves))
    assert moves[-1].end[2] == 6.0
    for move in moves:
        if move.kind is Kind.RAPID:
            # across only at the safe height, down no further than 1 mm over the face
            assert move.start[:2] == move.end[:2] or move.start[2] == move.end[2] == 6.0
            assert move.end[2] >= 1.0
        elif move.length:
            sinks = move.feed * (move.start[2] - move.end[2]) / move.length
            assert sinks <= cut.cutter.plunge + 1e-6
            assert move.feed <= cut.cutter.feed
    tips = tips_on(moves)
    assert centres.buffer(0.01).contains(shapely.points(tips[:, :2])).all()
    assert tips[tips[:, 2] < 0, 2].min() >= -cut.depth


@pytest.mark.parametrize("side", list(Side))
def test_rings_climb(shop, side):
    job, cut = shop_with(shop, "cylinder", side)
    _, _, route = finished(job, cut)
    arcs = [m for m in route.moves if m.kind is Kind.ARC]
    turned = sum(m.sweep for m in Frame.of(job, side).to_program(arcs))
    # stock inside the ring on the right of travel, as seen on the machine: clockwise
    assert turned < -2 * math.pi * 3


def test_nothing_in_the_way(shop):
    job, cut = shop_with(shop, "sphere", at=(60.0, 0.0))
    rising, _, route = finished(job, cut)
    assert not rising.any
    assert rising.pieces == ()
    assert route.moves == []
    job, cut = shop_with(shop, "sphere")
    assert finished(job, cut)[0].pieces == ("cog",)


def test_level_ground_is_cleared_in_wide_steps(shop):
    job, cut = shop_with(shop, "box")
    _, _, route = finished(job, cut)
    length = sum(m.length for m in route.moves if m.kind is not Kind.RAPID)
    # the zone is about (10 + 8) x (6 + 8) mm; at 0.2 mm it would take over 1200 mm
    assert length < 850


@pytest.mark.parametrize("cleared_to", [0.0, -2.0])
def test_a_ring_that_begins_above_the_stock_is_come_to_no_lower_than_it_begins(shop, cleared_to):
    job, cut = shop_with(shop, "sphere", at=(-13.0, 0.0))
    job = replace(job, pieces=(replace(job.pieces[0], depth=0.5, clearance=3.0),))
    rising = RisingFloor.of(job, cut, cut.cutter, shapely.box(*SQUARE), -cut.depth)
    centres = shapely.box(*SQUARE).buffer(-cut.cutter.radius)
    route = Route(cutter=cut.cutter, machine=job.machine, safe=6.0, start=(-20.0, 0.0))
    rising.finish(route, centres, cleared_to)
    ends = np.array([move.end for move in route.moves])
    inside = ends[shapely.contains_xy(centres.buffer(0.01), *ends[:, :2].T)]
    assert (inside[:, 2] >= rising.tips.lowest(inside[:, :2], 0.0) - 1e-6).all()
