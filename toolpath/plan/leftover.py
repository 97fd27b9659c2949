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

NAMED = 8
"""How many places of a kind are named one by one."""


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
    radius = min(cutter.radius for cutter in work.cut.cutters)
    can = opening(tier.drawn, radius)
    own = can if radius == work.radius else opening(tier.drawn, work.radius)
    risen = layout.risen()
    standing = can.difference(cut).difference(risen)
    slivers = left_standing(standing, risen)
    beyond = parts_beyond(tier.area, can, radius) if last else ()
    if last:
        notes = _named("left standing", slivers) + _named("too narrow for the cutter", beyond)
        notes += _of_rise(work, layout, risen, tier.floor)
    else:
        notes = _for_the_next(slivers, tier)
    return Leftover(
        reachable=float(own.area),
        uncut=float(standing.area) + sum(part.area for part in beyond),
        notes=notes,
    )


def _of_rise(work: Work, layout: Layout, risen: BaseGeometry, depth: float) -> tuple[str, ...]:
    if layout.rising is None:
        return ()
    names = " and ".join(f'"{name}"' for name in layout.rising.pieces)
    area = f"{risen.area:.1f} mm²"
    notes = [f"the floor rises over {names}: {area} lie above a depth of {-depth:.2f} mm"]
    if work.cut.finish > 0.0:
        notes.append("no last pass along the walls, because the floor rises: cut to size at once")
    return tuple(notes)


def opening(area: BaseGeometry, radius: float) -> BaseGeometry:
    """All that a disc can reach of an area, with the channels exactly as wide as itself."""
    centres = area.buffer(-radius, quad_segs=quad_segments(radius, ALLOWANCES.measured))
    can = reachable(centres, radius)
    necks = necks_of(area, centres, radius)
    if necks.is_empty:
        return can
    return can.union(reachable(necks, radius).intersection(area))


def _named(what: str, parts: tuple[Polygon, ...]) -> tuple[str, ...]:
    notes = [f"{what} {_place(part)}: {part.area:.4f} mm²" for part in parts[:NAMED]]
    if len(parts) > NAMED:
        rest = sum(part.area for part in parts[NAMED:])
        notes.append(f"{what} in {len(parts) - NAMED} more places: {rest:.4f} mm²")
    return tuple(notes)


def _for_the_next(parts: tuple[Polygon, ...], tier: Tier) -> tuple[str, ...]:
    if not parts:
        return ()
    area, most = sum(part.area for part in parts), max(parts, key=lambda part: float(part.area))
    places = "1 place" if len(parts) == 1 else f"{len(parts)} places, most"
    return (
        f"left for a thinner cutter at a depth of {-tier.floor:.2f} mm: {area:.2f} mm² in "
        f"{places} {_place(most)}",
    )


def _place(part: Polygon) -> str:
    spot = shapely.point_on_surface(part)
    return f"at x {spot.x:.2f} y {spot.y:.2f}"
