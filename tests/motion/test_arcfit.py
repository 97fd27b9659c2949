import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from toolpath.motion.arcfit import fit_arcs, moves_along
from toolpath.motion.moves import Kind, MoveTable
from toolpath.motion.runs import Band

TOLERANCE = 0.001


def walk(edges, closed):
    return moves_along(edges, 0.0, 0.0, 100.0, closed=closed)


def places(edges, closed, steps=65):
    """Points all along the edges."""
    table = MoveTable.of(walk(edges, closed))
    row = np.repeat(np.arange(len(table)), steps)
    return table.at(row, np.tile(np.linspace(0, 1, steps), len(table)))[:, :2]


def distances(points, line):
    """Distance of each point (n, 2) from a polyline (shapely)."""
    pieces = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    tree = shapely.STRtree(pieces)
    return tree.query_nearest(shapely.points(points), all_matches=False, return_distance=True)[1]


def furthest(points, edges, closed):
    """Largest distance between the polyline and its edges, either way."""
    line = np.concatenate([points, points[:1]]) if closed else points
    dense = places(edges, closed, 513 if len(edges) < 60 else 65)
    middles = (line[:-1] + line[1:]) / 2
    there = distances(dense, line).max()
    return max(there, distances(np.concatenate([line, middles]), dense).max())


@pytest.mark.parametrize("count", [230, 231, 400, 1001])
@pytest.mark.parametrize("way", [1, -1])
def test_a_full_circle_becomes_arcs_of_its_radius(ring, count, way):
    edges = fit_arcs(ring(count)[::way], closed=True, tolerance=TOLERANCE)
    moves = walk(edges, True)
    assert 2 <= len(moves) <= 3
    for move in moves:
        assert move.kind is Kind.ARC
        assert math.dist(move.start[:2], move.centre) == pytest.approx(10.0, abs=1e-6)
        assert move.centre == pytest.approx((3.0, 4.0), abs=1e-6)
        assert abs(move.sweep) <= math.pi * 1.000001
    assert sum(move.sweep for move in moves) == pytest.approx(way * 2 * math.pi)


def test_an_open_arc_is_one_arc_or_two_halves(ring):
    for sweep, count in ((0.5, 1), (3.0, 1), (3.3, 2), (-5.8, 2)):
        points = ring(250, first=1.0, sweep=sweep, ends=True)
        edges = fit_arcs(points, closed=False, tolerance=TOLERANCE)
        assert len(edges) == count + 1
        assert edges[0, :2].tolist() == points[0].tolist()
        assert edges[-1].tolist() == [*points[-1].tolist(), 0.0]
        assert 4 * np.arctan(edges[:-1, 2]).sum() == pytest.approx(sweep, rel=1e-5)


def test_an_open_path_that_closes_on_itself_is_no_single_arc(ring):
    points = ring(300, ends=True)
    points[-1] = points[0]
    edges = fit_arcs(points, closed=False, tolerance=TOLERANCE)
    assert 4 * np.abs(np.arctan(edges[:, 2])).max() <= math.pi * 1.000001
    assert furthest(points, edges, False) <= TOLERANCE * 1.1


def test_true_corners_survive_exactly():
    corners = np.array([[0.1, 0.2], [50.3, 0.7], [50.9, 30.1], [25.5, 12.3], [-0.4, 30.9]])
    edges = fit_arcs(corners, closed=True, tolerance=TOLERANCE)
    assert sorted(map(tuple, edges[:, :2])) == sorted(map(tuple, corners))
    assert (edges[:, 2] == 0).all()


def test_collinear_vertices_merge_into_one_line():
    corners = np.array([[0, 0], [40, 0], [40, 30], [0, 30]], dtype=float)
    sides = [
        np.linspace(a, b, 57)[:-1] for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)
    ]
    edges = fit_arcs(np.concatenate(sides), closed=True, tolerance=TOLERANCE)
    assert sorted(map(tuple, edges)) == sorted((x, y, 0.0) for x, y in corners)


def test_a_line_may_leave_its_vertices_by_a_fiftieth_of_the_tolerance():
    near = np.array([[0, 0], [10, 0.000019], [20, 0]])
    far = np.array([[0, 0], [10, 0.02], [20, 0]])
    assert len(fit_arcs(near, closed=False, tolerance=TOLERANCE)) == 2
    assert len(fit_arcs(far, closed=False, tolerance=TOLERANCE)) == 3


def test_a_path_that_turns_back_is_not_cut_short():
    points = np.array([[0, 0], [10, 0], [5, 0], [20, 0]], dtype=float)
    edges = fit_arcs(points, closed=False, tolerance=TOLERANCE)
    assert edges[:, :2].tolist() == points.tolist()


def test_a_single_chord_is_no_arc(ring):
    points = ring(1, radius=0.02, sweep=0.6, ends=True)
    assert (fit_arcs(points, closed=False, tolerance=TOLERANCE)[:, 2] == 0).all()
    points = ring(2, radius=0.02, sweep=0.6, ends=True)
    assert len(fit_arcs(points, closed=False, tolerance=TOLERANCE)) == 2


