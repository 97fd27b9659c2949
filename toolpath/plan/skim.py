"""A whole face brought down, level by level, in strokes that run out over its edge.

Frame: page frame of the face, millimetres. The cutter goes down beside the blank, in air, or where
a stroke before it cut. Strokes that something in the way parts are followed by a loop round it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top
from toolpath.drawing.outline import Err
from toolpath.errors import EntryError
from toolpath.job.model import Job, Rule, Skim, SkimWay
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.cover import swept
from toolpath.plan.curves import curves_of
from toolpath.plan.lines import length_of, stretch
from toolpath.plan.pillar import with_pillars
from toolpath.plan.regions import Region, layout_of
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import flat_area, polygons_of, rings_of
from toolpath.plan.route import Route
from toolpath.plan.tiers import Tier
from toolpath.plan.uneven import uneven_notes
from toolpath.plan.work import Work
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm, show_place

FloatArray = NDArray[np.float64]

LISTED = 12
"""Pieces listed with what stays over them, the least first."""
_SEARCHED = 8.0
"""Steps along a stroke in which a way on to it is looked for."""
_NEAR = 1.5
"""Steps to the next stroke that a way to it may be long and still stay down."""


def plan_skim(job: Job, cut: Skim) -> PlannedCut:
    """The moves of a skim.

    Raises
    ------
    EntryError
        A part of the face can only be reached by a plunge into it.
    """
    work = Work(job=job, cut=cut, cutter=cut.cutter)
    surface = job.surfaces.get(cut.face)
    blank = flat_area(cut.outline, TOLERANCES.flatten, Err.OUTWARD)
    out = work.radius + cut.beyond
    wide = blank.buffer(out + work.radius, quad_segs=32)
    top = surface.highest if surface else 0.0
    whole = Tier(area=wide, drawn=wide, outline=wide, top=top, floor=-cut.depth)
    tier, pillars = with_pillars(job, cut, cut.cutters, whole)
    layout = layout_of(work, tier)
    route = Route.on(job, cut, cut.cutter)
    skimming = _Skimming(route=route, work=work, cut=cut, blank=blank, top=top)
    done: list[FloatArray] = []
    for region in layout.regions:
        for z in region.levels.heights:
            done = skimming.level(region, z)
    if layout.rising is not None:
        layout.rising.finish(route, layout.centres, top)
    rising = layout.rising.pieces if layout.rising is not None else ()
    moves = route.done()
    standing = shapely.union_all([layout.risen(), *(pillar.area for pillar in pillars)])
    can = blank.difference(standing)
    left = can.difference(swept(done, work.radius))
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=moves,
        floor=cut.depth,
        reachable_area=float(can.area),
        uncut_area=float(left.area) if left.area > TOLERANCES.area * blank.area else 0.0,
        lifts=route.lifts,
        notes=(
            *(pillar.note(job.unit) for pillar in pillars),
            *_cover_notes(job, cut, [*rising, *(pillar.piece.name for pillar in pillars)]),
            *uneven_notes(job, cut, blank),
        ),
    )


@dataclass(slots=True, kw_only=True, eq=False)
class _Skimming:
    """One skim while it is planned; `blank` in plan, `top` the height at which its stock begins."""

    route: Route
    work: Work
    cut: Skim
    blank: BaseGeometry = field(repr=False)
    top: float
    done: list[FloatArray] = field(default_factory=list)
    """The strokes of this level so far."""

    def level(self, region: Region, z: float) -> list[FloatArray]:
        """One level: its strokes, then loops round what is in the way; all of them."""
        self.done = []
        allowed = region.centres.buffer(TOLERANCES.offset, quad_segs=2)
        shapely.prepare(allowed)
        outer = self.blank.buffer(self._out, quad_segs=32)
        for stroke in self._strokes(outer, region.centres):
            self._cut(stroke, z, allowed)
        for part in polygons_of(region.centres):
            for ring in rings_of(part, 0, self.work.turn)[1:]:
                self._cut(_begun_near(ring.points, self.route.at), z, allowed)
        self.route.lift()
        return self.done

    @property
    def _out(self) -> float:
        return self.work.radius + self.cut.beyond

    def _strokes(self, outer: BaseGeometry, centres: BaseGeometry) -> Iterator[FloatArray]:
        """Ways of the centre that cover the face, in order, parted by what is in the way."""
        ways = self._zigzag if self.cut.way is SkimWay.ZIGZAG else self._rings
        for way in ways(outer):
            parts = shapely.line_merge(LineString(way).intersection(centres), directed=True)
            lines = [part for part in shapely.get_parts(parts) if isinstance(part, LineString)]
            yield from (shapely.get_coordinates(part) for part in _along(lines, way))

    def _zigzag(self, outer: BaseGeometry) -> Iterator[FloatArray]:
        """Lines to and fro, a step apart at most, over all of the face."""
        ahead = np.array([math.cos(self.cut.along), math.sin(self.cut.along)])
        aside = np.array([-ahead[1], ahead[0]])
        reach = shapely.get_coordinates(self.blank) @ aside
        ends = shapely.get_coordinates(outer) @ ahead
        for count, at in enumerate(self._places(float(reach.min()), float(reach.max()))):
            pair = np.array([ends.min() - 1.0, ends.max() + 1.0])[:: 1 if count % 2 == 0 else -1]
            line = LineString(pair[:, None] * ahead + at * aside).intersection(outer)
            found = [part for part in shapely.get_parts(line) if part.length > ALLOWANCES.same]
            yield from (shapely.get_coordinates(p) for p in found[:: 1 if count % 2 == 0 else -1])

    def _places(self, low: float, high: float) -> FloatArray:
        """Where the lines run: the first takes a step, the last runs out over the far edge."""
        first = low - self.work.radius + self.work.step
        last = high - self.work.radius + ALLOWANCES.beside
        if last <= first:
            return np.array([(low + high) / 2.0])
        count = math.ceil((last - first) / self.work.step)
        return np.linspace(first, last, count + 1)

    def _rings(self, outer: BaseGeometry) -> Iterator[FloatArray]:
        """Rings from the edge inward, climbing: what is to be cut is inside them."""
        inset = self._out + self.work.radius - self.work.step
        while True:
            shrunk = outer.buffer(-inset, quad_segs=32)
            if shrunk.is_empty:
                return
            for part in polygons_of(shrunk):
                loop = rings_of(Polygon(part.exterior), 0, -self.work.turn)[0].points
                yield _begun_near(loop, self.route.at)
            inset += self.work.step

    def _cut(self, stroke: FloatArray, z: float, allowed: BaseGeometry) -> None:
        """One stroke, from where the last one ended if that is near, else from air, else from
        where something is cut already."""
        route, start = self.route, stroke[0]
        if self._may_link(start, z, allowed):
            route.straight(*_pair(start), z)
        elif self._in_air(start):
            self._down(start, z)
        elif self._in_air(stroke[-1]):
            stroke = stroke[::-1]
            self._down(stroke[0], z)
        else:
            spot, back = self._way_in(stroke, allowed)
            self._down(spot, z)
            route.straight(*_pair(back[0]), z)
            if len(back) > 1:
                route.along(curves_of(back, ALLOWANCES.inner_fit), z)
        route.along(curves_of(stroke, ALLOWANCES.inner_fit), z)
        self.done.append(stroke)

    def _may_link(self, start: FloatArray, z: float, allowed: BaseGeometry) -> bool:
        here = np.array(self.route.at[:2])
        if abs(self.route.at[2] - z) > ALLOWANCES.same:
            return False
        way = LineString([here, start])
        most = _NEAR * self.work.step + ALLOWANCES.same
        if not self.blank.buffer(self.work.radius).intersects(way):
            most = 2.0 * self._out + self.work.cutter.diameter  # beside the blank
        return bool(way.length <= most and allowed.covers(way))

    def _in_air(self, spot: FloatArray) -> bool:
        return float(self.blank.distance(Point(spot))) >= self.work.radius + ALLOWANCES.beside

    def _down(self, spot: FloatArray, z: float) -> None:
        """To a place and down there: by rapid in air, by feed from above the face."""
        route = self.route
        route.lift()
        route.over(*_pair(spot))
        low = z if self._in_air(spot) else self.top
        route.rapid_z(min(route.at[2], low + ALLOWANCES.rapid_above))
        route.sink(z)

    def _way_in(self, stroke: FloatArray, allowed: BaseGeometry) -> tuple[FloatArray, FloatArray]:
        """A place beside the blank, or on a stroke of this level, from which a short way leads to
        a stroke, and the part of it from there back to its start."""
        step = self.work.step
        edge = self.blank.buffer(self._out - ALLOWANCES.spare, quad_segs=32).boundary
        lines = MultiLineString([LineString(each) for each in self.done if len(each) > 1])
        for ahead in np.arange(0.0, min(length_of(stroke), _SEARCHED * step), 0.25 * step):
            spot = Point(stretch(stroke, 0.0, float(ahead))[-1] if ahead else stroke[0])
            for clear, most in ((edge, 2.0 * self._out), (lines, 2.0 * step)):
                near = shapely.shortest_line(clear, spot)
                if near is not None and near.length <= most and allowed.covers(near):
                    back = stretch(stroke, 0.0, float(ahead))[::-1] if ahead else stroke[:1]
                    return shapely.get_coordinates(near)[0], back
        unit, cut = self.work.job.unit, self.cut
        raise EntryError(
            f'cut "{cut.name}": no way in at {show_place(*_pair(stroke[0]), unit)} but a plunge, '
            "between what is in the way: turn the strokes (along), choose the other way, or skim "
            "less deep"
        )


def _pair(spot: FloatArray) -> tuple[float, float]:
    return float(spot[0]), float(spot[1])


def _along(lines: list[LineString], way: FloatArray) -> list[LineString]:
    """Parts of a way in its order."""
    whole = LineString(way)
    return sorted(lines, key=lambda part: whole.project(Point(shapely.get_coordinates(part)[0])))


def _begun_near(loop: FloatArray, at: tuple[float, float, float]) -> FloatArray:
    """A closed loop begun at its corner nearest to a place."""
    corners = loop[:-1]
    first = int(np.hypot(*(corners - np.array(at[:2])).T).argmin())
    return np.vstack([corners[first:], corners[: first + 1]])


def _cover_notes(job: Job, cut: Skim, uncut: Collection[str]) -> list[str]:
    """What stays over each kept piece that is skimmed over, as the job says where they lie, the
    least first."""
    tops = [
        (-cut.depth - page_top(job.blank, piece, cut.face), piece.name)
        for piece in job.pieces
        if piece.rule is Rule.KEEP and piece.name not in uncut
    ]
    over = sorted(entry for entry in tops if entry[0] > 0.0)
    if not over:
        return []
    listed = ", ".join(f'"{name}" {show_mm(cover, job.unit)}' for cover, name in over[:LISTED])
    more = f", and {len(over) - LISTED} more" if len(over) > LISTED else ""
    return [f"stays over the pieces, drift included: {listed}{more}"]
