"""What a cutter leaves of a pocket, measured against the drawing, and said in words.

Frame: page frame of the face, millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.plan.allowances import ALLOWANCES
from toolpath.plan.cover import left_standing, reachable
from toolpath.plan.gone import Gone
from toolpath.plan.necks import necks_of, parts_beyond
from toolpath.plan.regions import Layout
from toolpath.plan.rings import quad_segments
from toolpath.plan.tiers import Tier
from toolpath.plan.work import Work
from toolpath.units import Unit, show_area, show_mm, show_place

NAMED = 8
"""How many places of a kind are named one by one."""
SPECK = 0.05
"""What is smaller, mm², is not named by itself."""
HAIR = 0.02
"""What is thinner, mm, joins no places: hairs along a wall."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """Sums over all tiers at their floors: what the cutter can reach and what is left uncut of
    what the thinnest cutter of the cut can reach, mm²."""

    reachable: float
    uncut: float
    notes: tuple[str, ...] = ()


def leftover_of(
    work: Work, tiers: Sequence[Tier], layouts: Sequence[Layout], gone: Gone, *, last: bool
) -> Leftover:
    """What stands after a cutter of a cut. Of the last also what none of them gets to, without
    the corners that every round cutter leaves. A floor that rises is not left uncut."""
    found = [
        _of_tier(work, tier, layout, gone.at(tier.floor), last)
        for tier, layout in zip(tiers, layouts, strict=True)
    ]
    return Leftover(
        reachable=sum(each.reachable for each in found),
        uncut=sum(each.uncut for each in found),
        notes=tuple(note for each in found for note in each.notes),
    )


def _of_tier(work: Work, tier: Tier, layout: Layout, cut: BaseGeometry, last: bool) -> Leftover:
    unit, radius = work.job.unit, min(cutter.radius for cutter in work.cut.cutters)
    can = opening(tier.drawn, radius)
    own = can if radius == work.radius else opening(tier.drawn, work.radius)
    risen = layout.risen()
    standing = can.difference(cut).difference(risen)
    slivers = left_standing(standing, risen)
    beyond = parts_beyond(tier.area, can, radius) if last else ()
    if last:
        notes = _named("left standing", slivers, unit)
        notes += _named("too narrow for the cutter", beyond, unit)
        notes += _of_rise(work, layout, risen, tier.floor)
    else:
        notes = _for_the_next(slivers, tier, unit)
    return Leftover(
        reachable=float(own.area),
        uncut=float(standing.area) + sum(part.area for part in beyond),
        notes=notes,
    )


def _of_rise(work: Work, layout: Layout, risen: BaseGeometry, depth: float) -> tuple[str, ...]:
    if layout.rising is None:
        return ()
    unit = work.job.unit
    names = _listed(layout.rising.pieces)
    lie = f"{show_area(risen.area, unit)} lie above a depth of {show_mm(-depth, unit)}"
    notes = [f"the floor rises over {names}: {lie}"]
    if work.cut.finish > 0.0:
        notes.append("no last pass along the walls, because the floor rises: cut to size at once")
    return tuple(notes)


def _listed(pieces: tuple[str, ...]) -> str:
    """Names in words, only the first of many."""
    named = [f'"{name}"' for name in pieces[:NAMED]]
    if len(pieces) > NAMED:
        named.append(f"{len(pieces) - NAMED} more pieces")
    return " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)


def opening(area: BaseGeometry, radius: float) -> BaseGeometry:
    """All that a disc can reach of an area, with the channels exactly as wide as itself."""
    centres = area.buffer(-radius, quad_segs=quad_segments(radius, ALLOWANCES.measured))
    can = reachable(centres, radius)
    necks = necks_of(area, centres, radius)
    if necks.is_empty:
        return can
    return can.union(reachable(necks, radius).intersection(area))


def _named(what: str, parts: tuple[Polygon, ...], unit: Unit) -> tuple[str, ...]:
    large = [part for part in parts if part.area >= SPECK][:NAMED]
    notes = [f"{what} at {_place(part, unit)}: {show_area(part.area, unit)}" for part in large]
    rest = sum(part.area for part in parts) - sum(part.area for part in large)
    if len(parts) > len(large):
        places = _places(len(parts) - len(large), "more " if large else "small ")
        notes.append(f"{what} in {places}: {show_area(rest, unit)}")
    return tuple(notes)


def _for_the_next(parts: tuple[Polygon, ...], tier: Tier, unit: Unit) -> tuple[str, ...]:
    if not parts:
        return ()
    bodies = [body for part in parts for body in _bodies(part)] or list(parts)
    most = max(bodies, key=lambda part: float(part.area))
    area = show_area(sum(part.area for part in parts), unit)
    where = f"at {_place(most, unit)}"
    many = f"{_places(len(bodies))}, most {where}" if len(bodies) > 1 else f"1 place {where}"
    depth = show_mm(-tier.floor, unit)
    return (f"left for a thinner cutter at a depth of {depth}: {area} in {many}",)


def _bodies(part: Polygon) -> list[Polygon]:
    """What is left of it without hairs along the walls, which would join its places."""
    thick = part.buffer(-HAIR).buffer(HAIR)
    return [body for body in shapely.get_parts(thick) if body.area >= SPECK]


def _places(count: int, kind: str = "") -> str:
    return f"{count} {kind}place" + ("" if count == 1 else "s")


def _place(part: Polygon, unit: Unit) -> str:
    """Where it is widest."""
    spot = shapely.get_point(shapely.maximum_inscribed_circle(part, tolerance=0.01), 0)
    return show_place(float(spot.x), float(spot.y), unit)
