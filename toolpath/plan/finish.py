"""One last pass along the walls of a tier, climbing: at its full depth where the cutter is stiff
enough for that, else level by level.

Frame: page frame of the face, millimetres. It comes from cleared room on a quarter turn that
meets the wall at a tangent, goes on a little past where it began, and leaves by another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.job.model import Cutter
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.corners import Corners
from toolpath.plan.cover import swept
from toolpath.plan.curves import Curve, Wall, wall_curves
from toolpath.plan.descend import Levels, go_down
from toolpath.plan.entry import RingRamp
from toolpath.plan.gone import Gone
from toolpath.plan.lines import length_of, starting_at, stretch
from toolpath.plan.links import Run
from toolpath.plan.rest import NONE, Rest, air_entry
from toolpath.plan.rings import polygons_of, rings_of
from toolpath.plan.route import Route
from toolpath.plan.useful import Remains, useful
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES

FloatArray = NDArray[np.float64]

STIFF = 4.0
"""A cutter that sticks out by no more than this many diameters takes a wall at its full depth
(common practice, no source)."""
LONG = 4.0
"""Stretches of wall longer than this many diameters are left sideways before the cutter goes up."""
PLACES = 24
"""How many places along a wall are tried for a lead, besides the middles of its longest sides."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lead:
    """Where the wall is met, and the middles of the two quarter turns."""

    loop: FloatArray
    radius: float
    turn: float
    over: float
    """How far it goes on past where it began."""
    wall: Wall
    rounds: int = 1
    """How often it goes round."""

    @property
    def way(self) -> FloatArray:
        """(n, 2) round and on."""
        again = [self.loop[1:]] * (self.rounds - 1)
        return np.vstack([self.loop, *again, stretch(self.loop, 0.0, self.over)[1:]])

    def centre(self, way: FloatArray, at: int) -> FloatArray:
        """The middle of the quarter turn at the first (0) or last (-1) point of a way."""
        ahead = _heading(way, at)
        return np.asarray(way[at] + self.radius * _inward(ahead, self.turn))

    @property
    def start(self) -> FloatArray:
        """(2,) where it comes from."""
        way = self.way
        return np.asarray(self.centre(way, 0) - self.radius * _heading(way, 0))

    @property
    def end(self) -> FloatArray:
        """(2,) where it leaves to."""
        way = self.way
        return np.asarray(self.centre(way, -1) + self.radius * _heading(way, -1))

    def arcs(self) -> FloatArray:
        """(n, 2) both quarter turns as chords, joined by nothing that matters."""
        way = self.way
        found = []
        for at, first in ((0, 0.0), (-1, 0.5 * math.pi)):
            ahead = _heading(way, at)
            inward = _inward(ahead, self.turn)
            angles = first + np.linspace(0.0, 0.5 * math.pi, 9)
            turned = -np.outer(np.cos(angles), ahead) - np.outer(np.sin(angles), inward)
            found.append(self.centre(way, at) + self.radius * turned)
        return np.array(found)


def takes_whole_wall(cutter: Cutter, drop: float) -> bool:
    """Whether a last pass takes a wall of height `drop` at once: the cutter is short for its
    diameter and its flutes reach all the way up."""
    stiff = cutter.reach <= STIFF * cutter.diameter + TOLERANCES.equal
    return stiff and drop <= cutter.flute_length + TOLERANCES.equal


def last_heights(work: Work, levels: Levels) -> tuple[float, ...]:
    """The heights of the last pass along the walls of some levels: the floor alone where it is
    taken at once, else every level."""
    whole = takes_whole_wall(work.cutter, levels.top - levels.floor)
    return (levels.floor,) if whole else levels.heights


def finish_walls(
    route: Route,
    work: Work,
    loops: list[FloatArray],
    heights: tuple[float, ...],
    gone: Gone,
    centres: BaseGeometry,
) -> None:
    """The last pass along closed loops of the cutter's centre, each a climbing way along a wall,
    at each of some heights, deepest last.

    `centres` is where the centre may be. What it clears is added to what is gone.
    """
    z = heights[-1]
    allowed = centres.buffer(TOLERANCES.offset, quad_segs=2)
    shapely.prepare(allowed)
    wall = Wall.of(centres, work.radius, work.turn)
    for loop in loops:
        lead = _lead_for(work, (loop, wall), z, gone, allowed)
        if lead is None:
            ramp = RingRamp(loop=loop, around=wall_curves(loop, wall))
            _on_the_wall(route, work, ramp, z, gone)
        else:
            _walk(route, lead, heights, gone)
    gone.add(z, swept(loops, work.radius))


def finish_pieces(
    route: Route, rest: Rest, centres: BaseGeometry, heights: tuple[float, ...], gone: Gone
) -> None:
    """The last pass along the stretches of wall from which something was left to take."""
    z = heights[-1]
    remains = Remains(rest.stock, rest.work.radius)
    gap = ALLOWANCES.air_most * rest.work.cutter.diameter
    near = rest.stock.buffer(rest.work.radius + ALLOWANCES.rest_near, quad_segs=16)
    pieces: list[FloatArray] = []
    loops: list[FloatArray] = []
    for loop in wall_loops(centres, rest.work.turn, rest.corners):
        found = shapely.line_merge(LineString(loop).intersection(near), directed=True)
        for line in shapely.get_parts(found):
            points = shapely.get_coordinates(line)
            if line.is_ring:
                loops.append(loop)
            elif len(points) > 1 and length_of(points) > ALLOWANCES.rest_overlap:
                kept = useful(remains, (Run(points=points, inset=0),), gap)
                pieces += [run.points for runs in kept for run in runs]
    wall = Wall.of(centres, rest.work.radius, rest.work.turn)
    for curve in (curve for points in pieces for curve in wall_curves(points, wall)):
        for height in heights:
            _walk_piece(route, rest, curve, height, gone)
    if pieces:
        gone.add(z, swept(pieces, rest.work.radius))
    finish_walls(route, rest.work, loops, heights, gone, centres)


