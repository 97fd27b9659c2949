"""Pockets: everything inside an outline but its islands, cleared tier by tier, level by level.

Frame: page frame of the face. Source of the cover rule: what a disc can reach of a region is its
opening, the region shrunk and grown again by the disc's radius (mathematical morphology).
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.blank.placed import page_top
from toolpath.errors import EntryError
from toolpath.job.model import Job, Piece, Pocket
from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.blocked import in_the_way
from toolpath.plan.descend import cut_passes
from toolpath.plan.finish import finish_pieces, finish_walls, last_heights, wall_loops
from toolpath.plan.gone import Gone
from toolpath.plan.holes import holes_before
from toolpath.plan.leftover import Leftover, leftover_of
from toolpath.plan.necks import necks_of
from toolpath.plan.passes import Pass, passes_of, without_specks
from toolpath.plan.pillar import Pillar, with_pillars
from toolpath.plan.regions import Layout, Region, layout_of
from toolpath.plan.rest import NONE, Rest, rest_of, rest_passes
from toolpath.plan.result import PlannedCut
from toolpath.plan.rings import Room, polygons_of, rooms_in, rooms_of, wall_offset
from toolpath.plan.rise import RisingFloor
from toolpath.plan.rise_fronts import Opening
from toolpath.plan.route import Route
from toolpath.plan.tiers import Tier, tiers_of
from toolpath.plan.work import Work
from toolpath.units import show_mm, show_place

HAIR = 0.05
"""What a bounded way leaves anywhere that is no thicker than this, mm, is a hair."""


def plan_pocket(job: Job, cut: Pocket) -> tuple[PlannedCut, ...]:
    """The moves of a pocket: one part for each of its cutters that has something to take.

    Raises
    ------
    EntryError
        No cutter fits into a tier, or one cannot get into a part of it without a plunge, or what
        is in the way leaves nothing to cut.
    """
    found = [with_pillars(job, cut, cut.cutters, tier) for tier in tiers_of(cut)]
    tiers = tuple(tier for tier, _ in found)
    pillars = tuple(pillar for _, columns in found for pillar in columns)
    _require_room(job, cut, tiers, pillars)
    gone = Gone(-cut.below, holes_before(job, cut))
    parts: list[PlannedCut] = []
    left = Leftover(reachable=0.0, uncut=0.0)
    notes = [pillar.note(job.unit) for pillar in pillars]
    for cutter in cut.cutters:
        work = Work(job=job, cut=cut, cutter=cutter)
        route = Route.on(job, cut, cutter)
        layouts = [layout_of(work, tier) for tier in tiers]
        for layout in layouts:
            _cut_tier(route, work, layout, gone)
        left = leftover_of(work, tiers, layouts, gone, last=cutter is cut.cutters[-1])
        notes += [*route.notes, *(n for each in layouts for n in each.notes(job.unit))]
        if route.moves:
            parts.append(_part(route, work, left))
        else:
            notes.append(f'cutter "{cutter.name}" finds nothing left to take')
    if not parts:
        names = [name for tier in tiers for name in in_the_way(job, cut, tier)]
        raise EntryError(_nothing_left(job, cut, names))
    notes = list(dict.fromkeys([*left.notes, *notes]))
    return (*parts[:-1], replace(parts[-1], uncut_area=left.uncut, notes=tuple(notes)))


def _cut_tier(route: Route, work: Work, layout: Layout, gone: Gone) -> None:
    """All levels of a tier, then the last pass along its walls, or over what is in the way."""
    for region in layout.regions:
        if not region.allowed.is_empty:
            cut_region(route, work, region, gone)
    if layout.rising is not None:
        _rise(route, work, layout, layout.rising, gone)


def cut_region(route: Route, work: Work, region: Region, gone: Gone) -> None:
    """One region: through fresh stock, or what others left of it, then the last pass along its
    walls. Raises EntryError where the cutter cannot get in without a plunge."""
    engage = work.cut.engage
    if engage is not None:
        _cut_bounded(route, work, region, engage, gone)
        return
    cut = gone.at(region.levels.floor).intersects(region.tier.area)
    if cut:
        if _left_of(work, region, gone) is None and region.tight.is_empty:
            return
        _clear_rest(route, work, region, region.rough, gone, least=region.leave)
    else:
        cut_passes(route, work, _fresh(work, region), region.levels, gone)
    _clear_rest(route, work, region, region.tight, gone)
    if region.leave > 0.0:
        _finish(route, work, region, gone, rest=cut)


def _cut_bounded(route: Route, work: Work, region: Region, engage: float, gone: Gone) -> None:
    """The same with no more of the rim engaged than an angle."""
    # a fifth of a second to load, for those pockets alone
    from toolpath.plan.bounded_levels import cut_bounded, cut_slots, finish_bounded, shallow

    cut = gone.at(region.levels.floor).intersects(region.tier.area)
    if cut and _left_of(work, region, gone) is None and region.tight.is_empty:
        return
    if cut and work.cut.spring_passes == 0:
        # The last pass there climbs along a thin skin anyway: all of it in one visit.
        region = replace(region, rough=region.centres, leave=0.0)
    cut_bounded(route, work, region, gone, rest=cut)
    _clear_slivers(route, work, region, engage, gone)
    slots = replace(region, levels=shallow(work, region.levels))
    _clear_rest(route, work, slots, region.rough, gone, least=region.leave + HAIR)
    if cut:
        _clear_rest(route, work, region, region.tight, gone)
    else:
        cut_slots(route, work, region.tight, region.levels, gone)
    if region.leave > 0.0:
        finish_bounded(route, work, region, gone, rest=cut)


def _left_of(work: Work, region: Region, gone: Gone) -> Rest | None:
    """What others left of a region."""
    return rest_of(work, region.centres, region.allowed, region.levels.floor, gone, region.corners)


def _fresh(work: Work, region: Region) -> tuple[Pass, ...]:
    """The ways through solid stock."""
    radius, step, turn = work.radius, work.step, work.turn
    if region.blocked:
        rooms = rooms_in(region.rough, radius=radius, step=step, turn=turn)
    else:
        area, leave = region.tier.area, region.leave
        rooms = rooms_of(area, radius=radius, step=step, turn=turn, leave=leave)
    large = tuple(room for room in without_specks(rooms, radius) if not _is_speck(room, region))
    if region.leave == 0.0:
        large = region.corners.of_rooms(large)
    return tuple(found for room in large for found in passes_of(work, room))


def _is_speck(room: Room, region: Region) -> bool:
    """Whether a room is a speck of a channel that is cut along its middle, or beside something
    in the way, where the dense passes go."""
    speck = room.area.length < ALLOWANCES.ring_least
    return speck and (region.blocked or room.area.distance(region.tight) <= ALLOWANCES.neck)


def _clear_rest(
    route: Route,
    work: Work,
    region: Region,
    centres: BaseGeometry,
    gone: Gone,
    *,
    least: float = 0.0,
) -> None:
    """What is left of what the cutter reaches from some centres; places no thicker than `least`
    are left to the last pass."""
    if centres.is_empty:
        return
    corners = region.corners if region.leave == 0.0 and centres is region.rough else NONE
    rest = rest_of(work, centres, region.allowed, region.levels.floor, gone, corners)
    if rest is not None and least > 0.0:
        rest = rest.thicker(least)
    if rest is not None:
        cut_passes(route, work, rest_passes(rest, centres), region.levels, gone)


def _clear_slivers(route: Route, work: Work, region: Region, engage: float, gone: Gone) -> None:
    """What the bounded way left between its fronts, too thin to engage more than it may."""
    most = work.radius * (1.0 - math.cos(engage))
    rest = rest_of(work, region.rough, region.allowed, region.levels.floor, gone)
    rest = rest.thicker(region.leave) if rest is not None and region.leave > 0.0 else rest
    rest = rest.thinner(most) if rest is not None else None
    if rest is not None:
        cut_passes(route, work, rest_passes(rest, region.rough), region.levels, gone)


def _finish(route: Route, work: Work, region: Region, gone: Gone, *, rest: bool) -> None:
    """The last pass along the walls; where others cut before, only where something is left now:
    channels that are too narrow for more than one pass have it already."""
    heights = last_heights(work, region.levels)
    if rest:
        left = _left_of(work, region, gone)
        if left is not None:
            finish_pieces(route, left, region.centres, heights, gone)
        return
    if gone.at(heights[-1]).is_empty:
        return
    walls = [part for part in polygons_of(region.centres) if part.intersects(region.rough)]
    loops = wall_loops(shapely.union_all(walls), work.turn, region.corners)
    finish_walls(route, work, loops, heights, gone, region.centres)


def _rise(route: Route, work: Work, layout: Layout, rising: RisingFloor, gone: Gone) -> None:
    """The floor brought over what is in the way. Each cutter goes over all of it: a thinner one
    gets lower beside a piece even where a wider one was."""
    centres, engage = layout.centres, work.cut.engage
    if centres.is_empty:
        return
    if engage is None:
        rising.finish(route, centres, gone.top)
    else:
        opening = Opening(rising=rising, centres=centres, cleared_to=gone.top, bound=engage)
        opening.finish(route)


def _part(route: Route, work: Work, left: Leftover) -> PlannedCut:
    moves = route.done()
    return PlannedCut(
        cut=work.cut,
        cutter=work.cutter,
        moves=moves,
        floor=-min(move.end[2] for move in moves),
        reachable_area=left.reachable,
        uncut_area=left.uncut,
        lifts=route.lifts,
        pauses=tuple(route.pauses),
        notes=left.notes,
    )


def _nothing_left(job: Job, cut: Pocket, names: Collection[str]) -> str:
    pieces = [_where(job, cut, piece) for piece in job.pieces if piece.name in names]
    what = " and ".join(pieces) or "what is drawn"
    return (
        f'cut "{cut.name}": nothing is left to cut: {what}: move the cut, make it wider, or look '
        "whether the piece lies as high as the job says"
    )


def _where(job: Job, cut: Pocket, piece: Piece) -> str:
    """A piece, where its middle lies, and how deep the cut may go over its highest place."""
    unit, top = job.unit, -page_top(job.blank, piece, cut.face)
    clear = max(0.0, top - job.need(piece))
    return (
        f'"{piece.name}" at {show_place(*piece.at, unit)} comes to {show_mm(top, unit)} below this '
        f"face, drift included, so that over it a depth of {show_mm(clear, unit)} is clear"
    )


def _require_room(
    job: Job, cut: Pocket, tiers: tuple[Tier, ...], pillars: tuple[Pillar, ...]
) -> None:
    """Raises EntryError where no cutter fits into a tier."""
    thinnest = min(cut.cutters, key=lambda cutter: cutter.radius)
    for tier in tiers:
        centres = wall_offset(tier.area, thinnest.radius, outward=False)
        if not centres.is_empty or not necks_of(tier.area, centres, thinnest.radius).is_empty:
            continue
        names = [each.piece.name for each in pillars if each.floor == tier.floor]
        if names:
            raise EntryError(_nothing_left(job, cut, names))
        widest = max((_width(part) for part in polygons_of(tier.area)), default=0.0)
        raise EntryError(
            f'cut "{cut.name}": the {show_mm(thinnest.diameter)} cutter "{thinnest.name}" '
            f"does not fit: the widest place is {show_mm(widest)}: use a thinner cutter or "
            "widen the outline"
        )


def _width(part: Polygon) -> float:
    return 2.0 * float(shapely.maximum_inscribed_circle(part, tolerance=0.01).length)
