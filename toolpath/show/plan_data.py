"""What a plan picture of one face shows, worked out before anything is drawn.

All coordinates are as seen on the machine from that face's zero (`toolpath.show.seen`), mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from toolpath.check.report import Code, Verdict
from toolpath.job.model import Cut, Hardness, Job, Pocket, Rule, Side
from toolpath.motion.moves import Kind, MoveTable
from toolpath.show.areas import blank_area, clamp_area, cut_area, ledge_area
from toolpath.show.pieces import depth_below, footprint, grown_footprint
from toolpath.show.scene import CutView, Scene
from toolpath.show.seen import Seen, seen_from
from toolpath.show.words import (
    SIDE_WORDS,
    TURN_WORDS,
    Lengths,
    closest_words,
    refused_words,
    shorten,
)

FloatArray = NDArray[np.float64]

_MARGIN = 0.06
"""Room round what is shown, as a share of its larger side."""
_ARC_STEP = math.radians(6.0)
_MARK_ROOM = 9.0
"""Room in mm that the number of a cut leaves round a mark."""
_SAME_PLACE = 0.5
"""Entries nearer together than this, mm, are one ring."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutMark:
    """An area to be cut, with the number of its cut."""

    number: int
    name: str
    cutter: str
    area: BaseGeometry
    depth: float
    through: bool
    verdict: Verdict
    spot: tuple[float, float]
    """A point inside the area, for the number."""
    ledge: BaseGeometry
    """The rim on which a plate rests, empty for none, and its depth."""
    ledge_depth: float
    tabs: tuple[tuple[float, float], ...]
    """Where bridges are left standing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceMark:
    """A piece in plan: as stated, and with its drift; `depth` of its top below this face."""

    name: str
    nominal: BaseGeometry
    grown: BaseGeometry
    depth: float
    hardness: Hardness
    may_cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PinMark:
    """A register pin, or the odd mark that shows a wrong turn."""

    name: str
    at: tuple[float, float]
    diameter: float
    odd: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClampMark:
    """A clamp in plan and its height above this face."""

    name: str
    area: BaseGeometry
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place to mark, with what there is to say about it; `room` is the gap less the need."""

    at: tuple[float, float]
    text: str
    room: float
    cut: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanData:
    """All that a plan picture of one face shows. `feeds` and `rapids` are (n, 2) with rows of NaN
    between separate paths; `entries` (n, 2). `closest` nearest first, `refused` worst first."""

    side: Side
    title: str
    seen: Seen
    blank: BaseGeometry
    cuts: tuple[CutMark, ...]
    pieces: tuple[PieceMark, ...]
    clamps: tuple[ClampMark, ...]
    feeds: FloatArray
    rapids: FloatArray
    entries: FloatArray
    closest: tuple[Place, ...]
    refused: tuple[Place, ...]
    pins: tuple[PinMark, ...]
    window: tuple[float, float, float, float]


_NAMED = 40
"""Pieces named in one picture: more names than that hide each other."""


def named_pieces(data: PlanData) -> tuple[PieceMark, ...]:
    """The pieces that get their names in the picture, nearest to the face first: all of them, or
    of many those under or nearest to cuts, and of these those nearest to a marked place."""
    marks = data.pieces[::-1]
    if len(marks) <= _NAMED:
        return marks
    cuts = shapely.union_all([cut.area for cut in data.cuts])
    places = shapely.MultiPoint([place.at for place in (*data.refused, *data.closest)])
    grown = [mark.grown for mark in marks]
    order = np.lexsort((shapely.distance(places, grown), shapely.distance(cuts, grown)))
    return tuple(marks[n] for n in sorted(order[:_NAMED].tolist()))


def cuts_of(scene: Scene, side: Side) -> tuple[CutView, ...]:
    """The cuts of one face in cutting order."""
    return tuple(cut for p in scene.programs if p.face is side for cut in p.cuts)


def sides_of(scene: Scene) -> tuple[Side, ...]:
    """The faces that have cuts, in the order in which they are first cut."""
    return tuple(dict.fromkeys(program.face for program in scene.programs))


