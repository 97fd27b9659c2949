"""The seat of a plate: the ledge's edge as its cutters really leave it, and the plate inside it.

Frame: x, y of the blank frame, millimetres. What a disc can reach of a region is its opening
(shrunk and grown again by the disc's radius); what a disc that goes round a region leaves is its
closing (grown and shrunk again). Source: mathematical morphology.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from toolpath.drawing.outline import Err, Loop, Outline, Region
from toolpath.drawing.shapes import show_point
from toolpath.errors import DrawingError, InternalError
from toolpath.job.model import Job, Ledge, Plate, Pocket
from toolpath.motion.arcfit import fit_arcs
from toolpath.plan.rings import flat_area, polygons_of, quad_segments
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatBounds:
    """How exactly seats are worked out, mm; together a tenth of what the gap may be off."""

    chord: float = 2e-4
    """Chords of rounded corners stay this near to them."""

    narrower: float = 0.002
    """Cutters count as this much less in radius, so that a channel or a corner just as wide as
    the cutter is reached, as it is in planning. Off at a square corner by 0.4 of it."""

    unseen: float = 0.0015
    """Corners that would be rounded by slivers thinner than this stay as drawn."""

    rounder: float = 0.01
    """Corners are rounded by this much more than asked, so that a second look finds nothing."""


BOUNDS = SeatBounds()

ROUNDS = 4
"""How often corners are rounded and the ledge's cutters asked again what they reach."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounded:
    """An inward corner of a ledge that was rounded: where, and how much further the edge lies."""

    at: tuple[float, float]
    by: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seat:
    """A ledge as it is cut, its real edge, and what lies in it."""

    ledge: Ledge
    """As drawn, or with its inward corners rounded where the plate's cutter asks for it."""
    edge: Polygon = field(repr=False)
    """Everything inside the ledge's real edge."""
    plate: Polygon = field(repr=False)
    """The plate: the edge moved in by the gap."""
    cavity: BaseGeometry = field(repr=False)
    """The pocket inside the ledge, as its cutters leave it."""
    rounded: tuple[Rounded, ...] = ()


def ledge_of(cut: Pocket) -> Ledge:
    """The ledge of a cut that has a plate."""
    if cut.ledge is None:
        raise InternalError(f'cut "{cut.name}" has a plate and no ledge')
    return cut.ledge


def lies(job: Job, plate: Plate) -> float:
    """How far a plate stands proud of the face as it is once skimmed, mm; below 0 it lies that deep
    under it."""
    return plate.sheet.thickness - (ledge_of(plate.cut).depth - job.skimmed(plate.cut.face))


def fitted_ledge(plate: Plate) -> Ledge:
    """The ledge with inward corners that the plate's cutter can follow.

    The plate's cutter, of radius R, leaves no inward corner of the plate sharper than R, so those
    of the ledge are rounded to R - gap and the gap stays even. A ledge that has no sharper ones is
    returned as it was drawn; else its outline is what the ledge's cutters can reach, as lines and
    arcs within `TOLERANCES.arc_fit`.

    Raises
    ------
    DrawingError
        No plate can lie in it: it falls apart, something stands up in it, or it is too narrow.
    """
    return seat_of(plate).ledge


@lru_cache(maxsize=64)
def seat_of(plate: Plate) -> Seat:
    """The ledge of a plate as it is cut, and the plate in it.

    Raises
    ------
    DrawingError
        As `fitted_ledge`, or the plate would fall apart.
    """
    cut, ledge = plate.cut, ledge_of(plate.cut)
    _nothing_stands(cut, ledge)
    drawn = _one_part(_reached(cut, ledge.outline), cut)
    edge = _rounded_edge(plate, drawn)
    if edge is not drawn:
        ledge = replace(ledge, outline=(region_of(edge),))
        edge = _one_part(_reached(cut, ledge.outline), cut)
    return Seat(
        ledge=ledge,
        edge=edge,
        plate=_plate_in(plate, edge),
        cavity=_reached(cut, cut.outline),
        rounded=_corners(edge, drawn),
    )


def region_of(polygon: Polygon) -> Region:
    """The outside of a polygon of chords as lines and arcs, within `TOLERANCES.arc_fit`."""
    points = shapely.get_coordinates(polygon.exterior)[:-1]
    return Region(
        outer=Loop(points=fit_arcs(points, closed=True, tolerance=TOLERANCES.arc_fit)),
    )


def grown(area: BaseGeometry, distance: float) -> BaseGeometry:
    """An area grown (or, below 0, shrunk) by a distance, round at its corners."""
    return area.buffer(distance, quad_segs=quad_segments(abs(distance), BOUNDS.chord))