def test_no_arc_larger_than_ten_metres(ring):
    for radius, arcs in ((9_900.0, True), (30_000.0, False)):
        points = ring(50, radius=radius, sweep=0.01, ends=True)
        edges = fit_arcs(points, closed=False, tolerance=TOLERANCE)
        assert (edges[:, 2] != 0).any() == arcs
    for move in walk(
        fit_arcs(
            ring(50, radius=10_100.0, sweep=0.01, ends=True), closed=False, tolerance=TOLERANCE
        ),
        False,
    ):
        if move.kind is Kind.ARC:
            assert math.dist(move.start[:2], move.centre) <= 10_000.001


def test_a_rounded_rectangle_becomes_eight_edges():
    # The parallel body of a rectangle: four lines, four quarter circles (Steiner).
    shape = shapely.box(0, 0, 40, 20).buffer(5, quad_segs=64)
    points = np.array(shape.exterior.coords)[:-1]
    moves = walk(fit_arcs(points, closed=True, tolerance=TOLERANCE), True)
    assert len(moves) == 8
    arcs = [move for move in moves if move.kind is Kind.ARC]
    assert len(arcs) == 4
    for arc in arcs:
        assert math.dist(arc.start[:2], arc.centre) == pytest.approx(5.0, abs=1e-6)
        assert abs(arc.sweep) == pytest.approx(math.pi / 2, abs=0.03)
    assert sum(move.length for move in moves) == pytest.approx(120 + 10 * math.pi, abs=1e-3)


def test_a_pocket_round_an_island(ring):
    island = shapely.Point(20, 30).buffer(8, quad_segs=64)
    shape = shapely.box(0, 0, 40, 30).difference(island).buffer(-3, quad_segs=64)
    points = np.array(shape.exterior.coords)[:-1]
    edges = fit_arcs(points, closed=True, tolerance=TOLERANCE)
    assert len(edges) <= 9
    assert furthest(points, edges, True) <= TOLERANCE * 1.05


def wavy(count, noise, seed):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    rng = np.random.default_rng(seed)
    radius = 50 + 5 * np.sin(7 * angle) + rng.normal(0, noise, count)
    return np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None]


@pytest.mark.parametrize("noise", [0.0, 0.0001, 0.001, 0.3])
@pytest.mark.parametrize("closed", [True, False])
def test_edges_stay_within_the_tolerance(noise, closed):
    points = wavy(1500, noise, 5)
    edges = fit_arcs(points, closed=closed, tolerance=TOLERANCE)
    # Between a vertex and a chord middle an arc may be a little further off than at either.
    assert furthest(points, edges, closed) <= TOLERANCE * 1.2
    if noise < 0.0005:
        assert len(edges) < 400


@settings(deadline=None, max_examples=30)
@given(
    steps=st.lists(
        st.tuples(st.integers(1, 12), st.floats(0.02, 2), st.floats(-1.2, 1.2)), min_size=1
    ),
    closed=st.booleans(),
)
def test_any_polyline_is_kept_within_the_tolerance(steps, closed):
    heading, here, points = 0.0, np.zeros(2), [np.zeros(2)]
    for count, length, turn in steps:
        for _ in range(count):
            heading += turn / count
            here = here + length * np.array([math.cos(heading), math.sin(heading)])
            points.append(here)
    path = np.array(points)
    edges = fit_arcs(path, closed=closed, tolerance=TOLERANCE)
    assert np.isfinite(edges).all()
    assert np.abs(edges[:, 2]).max() <= 1.000001
    assert furthest(path, edges, closed) <= TOLERANCE * 1.2
    if not closed:
        assert edges[0, :2].tolist() == path[0].tolist()
        assert edges[-1, :2].tolist() == path[-1].tolist()


def test_repeated_vertices_are_passed_over(ring):
    once = ring(100, sweep=1.0, ends=True)
    twice = np.repeat(once, 2, axis=0)
    same = fit_arcs(twice, closed=False, tolerance=TOLERANCE)
    assert same.tolist() == fit_arcs(once, closed=False, tolerance=TOLERANCE).tolist()
    loop = ring(100)
    again = np.concatenate([loop, loop[:1]])
    closed = fit_arcs(again, closed=True, tolerance=TOLERANCE)
    assert closed.tolist() == fit_arcs(loop, closed=True, tolerance=TOLERANCE).tolist()


@pytest.mark.parametrize(
    ("points", "tolerance"),
    [
        ([[0, 0]], 0.1),
        ([[0, 0], [0, 0]], 0.1),
        ([[0, 0, 0], [1, 1, 1]], 0.1),
        ([[0, 0], [math.nan, 1]], 0.1),
        ([[0, 0], [1, math.inf]], 0.1),
        ([[0, 0], [1, 1]], 0.0),
        ([[0, 0], [1, 1]], math.nan),
    ],
)
def test_what_is_no_polyline(points, tolerance):
    with pytest.raises(ValueError):
        fit_arcs(np.array(points, dtype=float), closed=False, tolerance=tolerance)