def plan_data(scene: Scene, side: Side) -> PlanData:
    """What the plan picture of `side` shows."""
    job, views = scene.job_of(side), cuts_of(scene, side)
    seen = seen_from(job, side)
    paths = [_paths(view.moves, seen) for view in views]
    blank = seen.geometry(blank_area(job.blank))
    pieces, clamps = _pieces(job, seen), _clamps(job, seen)
    refused = tuple(place for view in views for place in _refused(view, job, seen))
    closest = tuple(place for view in views for place in _closest(view, job, seen))
    feeds, rapids = (_joined([path[i] for path in paths]) for i in (0, 1))
    entries = _apart(np.concatenate([np.empty((0, 2)), *(path[2] for path in paths)]))
    return PlanData(
        side=side,
        title=title(job, side) if scene.plate is None else plate_title(scene),
        seen=seen,
        blank=blank,
        cuts=_cut_marks(views, seen, _busy(pieces, (*refused, *closest), entries)),
        pieces=pieces,
        clamps=clamps,
        feeds=feeds,
        rapids=rapids,
        entries=entries,
        closest=tuple(sorted(closest, key=lambda place: place.room)),
        refused=tuple(sorted(refused, key=lambda place: place.room)),
        pins=pin_marks(job, seen),
        window=_window(blank, clamps, (feeds, rapids)),
    )


def title(job: Job, side: Side) -> str:
    """The face in words, and for the back that it is turned over."""
    words = f"{SIDE_WORDS[side]}, as you see it on the machine"
    over = f", after turning over {TURN_WORDS[job.blank.turn_over]}"
    return words if side is Side.FRONT else words + over


def plate_title(scene: Scene) -> str:
    """The sheet of a plate in words."""
    name = "" if scene.plate is None else scene.plate.cut.name
    return f"Plate for {shorten(name, 40)}: OUTER SIDE up, as you see it on the machine"


def pin_marks(job: Job, seen: Seen) -> tuple[PinMark, ...]:
    """The register pins and the odd mark as seen from a face."""
    if job.pins is None:
        return ()
    spots = [(f"pin {n}", at, False) for n, at in enumerate(job.pins.at, start=1)]
    spots.append(("odd mark", job.pins.mark, True))
    return tuple(
        PinMark(name=name, at=seen.point(*at), diameter=job.pins.diameter, odd=odd)
        for name, at, odd in spots
    )


def _busy(
    pieces: tuple[PieceMark, ...], places: tuple[Place, ...], entries: FloatArray
) -> list[BaseGeometry]:
    """Where the number of a cut had better not stand: on pieces and marks."""
    spots = [*(place.at for place in places), *entries.tolist()]
    marks = [shapely.buffer(shapely.Point(spot), _MARK_ROOM) for spot in spots]
    return [*(piece.grown for piece in pieces), *marks]


def _cut_marks(
    views: tuple[CutView, ...], seen: Seen, busy: list[BaseGeometry]
) -> tuple[CutMark, ...]:
    """The cuts; numbers stand clear of what is busy and of smaller cuts where there is room."""
    areas = [seen.geometry(cut_area(view.planned.cut)) for view in views]
    marks: list[CutMark] = []
    for index, (view, area) in enumerate(zip(views, areas, strict=True)):
        smaller = [a for i, a in enumerate(areas) if i != index and a.area < area.area]
        smaller += [shapely.Point(m.spot).buffer(_MARK_ROOM) for m in marks]
        rim, rim_depth = _ledge(view.planned.cut, seen)
        marks.append(
            CutMark(
                number=view.number,
                name=view.planned.cut.name,
                cutter=view.planned.cutter.name,
                area=area,
                depth=view.planned.cut.depth,
                through=view.planned.cut.through,
                verdict=view.verdict,
                spot=_spot(area, shapely.union_all(_touching(area, [*busy, *smaller]))),
                ledge=rim,
                ledge_depth=rim_depth,
                tabs=tabs_of(view, seen),
            )
        )
    return tuple(marks)


