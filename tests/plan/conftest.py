"""A workshop to plan in, and a judge that looks only at emitted moves."""

import itertools
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from toolpath.drawing.outline import Err, Loop, Region, area_of
from toolpath.drawing.shapes import rect
from toolpath.job.model import (
    Blank,
    CheckRules,
    Clamp,
    Cutter,
    Drill,
    Job,
    Machine,
    Pocket,
    Profile,
    ProfileSide,
    Shape,
    Side,
    Zero,
)
from toolpath.motion.moves import Kind, MoveTable
from toolpath.units import Unit

CHORD = 2e-4
"""Chords of emitted arcs stay this near to them, mm."""


class Shop:
    """Makes jobs, cutters and cuts with plain defaults."""

    def cutter(self, *, diameter=6.0, stepover=0.4, ramp=3.0, stepdown=3.0, **other):
        given = {
            "name": "flat 6",
            "shape": Shape.FLAT,
            "flutes": 2,
            "flute_length": 35.0,
            "shank": diameter,
            "reach": 45.0,
            "rpm": 16000.0,
            "feed": 1200.0,
            "plunge": 300.0,
        } | other
        return Cutter(
            diameter=diameter,
            stepover=stepover,
            ramp=math.radians(ramp),
            stepdown=stepdown,
            **given,
        )

    def machine(self, **other):
        given = {
            "travel": (600.0, 400.0, 90.0),
            "feed_max": 3000.0,
            "spindle": (8000.0, 24000.0),
            "safe_height": 6.0,
        } | other
        return Machine(**given)

    def job(self, *cuts, clamps=(), machine=None):
        return Job(
            file=Path("job.toml"),
            name="wall clock",
            unit=Unit.MM,
            blank=Blank(outline=rect(-200, -200, 200, 200), thickness=42.0),
            zero=dict.fromkeys(Side, Zero.LOWER_LEFT),
            machine=machine or self.machine(),
            check=CheckRules(clearance=1.0),
            cutters={},
            pieces=(),
            clamps=tuple(clamps),
            cuts=tuple(cuts),
        )

    def clamp(self, height, face=Side.FRONT):
        return Clamp(name="clamp[1]", face=face, outline=(rect(-20, 0, 0, 20),), height=height)

    def pocket(self, *outline, islands=(), depth=6.0, face=Side.FRONT, name="cavity", **cutter):
        return Pocket(
            name=name,
            face=face,
            cutter=self.cutter(**cutter),
            depth=depth,
            outline=tuple(outline),
            islands=tuple(islands),
        )

    def profile(self, *outline, side=ProfileSide.OUTER, depth=6.0, face=Side.FRONT, **cutter):
        return Profile(
            name="rim",
            face=face,
            cutter=self.cutter(**cutter),
            depth=depth,
            outline=tuple(outline),
            side=side,
        )

    def drill(self, *at, depth=10.0, peck=4.0, face=Side.FRONT, name="holes", **cutter):
        tool = self.cutter(**cutter)
        return Drill(
            name=name,
            face=face,
            cutter=tool,
            depth=depth,
            at=at,
            peck=peck,
            diameter=tool.diameter,
        )

    def polygon(self, corners):
        return Region(outer=Loop.of_polygon(np.asarray(corners, dtype=float)))


@pytest.fixture(scope="session")
def shop():
    return Shop()


def path_of(move):
    """(n, 3) points of a move, arcs as chords on the arc."""
    if move.kind is not Kind.ARC:
        return np.array([move.start, move.end])
    radius = math.hypot(move.start[0] - move.centre[0], move.start[1] - move.centre[1])
    step = 2.0 * math.acos(1.0 - min(CHORD / radius, 1.0))
    count = max(2, math.ceil(abs(move.sweep) / step))
    row = np.zeros(count + 1, dtype=np.intp)
    return MoveTable.of([move]).at(row, np.linspace(0.0, 1.0, count + 1))


def drawn(*regions, minus=()):
    """Regions as one area, with chords that err inward."""
    area = area_of(regions, 1e-5, Err.INWARD)
    return area.difference(area_of(minus, 1e-5, Err.OUTWARD)) if minus else area


