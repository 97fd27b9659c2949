"""The compiled search through a mesh beside a slow twin, `tests/tools/slow_mesh.py`: whole blocks
of spans in numpy, in another order, that share no step of it but the bounds."""

import math

import numpy as np
import pytest
import trimesh
from numba import njit
from slow_mesh import search_mesh as slow_search

from toolpath.check import mesh
from toolpath.check.gap import Body, Tool, gaps, tool_of
from toolpath.check.judge import SEARCH, Best, Pairs
from toolpath.check.mesh import search_mesh
from toolpath.check.meshtree import MeshTree, boxes_of, levels_over
from toolpath.check.report import Part
from toolpath.errors import InternalError
from toolpath.field.kernels import nearing
from toolpath.field.kernels.nearing import BODIES
from toolpath.job.model import Cutter, Nut, Shape
from toolpath.motion.moves import Arcs, Kind, MoveTable
from toolpath.tolerances import TOLERANCES

NUT = Nut(diameter=20.0)
MOVES = 9


def cutter(shape, **more):
    sizes = {"diameter": 6.0, "flutes": 2, "flute_length": 8.0, "shank": 4.0, "reach": 14.0}
    speeds = dict.fromkeys(("rpm", "feed", "plunge", "ramp", "stepdown", "stepover"), 1.0)
    return Cutter(name="c", shape=shape, **{**sizes, **speeds, **more})


TOOLS = {
    "flat": lambda: tool_of(cutter(Shape.FLAT), NUT),
    "ball": lambda: tool_of(cutter(Shape.BALL), NUT),
    "bull": lambda: tool_of(cutter(Shape.BULL, corner_radius=1.0), NUT),
    "vee": lambda: tool_of(cutter(Shape.VEE, angle=1.2, tip_diameter=0.4), NUT),
    "round over": lambda: tool_of(cutter(Shape.ROUND_OVER, edge_radius=2.0), NUT),
    "many bodies": lambda: Tool(bodies=tuple(stack(BODIES + 8))),
}


def stack(count):
    """A cone in steps; only what is thinnest, and last, comes to the mesh first."""
    for n in range(count):
        r, z = 3.0 * (1.0 - n / count), 2.0 * (count - 1 - n) / count
        yield Body(part=Part.FLUTES, r_low=r, r_full=r, z_low=z, z_full=z, z_high=9.0)


def tree_of(rng, turn):
    """A pebble of 80 triangles about 60, 40, its top 8 deep; `turn` 0 is one that keeps still."""
    ball = trimesh.creation.icosphere(subdivisions=1, radius=6.0)
    bent = ball.vertices * rng.uniform(0.7, 1.2, (len(ball.vertices), 1)) * (2.0, 1.0, 0.6)
    corners = np.ascontiguousarray((bent + np.array([60.0, 40.0, -12.0]))[ball.faces])
    boxes, first = levels_over(corners)
    side, rise = (0.4, 0.3) if turn else (0.0, 0.0)
    pivot = np.array([58.0, 41.0])
    return MeshTree(
        owner=3,
        corners=corners,
        boxes=boxes,
        first=first,
        pivot=pivot,
        side=side,
        rise=rise,
        turn=turn,
    )


def table_of(rng, count):
    """Rapids, lines, arcs and helices about and into a mesh at 60, 40 whose top is 8 deep."""
    kind = rng.integers(0, 3, count).astype(np.int8)
    start = np.array([60.0, 40.0, -5.0]) + rng.uniform(-1, 1, (count, 3)) * (18.0, 12.0, 4.0)
    end = start + rng.uniform(-1, 1, (count, 3)) * (9.0, 9.0, 3.0)
    arc = np.flatnonzero(kind == Kind.ARC)
    middle, off = (start[arc, :2] + end[arc, :2]) / 2.0, end[arc, :2] - start[arc, :2]
    bow = rng.uniform(-1.0, 1.0, (len(arc), 1)) * off[:, ::-1] * (1.0, -1.0)
    first, last = start[arc, :2] - middle - bow, end[arc, :2] - middle - bow
    sweep = np.arctan2(*last.T[::-1]) - np.arctan2(*first.T[::-1])
    sweep += rng.choice([0.0, 2.0 * math.pi], len(arc))
    end[arc, :2] += rng.uniform(-0.002, 0.002, (len(arc), 2))  # ends as the standard tolerates
    return MoveTable(
        kind=kind,
        start=start,
        end=end,
        arcs=Arcs(row=arc, centre=middle + bow, sweep=sweep),
        feed=np.ones(count),
        line=np.arange(count, dtype=np.int32),
    )