def _touching(area: BaseGeometry, others: list[BaseGeometry]) -> list[BaseGeometry]:
    """Those of the others that touch an area: mostly few, and putting all together takes long."""
    hit = shapely.intersects(area, np.array(others, dtype=np.object_))
    return [other for other, near in zip(others, hit, strict=True) if near]


def _ledge(cut: Cut, seen: Seen) -> tuple[BaseGeometry, float]:
    """The rim of a pocket as seen, and its depth."""
    if isinstance(cut, Pocket) and cut.ledge is not None:
        return seen.geometry(ledge_area(cut)), cut.ledge.depth
    return shapely.Polygon(), 0.0


def tabs_of(view: CutView, seen: Seen) -> tuple[tuple[float, float], ...]:
    """The middles of the bridges that a cut leaves, as seen."""
    return tuple(seen.point(x, y) for x, y in view.planned.tabs)


def _spot(area: BaseGeometry, busy: BaseGeometry) -> tuple[float, float]:
    """The middle of the widest place of an area, off what is busy if anything is left."""
    free = area.difference(busy)
    parts = [g for g in shapely.get_parts(free) if g.area > 0.0]
    parts = parts or [g for g in shapely.get_parts(area) if g.area > 0.0]
    if not parts:
        return 0.0, 0.0
    widest = max(parts, key=lambda g: g.area)
    circle = shapely.maximum_inscribed_circle(widest, tolerance=max(widest.length / 500.0, 0.05))
    x, y = shapely.get_coordinates(circle)[0]
    return float(x), float(y)


def _pieces(job: Job, seen: Seen) -> tuple[PieceMark, ...]:
    """Pieces, those nearest to this face last, so that they are drawn on top."""
    marks = [
        PieceMark(
            name=piece.name,
            nominal=seen.geometry(footprint(piece)),
            grown=seen.geometry(grown_footprint(piece)),
            depth=depth_below(piece, job.blank, seen.side),
            hardness=piece.hardness,
            may_cut=piece.rule is Rule.MAY_CUT,
        )
        for piece in job.pieces
    ]
    return tuple(sorted(marks, key=lambda mark: -mark.depth))


def _clamps(job: Job, seen: Seen) -> tuple[ClampMark, ...]:
    return tuple(
        ClampMark(name=clamp.name, area=seen.geometry(clamp_area(clamp)), height=clamp.height)
        for clamp in job.clamps
        if clamp.face is seen.side
    )


def _closest(view: CutView, job: Job, seen: Seen) -> list[Place]:
    """The nearest approach of a cut that is not refused."""
    if view.closest is None or view.verdict is Verdict.REFUSED:
        return []
    needed = job.needs.get(view.closest.piece, job.check.clearance + job.machine.path_error)
    text = "closest: " + closest_words(view.closest, needed, Lengths(unit=job.unit))
    at = seen.point(*view.closest.at[:2])
    return [Place(at=at, text=text, room=view.closest.gap - needed, cut=view.number)]


def _refused(view: CutView, job: Job, seen: Seen) -> list[Place]:
    """Every refused place of a cut, and the cut itself where it has no moves at all."""
    lengths, found = Lengths(unit=job.unit), []
    for finding in view.findings:
        if not finding.refuses or finding.code is Code.NOTE or finding.at is None:
            continue
        room = -math.inf
        if finding.gap is not None and finding.needed is not None:
            room = finding.gap - finding.needed
        text = refused_words(finding, lengths)
        at = seen.point(*finding.at[:2])
        found.append(Place(at=at, text=text, room=room, cut=view.number))
    if not found and view.verdict is Verdict.REFUSED:
        words = "no way in" if view.refusal and not len(view.moves) else "see the sheet"
        text = f"REFUSED: cut {view.number}, {words}"
        middle = _spot(seen.geometry(cut_area(view.planned.cut)), shapely.Polygon())
        found.append(Place(at=middle, text=text, room=-math.inf, cut=view.number))
    return found


