import itertools

import numpy as np
import pytest
import shapely
from scipy.sparse.csgraph import minimum_spanning_tree
from shapely.geometry import LineString, MultiPolygon, Point, box

from toolpath.plan.links import groups_of, last_ring, path_through, web_of
from toolpath.plan.rings import Ring, rooms_of

SHAPES = {
    "plain": box(0, 0, 60, 40),
    "islands": box(0, 0, 100, 60).difference(
        MultiPolygon([box(60, 20, 80, 40), box(20, 20, 38, 38)])
    ),
    "lobes": shapely.union_all([box(0, 0, 40, 40), box(60, 0, 110, 50), box(39, 14, 61, 26)]),
    "comb": box(0, 0, 90, 50).difference(
        shapely.union_all([box(x, 18, x + 5, 50) for x in (20, 42, 64)])
    ),
}


def room_and_web(area, step=2.4):
    (room,) = rooms_of(area, radius=3.0, step=step, turn=1.0)
    return room, web_of(room.area, room.rings, step)


def walked(web):
    group = groups_of(web)[0]
    last = last_ring(web, group)
    root = max(group, key=lambda i: web.rings[i].inset)
    return path_through(web, root, web.rings[root].points[0], last), last


@pytest.mark.parametrize("name", SHAPES)
def test_all_rings_of_a_room_hang_together_by_short_links_inside_it(name):
    room, web = room_and_web(SHAPES[name])
    assert groups_of(web) == (tuple(range(len(room.rings))),)
    grown = room.area.buffer(3e-4)
    for first, second, data in web.tree.edges(data=True):
        link = LineString([data["ends"][first], data["ends"][second]])
        assert link.length <= 2 * 2.4 + 0.01
        assert grown.covers(link)


@pytest.mark.parametrize("name", SHAPES)
def test_path_is_one_line_round_every_ring_that_ends_on_the_wall(name):
    room, web = room_and_web(SHAPES[name])
    runs, last = walked(web)
    for before, after in itertools.pairwise(runs):
        assert np.allclose(before.points[-1], after.points[0], atol=1e-5)
    around = shapely.union_all([LineString(run.points) for run in runs if run.inset is not None])
    for ring in room.rings:
        missing = ring.geometry.difference(around.buffer(1e-4))
        assert missing.length < 1e-3
    assert web.rings[last].inset == 0
    assert web.rings[last].geometry.distance(Point(runs[-1].points[-1])) < 1e-6


@pytest.mark.parametrize("name", SHAPES)
def test_path_stays_inside_and_hardly_goes_over_a_ring_twice(name):
    room, web = room_and_web(SHAPES[name])
    runs, _ = walked(web)
    grown = room.area.buffer(3e-4)
    assert all(grown.covers(LineString(run.points)) for run in runs)
    lengths = sum(ring.length for ring in room.rings)
    along_rings = sum(LineString(run.points).length for run in runs if run.inset is not None)
    assert along_rings == pytest.approx(lengths, rel=0.05)


def test_tree_is_as_short_as_the_shortest():
    # scipy's minimum spanning tree over all distances; in a plain pocket every link is allowed.
    room, web = room_and_web(SHAPES["plain"])
    lines = np.array([ring.geometry for ring in room.rings])
    every = shapely.distance(lines[:, None], lines[None, :])
    found = sum(
        float(np.hypot(*(data["ends"][a] - data["ends"][b])))
        for a, b, data in web.tree.edges(data=True)
    )
    assert found == pytest.approx(minimum_spanning_tree(every).sum())


def test_path_comes_to_the_wall_after_all_rings_inside_it():
    _, web = room_and_web(SHAPES["plain"])
    runs, _ = walked(web)
    insets = [run.inset for run in runs if run.inset is not None]
    assert insets == sorted(insets, reverse=True)


def test_a_point_is_visited_and_left_by_the_same_way():
    room, _ = room_and_web(SHAPES["plain"])
    point = Ring(inset=-1, points=np.array([[30.0, 4.0]]))
    web = web_of(room.area, (*room.rings, point), 2.4)
    runs, _ = walked(web)
    ends = [run.points[-1] for run in runs]
    assert sum(np.allclose(end, [30.0, 4.0]) for end in ends) == 1


def test_a_link_past_a_corner_is_not_allowed():
    _, web = room_and_web(SHAPES["comb"])
    assert web.allows(np.array([10.0, 40.0]), np.array([10.0, 10.0]))
    assert not web.allows(np.array([10.0, 40.0]), np.array([35.0, 40.0]))