def test_moves_go_down_evenly_along_the_path():
    edges = np.array([[0, 0, 0], [10, 0, 1], [10, 10, 0], [0, 10, 0]], dtype=float)
    moves = moves_along(edges, 1.0, -2.0, 300.0, closed=True)
    lengths = [10, 5 * math.pi, 10, 10]
    share = np.cumsum(lengths) / sum(lengths)
    assert [move.kind for move in moves] == [Kind.LINE, Kind.ARC, Kind.LINE, Kind.LINE]
    assert [move.end[2] for move in moves] == pytest.approx(1 - 3 * share)
    assert moves[0].start == (0, 0, 1)
    assert moves[-1].end == (0, 0, -2)
    assert moves[1].centre == (10, 5)
    assert moves[1].sweep == pytest.approx(math.pi)
    assert {move.feed for move in moves} == {300.0}
    assert all(a.end == b.start for a, b in itertools.pairwise(moves))
    opened = moves_along(edges, 0.0, 0.0, 300.0, closed=False)
    assert [move.end[:2] for move in opened] == [(10, 0), (10, 10), (0, 10)]


@given(bulge=st.floats(-3, 3).filter(lambda b: abs(b) > 1e-3))
def test_the_bulge_is_the_tangent_of_a_quarter_of_the_angle(bulge):
    # The convention of DXF polylines, group code 42.
    (move,) = moves_along(np.array([[1, 2, bulge], [4, 6, 0]]), 0, 0, 1, closed=False)
    assert math.tan(move.sweep / 4) == pytest.approx(bulge)
    middle = MoveTable.of([move]).at(np.array([0]), np.array([0.5]))[0, :2]
    # The middle of the arc lies bulge half-chords to the right of the chord.
    assert middle == pytest.approx(np.array([2.5, 4.0]) + 2.5 * bulge * np.array([0.8, -0.6]))
    end = MoveTable.of([move]).at(np.array([0]), np.array([1.0]))[0, :2]
    assert end == pytest.approx([4, 6])


def test_edges_without_length_are_left_out_or_refused():
    edges = np.array([[0, 0, 0], [0, 0, 0], [3, 4, 0]], dtype=float)
    assert [move.length for move in walk(edges, False)] == [5.0]
    with pytest.raises(ValueError, match="without length"):
        walk(np.zeros((3, 3)), True)


@pytest.mark.parametrize("radius", [0.5, 5.0, 50.0])
def test_a_long_straight_beside_a_round_stays_a_line(radius):
    # Tangents of 12 mm on both ends of a quarter turn, its chords within 0.0005 mm.
    count = math.ceil(math.pi / 4 / math.acos(1 - 0.0005 / radius))
    angle = np.linspace(-math.pi / 2, 0.0, count + 1)
    turn = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    path = np.concatenate([[[-12.0, -radius]], turn, [[radius, 12.0]]])
    edges = fit_arcs(path, closed=False, tolerance=Band(right=0.001, left=0.005, sagitta=0.005))
    assert edges[0].tolist() == [-12.0, -radius, 0.0] and edges[-2, 2] == 0.0
    assert edges[1, :2] == pytest.approx([0.0, -radius], abs=1e-9)
    assert edges[-2, :2] == pytest.approx([radius, 0.0], abs=1e-9)


def test_a_curve_that_changes_sides_is_no_straight_line():
    # Flattened to 0.005 mm it has chords of up to 3.9 mm where it does.
    x = np.linspace(0.0, 32.0 * math.pi, 20_000)
    fine = np.column_stack([x, 4.0 * np.sin(x / 8.0)])
    path = shapely.get_coordinates(shapely.simplify(shapely.linestrings(fine), 0.005))
    edges = fit_arcs(path, closed=False, tolerance=Band(right=0.005, left=0.005, sagitta=0.005))
    assert (edges[:-1, 2] != 0.0).all()
    # The chords' own 0.005 and that of the band.
    assert distances(places(edges, False, 129), fine).max() < 0.0101


@pytest.mark.parametrize("length", [4.0, 12.0])
def test_a_straight_between_rounds_to_either_side_stays_a_line(length):
    # Quarter turns of 10 mm in as few chords as 0.005 mm allows, the second the other way; each is
    # one arc.
    angle = np.linspace(-math.pi / 2, 0.0, 26)
    first = 10.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    second = np.array([20.0, length]) - first[::-1]
    path = np.concatenate([first, second])
    edges = fit_arcs(path, closed=False, tolerance=Band(right=0.005, left=0.005, sagitta=0.005))
    quarter = math.tan(math.pi / 8.0)
    assert edges[:, 2] == pytest.approx([quarter, 0.0, -quarter, 0.0], abs=1e-3)
    assert edges[1:3, :2] == pytest.approx(np.array([[10.0, 0.0], [10.0, length]]), abs=1e-9)