def searched(search, scene, limit, within=SEARCH):
    """What a search finds of each move by itself."""
    table, tool, tree = scene
    row = np.arange(len(table))
    best = Best.of(limit, within=within)
    search(table, tool, tree, Pairs(row=row, solid=row, group=row), best)
    return best


def all_near():
    return np.full(MOVES, np.inf)


@pytest.fixture
def scene(tool, turn):
    rng = np.random.default_rng(sum(map(ord, tool)) + int(turn > 0.0))
    return table_of(rng, MOVES), TOOLS[tool](), tree_of(rng, turn)


each_scene = pytest.mark.parametrize(
    ("tool", "turn"),
    [*((tool, 0.0) for tool in TOOLS), ("flat", 0.12), ("vee", 0.12), ("vee", 1.0), ("flat", 1.6)],
)
each_turn = pytest.mark.parametrize("turn", [0.0, 0.12])


@each_scene
@pytest.mark.parametrize("search", [slow_search, search_mesh])
def test_both_searches_find_what_comes_nearer_than_a_limit_and_nothing_else(scene, search):
    """The least gaps by the compiled search are at most SEARCH above the truth and not below it:
    the twin, asked whether anything comes nearer than a little more or less, says so."""
    gap = searched(search_mesh, scene, all_near()).gap
    apart = gap > 0.1
    assert apart.sum() > 2
    for limit, expected in ((gap + TOLERANCES.judge, True), (gap - 2.0 * TOLERANCES.judge, False)):
        found = searched(search, scene, np.where(apart, limit, 1e-9), within=1.0).found
        np.testing.assert_array_equal(found[apart], np.full(apart.sum(), expected))
        np.testing.assert_array_equal(found[~apart], gap[~apart] == 0.0)


@each_scene
def test_what_is_found_says_which_move_and_whose(scene):
    best = searched(search_mesh, scene, all_near())
    assert (best.owner == 3).all()
    np.testing.assert_array_equal(best.row, np.arange(MOVES))


@each_turn
@pytest.mark.parametrize("tool", ["flat", "vee"])
def test_no_place_that_can_be_tried_is_nearer(scene):
    """Places along the moves, angles and points of the triangles tried by hand: the gaps to the
    points, each grown by its drift, are never less than what was found, and come near to it."""
    table, tool, tree = scene
    best = searched(search_mesh, scene, all_near())
    lines = np.flatnonzero(table.kind == Kind.LINE)
    share = np.linspace(0.0, 1.0, 9)
    angle = np.linspace(-tree.turn, tree.turn, 33 if tree.turn else 1)
    weight = np.array([(a, b, 4 - a - b) for a in range(5) for b in range(5 - a)]) / 4.0
    points = np.einsum("wc,tcx->twx", weight, tree.corners).reshape(-1, 3)
    for row in lines:
        least = np.inf
        for turned in angle:
            c, s = np.cos(turned), np.sin(turned)
            at = points.copy()
            at[:, :2] = (points[:, :2] - tree.pivot) @ np.array([[c, s], [-s, c]]) + tree.pivot
            pad = np.full(len(at), tree.side)
            grown = boxes_of(at, at, pad, tree.rise, 0)
            for tip in table.start[row] + share[:, None] * (table.end[row] - table.start[row]):
                found = gaps(tool, grown, np.broadcast_to(tip, at.shape)).gap
                least = min(least, float(found.min()))
        assert best.gap[row] <= least + SEARCH
        assert least <= best.gap[row] + 1.2  # half of what lies between the places


