"""The screws of a plate, with the pilots that they go into and their holes in the plate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from toolpath.job.cross import Parts, check_length
from toolpath.job.holes import SIDEWAYS, read_points
from toolpath.job.keys import SCREWS
from toolpath.job.limits import GAP, SCREWS_COUNT, SIZE
from toolpath.job.model import Cutter, Ledge, Screws, Shape
from toolpath.job.table import Table
from toolpath.job.tools import read_named
from toolpath.job.words import quoted
from toolpath.tolerances import TOLERANCES

EDGE = 2.0
"""Screw diameters from the middle of a screw to the nearest edge (common practice, no source)."""
SLACK = 0.5
"""How much wider than the screw its hole in the plate is, mm: 0.4 to 0.5 (common practice, no
source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """What screws hold on to: the ledge and the plate's cutter, None after a fault of theirs."""

    ledge: Ledge | None
    cutter: Cutter | None
    parts: Parts
    thickness: float
    """Of the plate's sheet, mm."""
    on_sheet: Mapping[str, Cutter]
    """The cutters as they are to cut the sheet."""
    skimmed: float
    """What all skims together take off the face that the pilots go towards, mm."""


def read_screws(table: Table, seat: Seat) -> Screws | None:
    """``screws`` of a plate; None where there are none, or after a fault."""
    if table.void:
        return None
    table.allow(SCREWS)
    diameter = table.length("diameter", SIZE)
    count, places = _places(table)
    pilot = read_named(table, "pilot", seat.parts.cutters)
    depth = table.length("depth", SIZE)
    edge = table.length("edge", GAP, EDGE * diameter)
    slack = table.length("slack", GAP, SLACK)
    hole = read_named(table, "hole", seat.on_sheet) if table.has("hole") else None
    _check_edge(table, edge, diameter + slack)
    if pilot is not None and _is_pilot(table, pilot, diameter):
        _check_depth(table, (pilot, depth), seat)
    if hole is not None or not table.has("hole"):
        _check_hole(table, hole or seat.cutter, diameter + slack)
    if hole is not None:
        through = seat.thickness + seat.parts.machine.spoilboard
        check_length(table, hole, through, through + hole.point_length, key="hole")
    if pilot is None:
        return None
    return Screws(
        diameter=diameter,
        pilot=pilot,
        depth=depth,
        edge=edge,
        slack=slack,
        count=count,
        at=places,
        hole=hole,
    )


def _places(table: Table) -> tuple[int, tuple[tuple[float, float], ...]]:
    """How many screws, or where they stand."""
    if table.has("count") and table.has("at"):
        table.fault("count", "given together with at: leave one of them out")
        return 0, ()
    if not table.has("at"):
        if not table.has("count"):
            table.fault("count", "missing: give how many screws, or at with their places")
            return 0, ()
        return table.whole("count", SCREWS_COUNT), ()
    places = tuple(read_points(table, "at", "their places, [[x, y], …]").values())
    if len(places) > SCREWS_COUNT[1]:
        table.fault("at", f"has {len(places)} screws; at most {SCREWS_COUNT[1]} are read")
    return 0, places


def _check_edge(table: Table, edge: float, hole: float) -> None:
    if edge <= hole / 2.0 + TOLERANCES.equal:
        show = table.reading.show
        table.fault(
            "edge",
            f"{show(edge)} from the middle of a screw leaves nothing beside its hole of "
            f"{show(hole)}: give more than {show(hole / 2.0)}",
        )


def _is_pilot(table: Table, pilot: Cutter, diameter: float) -> bool:
    """Whether a cutter makes a hole that a screw holds in, with a fault where it does not."""
    name, show = quoted(pilot.name), table.reading.show
    if pilot.shape not in (Shape.DRILL, Shape.FLAT):
        table.fault("pilot", f"{name} is a {pilot.shape.value} cutter: take a drill or a flat one")
    elif pilot.diameter >= diameter - TOLERANCES.equal:
        table.fault(
            "pilot",
            f"{name} ({show(pilot.diameter)}) is not thinner than the screw ({show(diameter)}), "
            "which would not hold: take a thinner one",
        )
    else:
        return True
    return False


def _check_depth(table: Table, pilot: tuple[Cutter, float], seat: Seat) -> None:
    """The pilot, point and all, must be reached and must not come out on the other face."""
    if seat.ledge is None:
        return
    cutter, depth = pilot
    full, point = seat.ledge.depth + depth, cutter.point_length
    check_length(table, cutter, full, full + point, key="pilot")
    thinnest = seat.parts.blank.thinnest - seat.skimmed
    if full + point > thinnest - TOLERANCES.equal:
        show = table.reading.show
        skimmed = " once its other face is skimmed" if seat.skimmed else ""
        table.fault(
            "depth",
            f"ledge, pilot and the point of its cutter go {show(full + point)} down, and the "
            f"blank may be as thin as {show(thinnest)}{skimmed}: use shorter screws",
        )


def _check_hole(table: Table, cutter: Cutter | None, wanted: float) -> None:
    """The cutter of the holes in the plate: as wide as they are, or thinner and able to bore."""
    if cutter is None:
        return
    show = table.reading.show
    name = f"{quoted(cutter.name)} ({show(cutter.diameter)})"
    if not table.has("hole"):
        name = f"no cutter is named, and the plate's own, {name},"
    if cutter.diameter > wanted + TOLERANCES.equal:
        why = f"is wider than the holes of {show(wanted)}: name a thinner one"
    elif cutter.diameter < wanted - TOLERANCES.equal and cutter.shape not in SIDEWAYS:
        why = (
            f"is a {cutter.shape.value} cutter, which cannot widen a hole to {show(wanted)}: name "
            "a drill of that diameter or a thinner flat cutter"
        )
    elif cutter.shape not in (*SIDEWAYS, Shape.DRILL):
        why = f"is a {cutter.shape.value} cutter: take a drill or a flat one"
    else:
        return
    table.fault("hole", f"{name} {why}")