def wall_loops(centres: BaseGeometry, turn: float, corners: Corners = NONE) -> list[FloatArray]:
    """The loops of the cutter's centre along all walls, climbing, and into the `corners`."""
    parts = polygons_of(centres)
    return [
        corners.of_points(ring.points)
        for part in parts
        for ring in rings_of(Polygon(part), 0, turn)
        if ring.length >= ALLOWANCES.ring_least
    ]


def _walk(route: Route, lead: _Lead, heights: tuple[float, ...], gone: Gone) -> None:
    """In, round and out at each height; from one to the next it stays down where it can."""
    way, start = lead.way, lead.start
    curves = wall_curves(lead.loop, lead.wall) * lead.rounds
    curves += wall_curves(stretch(lead.loop, 0.0, lead.over), lead.wall)
    quarter = lead.turn * 0.5 * math.pi
    for i, z in enumerate(heights):
        if i and not route.due and _may_go_back(lead, heights[i - 1], gone, route.cutter.radius):
            route.straight(*_pair(start), heights[i - 1])
        else:
            go_down(route, _pair(start), z, gone)
        route.sink(z)
        route.turn(_pair(lead.centre(way, 0)), quarter, z)
        route.along(curves, z)
        route.turn(_pair(lead.centre(way, -1)), quarter, z)
    route.lift()


def _may_go_back(lead: _Lead, z: float, gone: Gone, radius: float) -> bool:
    """Whether the way from its end straight to its start is cleared."""
    back = LineString([lead.end, lead.start]).buffer(radius + ALLOWANCES.sure)
    return bool(gone.at(z).covers(back))


def _walk_piece(route: Route, rest: Rest, curve: Curve, z: float, gone: Gone) -> None:
    entry, leave = (air_entry(rest, curve.edges[at, :2]) for at in (0, -1))
    for _ in range(1 + rest.work.cut.spring_passes):
        go_down(route, entry.spot, z, gone)
        entry.descend(route, rest.work.slope, z)
        route.along((curve,), z)
        if curve.length > LONG * rest.work.cutter.diameter:
            route.straight(*leave.spot, z)
        route.lift()


def _on_the_wall(route: Route, work: Work, ramp: RingRamp, z: float, gone: Gone) -> None:
    """Down along the wall itself where no lead fits, then once round."""
    top = gone.top + ALLOWANCES.ramp_above_face
    go_down(route, ramp.start(work.slope, top - z), gone.top, gone)
    route.sink(top)
    ramp.descend(route, work.slope, z)
    route.along(ramp.around * (1 + work.cut.spring_passes), z)
    route.lift()


def _lead_for(
    work: Work, along: tuple[FloatArray, Wall], z: float, gone: Gone, allowed: BaseGeometry
) -> _Lead | None:
    """The roomiest lead on to a loop there is, on a long side if it fits there."""
    loop, wall = along
    diameter = work.cutter.diameter
    finish = work.cut.finish
    sizes = (
        ALLOWANCES.lead_most * diameter,
        0.25 * diameter,
        finish + ALLOWANCES.beside + ALLOWANCES.sure,
        finish + 0.1,
    )
    over = min(ALLOWANCES.lead_overlap, length_of(loop) / 4.0)
    for radius in sorted((size for size in sizes if size > finish + 0.05), reverse=True):
        for place in _places(loop):
            lead = _Lead(
                loop=starting_at(loop, place),
                radius=radius,
                turn=work.turn,
                over=over,
                wall=wall,
                rounds=1 + work.cut.spring_passes,
            )
            if _fits(lead, work, z, gone, allowed):
                return lead
    return None


def _fits(lead: _Lead, work: Work, z: float, gone: Gone, allowed: BaseGeometry) -> bool:
    if not all(allowed.covers(LineString(arc)) for arc in lead.arcs()):
        return False
    start = lead.start
    return gone.air((float(start[0]), float(start[1])), work.radius + ALLOWANCES.sure, z)


def _places(loop: FloatArray) -> list[float]:
    """Places along a loop at which a lead is tried: middles of long sides, then all round."""
    sides = np.hypot(*np.diff(loop, axis=0).T)
    ends = np.cumsum(sides)
    longest = np.argsort(-sides, kind="stable")[:8]
    middles = [float(ends[i] - sides[i] / 2.0) for i in longest]
    return [*middles, *(float(ends[-1]) * i / PLACES for i in range(PLACES))]


def _heading(way: FloatArray, at: int) -> FloatArray:
    """(2,) unit vector of travel at the first (0) or last (-1) point."""
    ahead = way[1] - way[0] if at == 0 else way[-1] - way[-2]
    return np.asarray(ahead / np.hypot(*ahead))


def _inward(ahead: FloatArray, turn: float) -> FloatArray:
    """(2,) unit vector away from the wall, which lies on the other side of travel."""
    return turn * np.array([-ahead[1], ahead[0]])


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