def sweep_of(paths, radius):
    lines = [LineString(path[:, :2]) for path in paths if np.ptp(path[:, :2], axis=0).sum() > 0]
    return shapely.union_all([line.buffer(radius, quad_segs=64) for line in lines])


def across(move):
    """Length of a move in plan."""
    rise = move.end[2] - move.start[2]
    return math.sqrt(max(0.0, move.length**2 - rise**2))


@dataclass
class Judge:
    """Looks at the emitted moves of a planned cut, not at what the planner says of them."""

    planned: object

    @property
    def radius(self):
        return self.planned.cut.cutter.radius

    @property
    def feeds(self):
        return [move for move in self.planned.moves if move.kind is not Kind.RAPID]

    @property
    def rapids(self):
        return [move for move in self.planned.moves if move.kind is Kind.RAPID]

    def region(self):
        cut = self.planned.cut
        area = area_of(cut.outline, 1e-5, Err.INWARD)
        return area.difference(area_of(cut.islands, 1e-5, Err.OUTWARD)) if cut.islands else area

    def reachable(self):
        centres = self.region().buffer(-self.radius, quad_segs=96)
        return centres.buffer(self.radius, quad_segs=96)

    def flat_paths(self, z):
        return [path_of(m) for m in self.feeds if m.start[2] == z and m.end[2] == z]

    def cut_at(self, z):
        """What was swept flat at a height."""
        return sweep_of(self.flat_paths(z), self.radius)

    def uncut_share(self, z):
        can = self.reachable()
        return can.difference(sweep_of(self.flat_paths(z), self.radius)).area / can.area

    def overcut(self):
        """Furthest that any feed move below the face reaches past a wall, mm."""
        region = self.region()
        below = [path_of(m) for m in self.feeds if min(m.start[2], m.end[2]) < 0]
        rest = sweep_of(below, self.radius).difference(region)
        if rest.is_empty:
            return 0.0
        corners = shapely.points(shapely.get_coordinates(rest))
        return float(shapely.distance(region, corners).max())

    def nearest_to_wall(self, z):
        """Least distance of the tip's path at a level from the walls, mm."""
        wall = self.region().boundary
        points = np.concatenate([path[:, :2] for path in self.flat_paths(z)])
        shapely.prepare(wall)
        return float(shapely.distance(wall, shapely.points(points)).min())

    def steepest(self):
        """Largest angle of descent of slanting feed moves, radians."""
        slopes = [
            math.atan2(m.start[2] - m.end[2], across(m))
            for m in self.feeds
            if m.end[2] < m.start[2] and m.start[:2] != m.end[:2]
        ]
        return max(slopes, default=0.0)

    def fastest_down(self):
        """Largest vertical speed of descent, mm/min."""
        return max(
            (m.feed * (m.start[2] - m.end[2]) / m.length for m in self.feeds if m.length), default=0
        )

    def feed_length(self):
        return sum(m.length for m in self.feeds if min(m.start[2], m.end[2]) < 0)

    def flat_below(self, z, until):
        """What was cut flat at height z or lower by the moves before `until`."""
        done = [
            path_of(m)
            for m in self.planned.moves[:until]
            if m.kind is not Kind.RAPID and m.start[2] == m.end[2] <= z
        ]
        return sweep_of(done, self.radius)

    def assert_way_is_whole(self):
        """Moves join, start and end at the safe height; rapids go up, across or down only."""
        moves = self.planned.moves
        assert all(math.dist(a.end, b.start) < 1e-9 for a, b in itertools.pairwise(moves))
        safe = max(move.end[2] for move in moves)
        assert moves[0].start[2] == moves[-1].end[2] == safe
        for move in self.rapids:
            vertical = move.start[:2] == move.end[:2]
            level = move.start[2] == move.end[2]
            assert vertical != level
            assert vertical or move.start[2] == safe
        assert all(move.feed > 0 for move in self.feeds)

    def assert_straight_descents_in_air(self, above=0.2):
        """Straight down: by rapid to 1 mm above the face or 0.5 mm above what is known to be gone,
        by feed to 0.2 mm (`above`) above that."""
        for i, move in enumerate(self.planned.moves):
            if move.start[:2] != move.end[:2] or move.end[2] >= move.start[2]:
                continue
            rapid = move.kind is Kind.RAPID
            if move.end[2] >= (1.0 if rapid else 0.2) - 1e-9:
                continue
            air = move.end[2] - (0.5 if rapid else above) + 1e-9
            disc = Point(move.end[:2]).buffer(self.radius + (0.3 if rapid else 0.0))
            missing = disc.difference(self.flat_below(air, i))
            assert missing.area < 1e-3, (move, missing.area)

    def wall_sides(self, walls, z, slack=0.002):
        """Sign of the side on which the wall lies, of each flat move along a wall: -1 right."""
        found = []
        for path in self.flat_paths(z):
            middle = (path[:-1, :2] + path[1:, :2]) / 2.0
            ahead = np.diff(path[:, :2], axis=0)
            spots = shapely.points(np.concatenate([path[:, :2], middle]))
            gaps = shapely.distance(walls, spots)
            if len(middle) == 0 or np.abs(gaps - self.radius).max() > slack:
                continue
            k = len(middle) // 2
            line = shapely.shortest_line(Point(middle[k]), walls)
            to_wall = shapely.get_coordinates(line)[-1] - middle[k]
            found.append(np.sign(ahead[k, 0] * to_wall[1] - ahead[k, 1] * to_wall[0]))
        return found