def _paths(moves: MoveTable, seen: Seen) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Feeds and rapids as seen with NaN between paths, and where the cutter goes into material."""
    moves = moves.take(moves.known)
    if not len(moves):
        return np.empty((0, 2)), np.empty((0, 2)), np.empty((0, 2))
    rapid = moves.kind == Kind.RAPID
    feeds, rapids = (_polyline(moves.take(mask), seen) for mask in (~rapid, rapid))
    return feeds, rapids, seen.xy(_entries(moves, rapid))


def _entries(moves: MoveTable, rapid: NDArray[np.bool_]) -> FloatArray:
    """(n, 2) where feed moves start to go down, page frame: after a rapid, or to a new depth. What
    follows a surface up and down goes into material only where it first comes."""
    down = ~rapid & (moves.end[:, 2] < moves.start[:, 2] - _LEVEL)
    starts = np.flatnonzero(down & ~np.concatenate([[False], down[:-1]]))
    if not starts.size:
        return np.empty((0, 2))
    lowest = np.minimum.reduceat(np.where(down, moves.end[:, 2], np.inf), starts)
    deepest = np.minimum.accumulate(np.where(rapid, np.inf, moves.end[:, 2]))
    before = np.concatenate([[np.inf], deepest[:-1]])[starts]
    after_rapid = np.concatenate([[True], rapid[:-1]])[starts]
    return np.asarray(moves.start[starts[after_rapid | (lowest < before - _DEEPER)]][:, :2])


_DEEPER = 0.2
"""How much deeper than all before it, mm, moves go into material again."""
_LEVEL = 1e-6
"""Height in mm below which a move counts as level; far under a program's last decimal."""


def _polyline(moves: MoveTable, seen: Seen) -> FloatArray:
    """Moves as one line in plan as seen, arcs as short chords, NaN where the path is broken."""
    if not len(moves):
        return np.empty((0, 2))
    turns = np.where(moves.kind == Kind.ARC, np.abs(moves.sweep), 0.0)
    count = np.maximum(np.ceil(turns / _ARC_STEP).astype(np.intp), 1)
    joins = np.zeros(len(moves), dtype=bool)
    joins[1:] = (np.abs(moves.start[1:] - moves.end[:-1]) < _LEVEL).all(axis=1)
    rows = np.repeat(np.arange(len(moves)), count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    t = (np.arange(len(rows)) - first[rows]) / count[rows]
    xy = seen.xy(moves.at(rows, t)[:, :2])
    return np.insert(xy, first[~joins][1:], np.nan, axis=0)


def _joined(lines: list[FloatArray]) -> FloatArray:
    """Several lines as one, NaN between them."""
    gap = np.full((1, 2), np.nan)
    parts = [part for line in lines if len(line) for part in (line, gap)]
    return np.concatenate(parts[:-1]) if parts else np.empty((0, 2))


def _apart(points: FloatArray) -> FloatArray:
    """Points without those that fall on one already there."""
    if not len(points):
        return points
    _, first = np.unique(np.round(points / _SAME_PLACE), axis=0, return_index=True)
    return np.asarray(points[np.sort(first)])


def _window(
    blank: BaseGeometry, clamps: tuple[ClampMark, ...], lines: tuple[FloatArray, FloatArray]
) -> tuple[float, float, float, float]:
    """The part of the plane that is shown: blank, clamps, paths and a margin."""
    boxes = [blank.bounds, *(clamp.area.bounds for clamp in clamps)]
    for line in lines:
        if len(line):
            low, high = np.nanmin(line, axis=0), np.nanmax(line, axis=0)
            boxes.append((low[0], low[1], high[0], high[1]))
    every = np.array(boxes)
    low, high = every[:, :2].min(axis=0), every[:, 2:].max(axis=0)
    margin = _MARGIN * float(max(high - low)) + 4.0
    left, bottom, right, top = (float(v) for v in (*(low - margin), *(high + margin)))
    return left, bottom, right, top
