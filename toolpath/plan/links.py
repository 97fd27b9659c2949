"""One continuous path through all rings of a room: which rings are linked, and in what order.

Every link is a straight move of the cutter's centre inside the centre region, so that it can
never cut past a wall. The path starts at the innermost ring, works outward, dips into what
hangs on a ring as it goes round, and comes to the outer wall last.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import networkx as nx
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.lines import along, length_of, starting_at, straight, stretch
from toolpath.plan.rings import Ring
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A stretch of the path of one level: along a ring, or a straight link.

    `inset` is that of the ring, None for a link.
    """

    points: FloatArray = field(repr=False)
    inset: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Web:
    """Rings and the links between them: a tree on the indices of `rings`.

    Every edge has `ends`, a dict from the index of a ring to the end of the link on it.
    """

    area: BaseGeometry
    rings: tuple[Ring, ...]
    tree: nx.Graph[int]

    def allows(self, start: FloatArray, end: FloatArray) -> bool:
        """Whether the cutter's centre may go straight from one point to the other."""
        return bool(self.area.covers(shapely.linestrings(straight(start, end))))


def web_of(area: Polygon, rings: Sequence[Ring], step: float) -> Web:
    """The shortest tree of links between rings that lies inside the centre region.

    No link needs to be longer than two steps: every ring lies one step inside another, and where
    no ring lies between two loops of the same inset they are less than two steps apart.
    """
    grown = area.buffer(TOLERANCES.offset, quad_segs=2)
    shapely.prepare(grown)
    web = Web(area=grown, rings=tuple(rings), tree=nx.Graph())
    web.tree.add_nodes_from(range(len(rings)))
    known = nx.utils.UnionFind(range(len(rings)))
    for first, second, ends in _candidates(web.rings, 2.0 * step + TOLERANCES.join):
        if known[first] != known[second] and web.allows(*ends):
            known.union(first, second)
            web.tree.add_edge(first, second, ends={first: ends[0], second: ends[1]})
    return web


def _candidates(
    rings: Sequence[Ring], most: float
) -> Iterable[tuple[int, int, tuple[FloatArray, FloatArray]]]:
    """Pairs of rings no further apart than `most`, nearest first, with their nearest points."""
    lines = np.array([ring.geometry for ring in rings], dtype=object)
    shapely.prepare(lines)
    first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=most)
    once = first < second
    first, second = first[once], second[once]
    if not len(first):
        return
    links = shapely.shortest_line(lines[first], lines[second])
    order = np.lexsort((second, first, np.round(shapely.length(links), 6)))
    for row in order:
        start, end = shapely.get_coordinates(links[row])
        yield int(first[row]), int(second[row]), (start, end)


def groups_of(web: Web) -> tuple[tuple[int, ...], ...]:
    """The rings that hang together; more than one group only where links fail."""
    return tuple(tuple(sorted(group)) for group in nx.connected_components(web.tree))


def last_ring(web: Web, group: Sequence[int]) -> int:
    """The ring that is walked last: the longest of those along the wall."""
    least = min(web.rings[i].inset for i in group if web.rings[i].inset >= 0)
    walls = [i for i in group if web.rings[i].inset == least]
    return max(walls, key=lambda i: web.rings[i].length)


def path_through(web: Web, root: int, start: FloatArray, last: int) -> tuple[Run, ...]:
    """The path of one level: from `start` on ring `root` through all that hangs with it.

    Ends on ring `last`, which has been walked all round by then.
    """
    spine: list[int] = nx.shortest_path(web.tree, root, last)
    runs: list[Run] = []
    for before, here, following in zip([None, *spine], spine, [*spine[1:], None], strict=False):
        aside = {ring for ring in (before, following) if ring is not None}
        runs += _walk(web, here, start, aside)
        if following is not None:
            onward = _onward(web, here, following, start)
            runs += onward
            start = onward[-1].points[-1]
    return tuple(run for run in runs if length_of(run.points) > ALLOWANCES.same)


def _onward(web: Web, here: int, following: int, start: FloatArray) -> list[Run]:
    """From the place where a ring was begun and ended to the next one out."""
    line = shapely.shortest_line(Point(start), web.rings[following].geometry)
    end = shapely.get_coordinates(line)[-1]
    if web.allows(start, end):
        return [Run(points=straight(start, end))]
    ends = web.tree.edges[here, following]["ends"]
    again = _again(web.rings[here], start, ends[here])
    return [again, Run(points=straight(ends[here], ends[following]))]


def _again(ring: Ring, start: FloatArray, end: FloatArray) -> Run:
    """Along a ring that is already cut, the shorter way round, to where its link leaves."""
    loop = _rotated(ring, start)
    place = _place(loop, end)
    ahead, back = stretch(loop, 0.0, place), stretch(loop, place, along(loop)[-1])[::-1]
    shorter = ahead if place <= along(loop)[-1] / 2.0 else back
    return Run(points=shorter, inset=ring.inset)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Visit:
    """A ring still to be walked, from a point on it, with all that hangs on it but `aside`."""

    ring: int
    start: FloatArray
    aside: set[int]


def _walk(web: Web, ring: int, start: FloatArray, aside: set[int]) -> list[Run]:
    """Round a ring and into all that hangs on it, back to `start`."""
    runs: list[Run] = []
    todo: list[Run | _Visit] = [_Visit(ring=ring, start=start, aside=aside)]
    while todo:
        item = todo.pop()
        if isinstance(item, Run):
            runs.append(item)
        else:
            todo.extend(reversed(_round(web, item)))
    return runs


def _round(web: Web, visit: _Visit) -> list[Run | _Visit]:
    """A ring cut at its excursions, which go out and come back by the same link."""
    ring = web.rings[visit.ring]
    loop = _rotated(ring, visit.start)
    hanging = [child for child in web.tree[visit.ring] if child not in visit.aside]
    ends = [web.tree.edges[visit.ring, child]["ends"] for child in hanging]
    places = [_place(loop, end[visit.ring]) for end in ends]
    found: list[Run | _Visit] = []
    done = 0.0
    for row in np.argsort(places, kind="stable"):
        leave, arrive = ends[row][visit.ring], ends[row][hanging[row]]
        found.append(_piece(ring, loop, done, places[row]))
        found.append(Run(points=straight(leave, arrive)))
        found.append(_Visit(ring=hanging[row], start=arrive, aside={visit.ring}))
        found.append(Run(points=straight(arrive, leave)))
        done = places[row]
    return [*found, _piece(ring, loop, done, float(along(loop)[-1]))]


def _piece(ring: Ring, loop: FloatArray, first: float, last: float) -> Run:
    if len(loop) < 2:
        return Run(points=loop, inset=ring.inset)
    return Run(points=stretch(loop, first, last), inset=ring.inset)


def _rotated(ring: Ring, start: FloatArray) -> FloatArray:
    if len(ring.points) < 2:
        return ring.points
    return starting_at(ring.points, _place(ring.points, start))


def _place(loop: FloatArray, spot: FloatArray) -> float:
    if len(loop) < 2:
        return 0.0
    return float(shapely.line_locate_point(shapely.linestrings(loop), Point(spot)))
