"""Plates of a job file: what covers the ledge of a pocket, cut from a sheet of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping

import shapely

from toolpath.drawing.outline import Err, area_of
from toolpath.job.cross import Parts, check_length
from toolpath.job.cuts import read_tabs
from toolpath.job.figures import read_material
from toolpath.job.keys import PLATE, STOCK
from toolpath.job.limits import GAP, SIZE
from toolpath.job.model import Cut, Cutter, Ledge, Plate, Pocket, Shape, Sheet, Tabs, skimmed_off
from toolpath.job.proposals import proposed
from toolpath.job.screws import Seat, read_screws
from toolpath.job.table import Table
from toolpath.job.tools import fits, read_named
from toolpath.job.words import quoted, suggestion
from toolpath.tolerances import TOLERANCES

PLATE_GAP = 0.25
"""Between plate and ledge on every side, mm, about a hundredth of an inch (common practice, no
source)."""
FLUSH = 0.05
"""A plate whose face lies within this of the blank's, mm, is flush (common practice, no source)."""
TAB_COUNT, TAB_WIDTH, TAB_HEIGHT = 4, 4.0, 1.0
"""The tabs of a plate that says nothing of what holds it; no higher than a third of the sheet."""


def read_plates(tables: list[Table], cuts: Mapping[str, Cut | None], parts: Parts) -> list[Plate]:
    """All ``[[plate]]``, at most one for a cut. `cuts` are those of the job by name, None for
    those that have faults of their own."""
    plates = [_read_plate(table, cuts, parts) for table in tables]
    first: dict[str, int] = {}
    for place, table in enumerate(tables, start=1):
        name = table.values.get("for")
        if isinstance(name, str) and first.setdefault(name, place) != place:
            table.fault(
                "for", f"plate[{first[name]}] is for {quoted(name)} too: a ledge takes one plate"
            )
    return [plate for plate in plates if plate is not None]


def _read_plate(table: Table, cuts: Mapping[str, Cut | None], parts: Parts) -> Plate | None:
    """One ``[[plate]]``; None where a part is faulty."""
    table.allow(PLATE)
    cut = _cut(table, cuts)
    ledge = None if cut is None else cut.ledge
    gap = table.length("gap", GAP, PLATE_GAP)
    stock = table.table("stock")
    sheet = _sheet(stock)
    on_sheet = _for_sheet(stock, sheet, parts)
    cutter = read_named(table, "cutter", on_sheet)
    tabs, skin = _holding(table, sheet)
    if cutter is not None and fits(table, cutter, (Shape.FLAT,), "a plate"):
        down = sheet.thickness + parts.machine.spoilboard if tabs else sheet.thickness - skin
        check_length(table, cutter, down, down)
    if ledge is not None:
        _check_gap(table, gap, ledge)
        _tell_seat(table, sheet, ledge, skimmed_off(cuts.values(), cut.face) if cut else 0.0)
    seat = Seat(
        ledge=ledge,
        cutter=cutter,
        parts=parts,
        thickness=sheet.thickness,
        on_sheet=on_sheet,
        skimmed=skimmed_off(cuts.values(), cut.face.other) if cut else 0.0,
    )
    screws = read_screws(table.table("screws", optional=True), seat)
    if cut is None or cutter is None:
        return None
    return Plate(cut=cut, gap=gap, cutter=cutter, sheet=sheet, tabs=tabs, skin=skin, screws=screws)


def _for_sheet(stock: Table, sheet: Sheet, parts: Parts) -> dict[str, Cutter]:
    """The cutters with what the job leaves out proposed for the sheet's material; where it is not
    known those figures stay as for the blank."""
    row = read_material(stock, sheet.material)
    if row is None:
        return parts.cutters
    return {name: proposed(each, row, parts.machine) for name, each in parts.cutters.items()}


def _cut(table: Table, cuts: Mapping[str, Cut | None]) -> Pocket | None:
    """The pocket that a plate is for; None after a fault, of the plate or of that cut."""
    name = table.text("for", "the name of a cut that has a ledge")
    if not name:
        return None
    if name not in cuts:
        hint = suggestion(name, cuts) if cuts else "there is no [[cut]]"
        table.fault("for", f"no cut is named {quoted(name)}: {hint}")
        return None
    cut = cuts[name]
    if cut is None:
        return None
    if not isinstance(cut, Pocket) or cut.ledge is None:
        table.fault("for", f"the cut {quoted(name)} has no ledge to lay a plate on: give it one")
        return None
    return cut


def _sheet(stock: Table) -> Sheet:
    stock.allow(STOCK)
    x, y = stock.lengths("size", "[x, y]", SIZE)
    return Sheet(
        size=(x, y),
        thickness=stock.length("thickness", SIZE),
        material=stock.text("material", "what the sheet is made of", ""),
    )


def _holding(table: Table, sheet: Sheet) -> tuple[Tabs | None, float]:
    """The tabs, or the skin, that hold a plate in its sheet until it is broken out."""
    show, thickness = table.reading.show, sheet.thickness
    if table.has("tabs") and table.has("skin"):
        table.fault("skin", "given together with tabs: leave one of them out")
    if not table.has("skin"):
        tabs = read_tabs(table) or _tabs_of(thickness)
        if tabs.height >= thickness - TOLERANCES.equal:
            table.fault(
                "tabs: height",
                f"{show(tabs.height)} must be less than the sheet is thick ({show(thickness)})",
            )
        return tabs, 0.0
    skin = table.length("skin", SIZE)
    if skin >= thickness - TOLERANCES.equal:
        table.fault(
            "skin", f"{show(skin)} must be less than the sheet is thick ({show(thickness)})"
        )
    return None, skin


def _tabs_of(thickness: float) -> Tabs:
    height = TAB_HEIGHT if math.isnan(thickness) else min(TAB_HEIGHT, thickness / 3.0)
    return Tabs(count=TAB_COUNT, width=TAB_WIDTH, height=height)


def _check_gap(table: Table, gap: float, ledge: Ledge) -> None:
    if math.isnan(gap):
        return
    area = area_of(ledge.outline, TOLERANCES.flatten, Err.INWARD)
    if shapely.is_empty(shapely.buffer(area, -gap)):
        table.fault(
            "gap", f"{table.reading.show(gap)} on every side leaves nothing of the plate: less"
        )


def _tell_seat(table: Table, sheet: Sheet, ledge: Ledge, skimmed: float) -> None:
    """How the plate will lie against the face of the blank as it is once skimmed: a note, not a
    fault."""
    show, deep = table.reading.show, ledge.depth - skimmed
    proud = sheet.thickness - deep
    if math.isnan(proud):
        return
    below = " below the skimmed face" if skimmed else ""
    against = f"the sheet is {show(sheet.thickness)} thick, the ledge {show(deep)} deep{below}"
    if abs(proud) <= FLUSH + TOLERANCES.equal:
        table.warn("stock", f"{against}: the plate will lie flush, within {show(FLUSH)}")
    elif proud > 0.0:
        table.warn("stock", f"{against}: the plate will stand {show(proud)} proud of the face")
    else:
        table.warn("stock", f"{against}: the plate will lie {show(-proud)} shy of the face")