def test_a_group_of_many_moves_keeps_the_nearest_of_them():
    rng = np.random.default_rng(8)
    scene = table_of(rng, MOVES), TOOLS["flat"](), tree_of(rng, 0.12)
    each = searched(search_mesh, scene, all_near())
    apart = np.flatnonzero(each.gap > 0.5)
    best = Best.of(np.array([np.inf, np.inf]))
    group = (np.arange(len(apart)) % 2).astype(np.intp)
    search_mesh(*scene, Pairs(row=apart, solid=apart, group=group), best)
    for number in range(2):
        mine = apart[group == number]
        assert best.gap[number] == pytest.approx(each.gap[mine].min(), abs=SEARCH)
        assert best.row[number] in mine


def test_no_room_to_search_is_told(monkeypatch):
    monkeypatch.setattr(mesh, "_DEEPEST", 8)
    rng = np.random.default_rng(2)
    with pytest.raises(InternalError, match="more room"):
        searched(
            search_mesh, (table_of(rng, MOVES), TOOLS["flat"](), tree_of(rng, 0.1)), all_near()
        )


def test_looks_count_as_those_of_the_search_that_is_not_compiled():
    rng = np.random.default_rng(5)
    scene = table_of(rng, MOVES), TOOLS["flat"](), tree_of(rng, 0.12)
    best = searched(search_mesh, scene, all_near())
    row = np.arange(MOVES)
    again = Best.of(all_near())
    again.looked = 10**7  # so many that all lengths doubled until nothing is told apart
    search_mesh(*scene, Pairs(row=row, solid=row, group=row), again)
    assert again.looked - 10**7 <= best.looked
    assert (again.gap >= best.gap - SEARCH).all()
    assert (again.gap > best.gap + 0.1).any()
    assert best.growth == 1.0


@pytest.mark.parametrize("half", [0.05, 0.3, 0.6])
@pytest.mark.parametrize("seed", range(20))
def test_a_turned_triangle_reaches_no_further_than_is_said(half, seed):
    """Against corners turned by many angles; the direction of the first is along an arm, where
    all that a turn adds is how far the arc lies off its tangent (elementary)."""
    rng = np.random.default_rng(seed)
    pivot, middle = np.array([58.0, 41.0]), 0.4
    corners = np.array([60.0, 40.0, -12.0]) + rng.uniform(-6.0, 6.0, (3, 3))
    drift, item, seen = np.zeros(8), np.zeros(32), np.zeros(32)
    drift[3:5], item[14:23] = pivot, corners.ravel()
    item[23], item[24] = middle - half, middle + half
    sized(item, drift, seen)
    mid = seen[9:12].copy()
    arms = seen[:9].reshape(3, 3)[:, :2] - pivot
    far = arms[np.hypot(*arms.T).argmax()]
    directions = [np.append(far / np.hypot(*far), 0.0), *rng.normal(size=(8, 3))]
    turned = np.array([turned_about(corners, pivot, a) for a in np.linspace(*item[23:25], 201)])
    for direction in directions:
        unit = direction / np.linalg.norm(direction)
        alone, reach = reached(item, drift, seen, *unit.tolist())
        true = float(-((turned - mid) @ unit).min())
        assert reach >= true - 1e-9
        assert alone == pytest.approx(-((seen[:9].reshape(3, 3) - mid) @ unit).min())


@njit
def sized(item, drift, seen):
    nearing._sized(item, drift, seen)


@njit
def reached(item, drift, seen, x, y, z):
    return nearing._reach(item, drift, seen, x, y, z)


def turned_about(corners, pivot, angle):
    c, s = math.cos(angle), math.sin(angle)
    xy = (corners[:, :2] - pivot) @ np.array([[c, s], [-s, c]]) + pivot
    return np.column_stack([xy, corners[:, 2]])