def opened(area: BaseGeometry, radius: float) -> BaseGeometry:
    """What a disc can reach of an area from inside."""
    return grown(grown(area, -radius), radius)


def closed(area: BaseGeometry, radius: float) -> BaseGeometry:
    """What a disc that goes round an area leaves."""
    return grown(grown(area, radius), -radius)


def thick(area: BaseGeometry) -> tuple[Polygon, ...]:
    """The parts of an area that are thicker than what goes unseen."""
    parts = polygons_of(area)
    return tuple(part for part in parts if not part.buffer(-BOUNDS.unseen / 2.0).is_empty)


def _smallest(cut: Pocket) -> float:
    """Radius of the thinnest cutter of a cut."""
    return min(cutter.radius for cutter in cut.cutters)


def _reached(cut: Pocket, outline: Outline) -> BaseGeometry:
    area = flat_area(outline, TOLERANCES.flatten, Err.INWARD)
    return opened(area, _smallest(cut) - BOUNDS.narrower)


def _nothing_stands(cut: Pocket, ledge: Ledge) -> None:
    """Islands stand up to the face, and so do the holes of an outline."""
    holes = [hole for region in ledge.outline for hole in region.holes]
    loops = [*holes, *(island.outer for island in cut.islands)]
    if not loops:
        return
    places = ", ".join(
        _show_middle(Polygon(loop.flatten(TOLERANCES.flatten, Err.OUTWARD))) for loop in loops
    )
    raise DrawingError(
        f"what is left standing inside the ledge at {places} reaches up to the face, so that a "
        "plate cannot lie there: take it out of the islands, or do without the plate"
    )


def _one_part(area: BaseGeometry, cut: Pocket) -> Polygon:
    """The area as one polygon without holes."""
    parts = polygons_of(area)
    size = show_mm(2.0 * _smallest(cut))
    if not parts:
        raise DrawingError(f"the {size} cutter does not fit into the ledge: use a thinner one")
    if len(parts) > 1:
        raise DrawingError(
            f"the {size} cutter leaves the ledge in {len(parts)} parts, at "
            f"{', '.join(map(_show_middle, parts))}, and one plate cannot fill them: widen it "
            "between them, use a thinner cutter or make cuts of them"
        )
    if parts[0].interiors:
        places = ", ".join(_show_middle(Polygon(hole)) for hole in parts[0].interiors)
        raise DrawingError(
            f"the ledge goes round something that stands up to the face at {places}, so that a "
            "plate would need a hole there: clear it, or leave the plate out"
        )
    return parts[0]


def _rounded_edge(plate: Plate, drawn: Polygon) -> Polygon:
    """The real edge with corners that the plate's cutter can follow; `drawn` itself if it can."""
    radius = plate.cutter.radius - plate.gap
    reach = _smallest(plate.cut) - BOUNDS.narrower
    edge = drawn
    for _ in range(ROUNDS):
        if radius <= 0.0 or not thick(closed(edge, radius).difference(edge)):
            return edge
        wider = closed(edge, radius + BOUNDS.rounder)
        edge = _one_part(opened(wider, reach), plate.cut)
    raise DrawingError(
        f"the {show_mm(plate.cutter.diameter)} cutter of the plate cannot follow the edge of the "
        "ledge: use a thinner cutter or a plainer ledge"
    )


def _plate_in(plate: Plate, edge: Polygon) -> Polygon:
    parts = polygons_of(grown(edge, -plate.gap))
    if len(parts) == 1 and not parts[0].interiors:
        return parts[0]
    what = f"falls into {len(parts)} parts" if parts else "has nothing left"
    raise DrawingError(
        f"the plate {what} with a gap of {show_mm(plate.gap)}: make the gap smaller or the ledge "
        "wider"
    )


def _corners(edge: Polygon, drawn: Polygon) -> tuple[Rounded, ...]:
    if edge is drawn:
        return ()
    parts = thick(edge.difference(drawn))
    return tuple(_rounded(part, drawn) for part in parts)


def _rounded(part: Polygon, drawn: Polygon) -> Rounded:
    """A sliver between the edge as drawn and as cut: its farthest corner from what was drawn."""
    corners = shapely.get_coordinates(part)
    far = shapely.distance(drawn, shapely.points(corners))
    spot = corners[int(np.argmax(far))]
    return Rounded(at=(float(spot[0]), float(spot[1])), by=float(far.max()))


def _show_middle(part: Polygon) -> str:
    spot: Point = part.representative_point()
    return show_point(spot.x, spot.y)