@dataclass
class PartsJudge:
    """Looks at the emitted moves of all parts of a cut together."""

    parts: object

    def cut_at(self, z):
        """What all parts swept flat at a height."""
        found = []
        for part in self.parts:
            judged = Judge(part)
            found.append(sweep_of(judged.flat_paths(z), part.cutter.radius))
        return shapely.union_all(found)

    def uncut_share(self, area, z):
        radius = min(part.cutter.radius for part in self.parts)
        can = area.buffer(-radius, quad_segs=96).buffer(radius, quad_segs=96)
        return can.difference(self.cut_at(z)).area / can.area

    def overcut(self, area, top, floor):
        """Furthest that feed moves which end in a range of heights reach past an area, mm."""
        most = 0.0
        for part in self.parts:
            judged = Judge(part)
            low = [m for m in judged.feeds if floor <= min(m.start[2], m.end[2]) < top - 1e-9]
            rest = sweep_of([path_of(m) for m in low], part.cutter.radius).difference(area)
            if not rest.is_empty:
                corners = shapely.points(shapely.get_coordinates(rest))
                most = max(most, float(shapely.distance(area, corners).max()))
        return most

    def assert_descents_in_air(self, top=0.0):
        """Straight down only in what earlier moves of any part have swept to that depth: by rapid
        to 0.5 mm above it with 0.3 mm of air all round, by feed down to it or 0.2 mm above."""
        done = []
        for part in self.parts:
            radius = part.cutter.radius
            for move in part.moves:
                if move.kind is not Kind.RAPID and move.start[2] == move.end[2]:
                    path = LineString(path_of(move)[:, :2])
                    done.append((move.end[2], path.buffer(radius, quad_segs=32)))
                if move.start[:2] == move.end[:2] and move.end[2] < move.start[2]:
                    self._assert_air(done, move, radius, top)

    def _assert_air(self, done, move, radius, top):
        rapid = move.kind is Kind.RAPID
        if move.end[2] >= top + (1.0 if rapid else 0.2) - 1e-9:
            return
        low = move.end[2] - (0.5 if rapid else 0.0) + 1e-9
        disc = Point(move.end[:2]).buffer(radius + (0.3 if rapid else 0.0))
        near = [(z, area) for z, area in done if z <= low and area.intersects(disc)]
        gone = shapely.union_all([area for _, area in near])
        if not rapid and disc.difference(gone).area >= 1e-3:
            gone = shapely.union_all([area for z, area in near if z <= low - 0.2])
        assert disc.difference(gone).area < 1e-3, move


@pytest.fixture(scope="session")
def judge():
    return Judge


@pytest.fixture(scope="session")
def judge_parts():
    return PartsJudge


@pytest.fixture(scope="session")
def area():
    return drawn
