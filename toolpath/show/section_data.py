"""An upright section through one place of a cut, worked out before anything is drawn.

Frame: s runs along a line in plan (to the right as seen on the machine, 0 at the cutter's axis),
z is the height above the face that is up, before any cut: the Z of the program. Millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.blank.lying import thickness_up
from toolpath.check.report import Code, Finding
from toolpath.job.model import Cut, Cutter, Job, Nut, Piece, Rule, Shape, Side
from toolpath.show.areas import blank_area, clamp_area
from toolpath.show.pieces import (
    Line,
    footprint,
    grown_footprint,
    grown_section,
    section,
    z_range,
)
from toolpath.show.plan_data import title
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.show.section_stock import stock_along
from toolpath.show.seen import Seen, seen_from

FloatArray = NDArray[np.float64]
Ends = tuple[tuple[float, float], tuple[float, float]]
"""The two ends of a line in the section, (s, z) each."""

_ROUND_STEPS = 24
_NONE = shapely.Polygon()
_EDGE = 1e-3
"""Distance in mm below which a line counts as running straight up the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The place that a section goes through: the tip in the blank frame, and what was found
    there. `piece` is None where the trouble is not with a piece."""

    at: tuple[float, float, float]
    piece: Piece | None
    gap: float | None
    needed: float | None
    finding: Finding | None

    @property
    def refused(self) -> bool:
        """Whether the place is a refused one."""
        return self.finding is not None

    @property
    def room(self) -> float:
        """The gap less what is needed; without figures, less than any."""
        if self.gap is None or self.needed is None:
            return -math.inf
        return self.gap - self.needed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceCut:
    """A piece in the section: as stated, with its drift, and the band that is to stay clear."""

    name: str
    nominal: BaseGeometry
    grown: BaseGeometry
    band: BaseGeometry
    depth: float
    """Depth of its nearest point below the face that is up, as stated."""
    is_target: bool
    may_cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutterShape:
    """The cutter as it turns at the place: flutes, neck, shank, nut and dust shoe; neck and shoe
    are empty where there is none."""

    flutes: BaseGeometry
    neck: BaseGeometry
    shank: BaseGeometry
    nut: BaseGeometry
    shoe: BaseGeometry

    @property
    def whole(self) -> BaseGeometry:
        """All of it."""
        return shapely.union_all([self.flutes, self.neck, self.shank, self.nut, self.shoe])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SectionData:
    """All that a section shows. `tip_z` is the Z of the tip; `nearest` the ends of the shortest
    line in the section from the cutter to the grown piece, None where there is none."""

    side: Side
    title: str
    cut: Cut
    turning: Cutter
    """The cutter that is drawn: a cut may have several."""
    number: int
    target: Target
    seen: Seen
    line: Line
    stock: BaseGeometry
    removed: BaseGeometry
    """What is cut away of the blank, from both faces."""
    pieces: tuple[PieceCut, ...]
    clamps: tuple[BaseGeometry, ...]
    cutter: CutterShape
    tip_z: float
    bed: float
    """Height of the board: where the other face was skimmed before it lies so much higher."""
    nearest: Ends | None
    window: tuple[float, float, float, float]


def cutter_shape(cutter: Cutter, nut: Nut, tip_z: float) -> CutterShape:
    """The cutter about s = 0 with its tip at `tip_z`; the nut begins at the reach."""
    half = _half_profile(cutter)
    top = max(cutter.flute_length, half[-1][1])
    right = [*half, (cutter.radius, top)]
    ring = [(r, tip_z + z) for r, z in right] + [(-r, tip_z + z) for r, z in reversed(right)]
    reach, neck, shoe = max(cutter.reach, top), cutter.neck, nut.shoe
    shank_from = top if neck is None else neck.length

    def post(diameter: float, low: float, high: float) -> BaseGeometry:
        return shapely.box(-diameter / 2, tip_z + low, diameter / 2, tip_z + high)

    edge = reach if shoe is None else reach - shoe.drop
    return CutterShape(
        flutes=shapely.make_valid(shapely.Polygon(ring)),
        neck=_NONE if neck is None else post(neck.diameter, top, shank_from),
        shank=post(cutter.shank, shank_from, reach),
        nut=post(nut.diameter, reach, reach + nut.height),
        shoe=_NONE if shoe is None else post(shoe.diameter, edge, max(edge, reach + nut.height)),
    )


def _half_profile(cutter: Cutter) -> list[tuple[float, float]]:
    """(radius, height above the tip) from the middle of the end out to the full radius."""
    radius = cutter.radius
    match cutter.shape:
        case Shape.FLAT:
            return [(0.0, 0.0), (radius, 0.0)]
        case Shape.BALL | Shape.BULL:
            corner = radius if cutter.shape is Shape.BALL else cutter.corner_radius
            turn = np.linspace(0.0, math.pi / 2, _ROUND_STEPS + 1)
            flat = radius - corner
            arc = [(flat + corner * math.sin(t), corner * (1 - math.cos(t))) for t in turn]
            return [(0.0, 0.0), *arc]
        case Shape.ROUND_OVER:
            turn, round_ = np.linspace(0.0, math.pi / 2, _ROUND_STEPS + 1), cutter.edge_radius
            arc = [(radius - round_ * math.cos(t), round_ * math.sin(t)) for t in turn]
            return [(0.0, 0.0), *arc]
        case Shape.VEE | Shape.DRILL:
            return [(0.0, 0.0), (cutter.tip_diameter / 2, 0.0), (radius, cutter.point_length)]


def target_of(scene: Scene, view: CutView) -> Target | None:
    """The worst refused place of a cut, else its closest approach, else None."""
    found = [
        _target_at(scene.job, finding, finding.at)
        for finding in view.findings
        if finding.refuses and finding.at is not None and finding.code is not Code.NOTE
    ]
    if found:
        return min(found, key=lambda target: (target.piece is None, target.room))
    if view.closest is None:
        return None
    piece = _piece_named(scene.job, view.closest.piece)
    needed = scene.job.need(piece) if piece else None
    return Target(
        at=view.closest.at, piece=piece, gap=view.closest.gap, needed=needed, finding=None
    )


def _target_at(job: Job, finding: Finding, at: tuple[float, float, float]) -> Target:
    piece = _piece_named(job, finding.piece)
    needed = finding.needed if finding.needed is not None else (job.need(piece) if piece else None)
    return Target(at=at, piece=piece, gap=finding.gap, needed=needed, finding=finding)


def _piece_named(job: Job, name: str | None) -> Piece | None:
    """The piece of that name, if it is one (a clamp is not)."""
    return next((piece for piece in job.pieces if piece.name == name), None)


def worst_cut(program: ProgramView, scene: Scene) -> CutView | None:
    """The cut of a program whose place is worst: refused before clear, least room first."""
    places = [(view, target_of(scene, view)) for view in program.cuts]
    known = [(view, target) for view, target in places if target is not None]
    return min(known, key=lambda pair: rank(pair[1]), default=(None, None))[0]


def rank(target: Target) -> tuple[bool, float]:
    """For sorting places, worst first."""
    return not target.refused, target.room


def section_data(scene: Scene, view: CutView) -> SectionData | None:
    """The section through the worst or nearest place of a cut; None where it has none."""
    target = target_of(scene, view)
    if target is None:
        return None
    cut, cutter = view.planned.cut, view.planned.cutter
    job = scene.job_of(cut.face)
    seen = seen_from(job, cut.face)
    tip_z = seen.height(target.at[2])
    shape = cutter_shape(cutter, job.machine.nut, tip_z)
    line = _line_through(job, seen, target, shape)
    pieces = pieces_on(job, seen, line, target)
    stock, removed = stock_along(scene, job, seen, line)
    nearest = _nearest(shape, pieces)
    return SectionData(
        side=cut.face,
        title=title(job, cut.face),
        cut=cut,
        turning=cutter,
        number=view.number,
        target=target,
        seen=seen,
        line=line,
        stock=stock,
        removed=removed,
        pieces=pieces,
        clamps=_clamps_on(job, seen, line),
        cutter=shape,
        tip_z=tip_z,
        bed=-thickness_up(job, cut.face),
        nearest=nearest,
        window=_window(job, seen, tip_z, cutter, nearest),
    )


def _line_through(job: Job, seen: Seen, target: Target, shape: CutterShape) -> Line:
    """The line through the cutter's axis on which the piece comes nearest.

    The nearest point of a piece and the nearest point of a turned body lie in one plane with its
    axis; of the directions that may hold it the one with the least distance is taken.
    """
    x, y = seen.point(*target.at[:2])
    best = Line(origin=(x, y), direction=(1.0, 0.0))
    if target.piece is None:
        return best
    least = math.inf
    for direction in _directions(job, seen, target.piece, target.at):
        line = Line(origin=(x, y), direction=direction)
        grown = grown_section(target.piece, job.blank, seen, line)
        apart = math.inf if grown.is_empty else float(shape.whole.distance(grown))
        if apart < least - _EDGE:
            best, least = line, apart
    return best


def _directions(
    job: Job, seen: Seen, piece: Piece, at: tuple[float, float, float]
) -> list[tuple[float, float]]:
    """Directions in plan from the tip to where the piece may be nearest; along x first."""
    tip = shapely.Point(seen.point(*at[:2]))
    grown, plain = (seen.geometry(f(piece)) for f in (grown_footprint, footprint))
    aims = []
    if not grown.intersects(tip):
        aims.append(shapely.get_coordinates(shapely.shortest_line(tip, grown))[1])
    aims += [shapely.get_coordinates(shapely.shortest_line(tip, plain.boundary))[1]]
    aims += [shapely.get_coordinates(grown.centroid)[0]]
    found = []
    for aim in aims:
        dx, dy = float(aim[0] - tip.x), float(aim[1] - tip.y)
        length = math.hypot(dx, dy)
        if length > _EDGE:
            flip = -1.0 if dx < -_EDGE or (abs(dx) <= _EDGE and dy < 0) else 1.0
            found.append((flip * dx / length, flip * dy / length))
    return [(1.0, 0.0), *found]


def pieces_on(
    job: Job, seen: Seen, line: Line, target: Target | None = None
) -> tuple[PieceCut, ...]:
    """The pieces that the line meets, the target last."""
    found = []
    aimed = None if target is None else target.piece
    for piece in sorted(job.pieces, key=lambda p: p is aimed):
        if not line.intervals(seen.geometry(grown_footprint(piece))):
            continue
        grown = grown_section(piece, job.blank, seen, line)
        is_target = piece is aimed
        needed = target.needed if is_target and target is not None else None
        needed = job.need(piece) if needed is None else needed
        found.append(
            PieceCut(
                name=piece.name,
                nominal=section(piece, job.blank, seen, line),
                grown=grown,
                band=shapely.buffer(grown, needed),
                depth=-max(seen.height(z) for z in z_range(piece, job.blank)),
                is_target=is_target,
                may_cut=piece.rule is Rule.MAY_CUT,
            )
        )
    return tuple(found)


def _clamps_on(job: Job, seen: Seen, line: Line) -> tuple[BaseGeometry, ...]:
    """Clamps of this face that the line meets: on the blank, and beside it from the bed up."""
    bed = -thickness_up(job, seen.side)
    blank = shapely.union_all(
        [
            shapely.box(a, bed, b, 0.0)
            for a, b in line.intervals(seen.geometry(blank_area(job.blank)))
        ]
    )
    return tuple(
        shapely.box(a, bed, b, clamp.height).difference(blank)
        for clamp in job.clamps
        if clamp.face is seen.side
        for a, b in line.intervals(seen.geometry(clamp_area(clamp)))
    )


def _nearest(shape: CutterShape, pieces: tuple[PieceCut, ...]) -> Ends | None:
    """Ends of the shortest line from the cutter to the target, None where they overlap."""
    for piece in pieces:
        if piece.is_target and not piece.grown.is_empty:
            if shape.whole.intersects(piece.grown):
                return None
            ends = shapely.get_coordinates(shapely.shortest_line(shape.whole, piece.grown))
            (s0, z0), (s1, z1) = ends.tolist()
            return (s0, z0), (s1, z1)
    return None


def _window(
    job: Job, seen: Seen, tip_z: float, cutter: Cutter, nearest: Ends | None
) -> tuple[float, float, float, float]:
    """The part shown, square: from under the bed to a little above the nut's lower edge, and as
    far to the sides as the nearest point of the piece."""
    bottom = -thickness_up(job, seen.side) - 7.0
    top = max(tip_z + cutter.reach + min(job.machine.nut.height, 8.0), 9.0)
    half = (top - bottom) / 2
    if nearest is not None:
        half = max(half, abs(nearest[1][0]) + 12.0)
    middle = (top + bottom) / 2
    return -half, middle - half, half, middle + half
