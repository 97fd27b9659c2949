"""Skims of a job file: a face brought down to a depth or to a thickness, and the face as measured.

Frame: x, y of the blank frame, millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from toolpath.job.limits import PLACE, ROOM, SIZE, TURN, Limits
from toolpath.job.model import Blank, Cut, Profile, Shape, Side, Skim, SkimWay, Surface, skimmed_off
from toolpath.job.table import Table
from toolpath.job.tools import fits
from toolpath.job.words import quoted
from toolpath.tolerances import TOLERANCES
from toolpath.units import show_mm

if TYPE_CHECKING:
    from toolpath.job.cross import Parts
    from toolpath.job.cuts import Common

BEYOND = Limits(low=0.6, high=100.0)
"""How far a stroke runs out, mm: the cutter goes down beside the blank, in air all round."""
_TILTED = 0.02
"""Places whose spread across a line is less than this share of that along it lie in the line."""
_STANDS_UP = 0.4
"""How high a face may stand above its Z 0 where it is not skimmed first, mm: ramps begin 0.5 mm
above it."""


def skim_depth(table: Table, blank: Blank) -> float:
    """The depth of a skim as far as one cut knows it: what is skimmed from the other face before
    comes off it later, in `settled`."""
    show = table.reading.show
    if table.has("depth") == table.has("thickness"):
        table.fault("depth", "give depth, or thickness: what is left of the blank after it")
        return math.nan
    if table.has("thickness"):
        return blank.thickness - table.length("thickness", SIZE)
    depth = table.length("depth", SIZE)
    if depth >= blank.thickness:
        table.fault("depth", f"{show(depth)} must be less than the blank ({show(blank.thickness)})")
        return math.nan
    return depth


def read_skim(table: Table, parts: Parts, common: Common | None) -> Skim | None:
    """A ``[[cut]]`` with ``do = "face"``; None where a part is faulty."""
    way = table.choice("way", SkimWay, SkimWay.ZIGZAG) or SkimWay.ZIGZAG
    along = table.degrees("along", TURN, 90.0 if _taller(parts) else 0.0)
    beyond = table.length("beyond", BEYOND, 1.0)
    cover = table.length("least_cover", ROOM, 0.0)
    if common is None or parts.drawn is None:
        return None
    wanted = parts.blank.thickness - common["depth"] if table.has("thickness") else 0.0
    fits(table, common["cutter"], (Shape.FLAT,), 'do = "face"')
    return Skim(
        **common,
        outline=(parts.blank.outline,),
        way=way,
        along=along,
        beyond=beyond,
        thickness=wanted,
        least_cover=cover,
    )


def _taller(parts: Parts) -> bool:
    """Whether a blank is longer along y, the way that strokes then go."""
    if parts.drawn is None:
        return False
    x0, y0, x1, y1 = shapely.bounds(parts.drawn.outer)
    return bool(y1 - y0 > x1 - x0)


def settled(cuts: Sequence[Cut | None], tables: Iterable[Table], blank: Blank) -> list[Cut | None]:
    """The cuts once all are known: a skim to a thickness takes what the skims of the other face
    leave it, through cuts of the second face end at a board that lies so much nearer, and tabs must
    be lower than what all skims leave of the thinnest blank."""
    places = list(zip(cuts, tables, strict=True))
    whole = [cut for cut in cuts if cut is not None]
    first = whole[0].face if whole else Side.FRONT
    gone = skimmed_off(whole, first)
    found = [
        _settled(cut, table, blank, 0.0 if cut is None or cut.face is first else gone)
        for cut, table in places
    ]
    for cut, table in places:
        if isinstance(cut, Profile) and cut.tabs is not None:
            _check_tabs(table, cut, blank, [each for each in found if each is not None])
    return found


def _settled(cut: Cut | None, table: Table, blank: Blank, gone: float) -> Cut | None:
    show = table.reading.show
    if isinstance(cut, Skim) and cut.thickness > 0.0:
        depth = blank.thickness - gone - cut.thickness
        if depth > TOLERANCES.equal:
            return replace(cut, depth=depth)
        already = f", {show(gone)} of it skimmed from the other face" if gone else ""
        table.fault(
            "thickness",
            f"{show(cut.thickness)} leaves nothing to skim from a blank of "
            f"{show(blank.thickness)}{already}",
        )
        return None
    return replace(cut, depth=cut.depth - gone) if cut is not None and cut.through else cut


def _check_tabs(table: Table, cut: Profile, blank: Blank, cuts: Sequence[Cut]) -> None:
    """Tabs as high as what skims leave are a fault; without skims the cut itself was asked."""
    assert cut.tabs is not None
    own, other = (skimmed_off(cuts, side) for side in (cut.face, cut.face.other))
    if own == other == 0.0:
        return
    thinnest = blank.thinnest - other
    left = (thinnest if cut.through else min(cut.depth, thinnest)) - max(cut.below, own)
    if cut.tabs.height >= left - TOLERANCES.equal:
        show = table.reading.show
        table.fault(
            "tabs: height",
            f"{show(cut.tabs.height)} must be less than the {show(max(left, 0.0))} that this cut "
            "takes of the thinnest blank once its faces are skimmed: make the tabs lower, or skim "
            "less",
        )


def read_surfaces(table: Table) -> dict[Side, Surface]:
    """``[face.front] surface`` and the back's: the faces as measured, those that are."""
    found = {}
    for side in Side:
        raw = table.values.get(side.value)
        if isinstance(raw, dict) and "surface" in raw:
            surface = _surface(table.table(side.value))
            if surface is not None:
                found[side] = surface
    return found


def _surface(face: Table) -> Surface | None:
    form = "[[x, y, height above Z 0], …]"
    rows = [
        face.as_lengths(f"surface[{place}]", raw, "[x, y, height above Z 0]", PLACE)
        for place, raw in enumerate(face.array("surface", form), start=1)
    ]
    if not rows or not np.isfinite(rows).all():
        return None
    places = np.array([row[:2] for row in rows])
    spread = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    if len(rows) < 3 or spread[1] <= _TILTED * spread[0]:
        face.fault(
            "surface",
            f"{len(rows)} places, in a line or nearly: measure three at least that are not, "
            "better nine: the corners, the middles of the sides, and the middle",
        )
        return None
    return Surface(
        places=tuple((float(x), float(y)) for x, y, _ in rows),
        heights=tuple(float(height) for _, _, height in rows),
    )


def check_surfaces(
    table: Table, surfaces: dict[Side, Surface], cuts: Sequence[Cut], safe_height: float
) -> None:
    """A face that stands up must be skimmed before anything else is cut in it."""
    for side, surface in surfaces.items():
        high, show = surface.highest, table.reading.show
        first = next((cut for cut in cuts if cut.face is side), None)
        if high >= safe_height - 1.0:
            table.fault(
                f"{side.value}: surface",
                f"{show(high)} above Z 0 at its highest, and rapids cross at {show(safe_height)}: "
                "touch off on the highest place, or raise [machine] safe_height",
            )
        elif high > _STANDS_UP and first is not None and not isinstance(first, Skim):
            table.fault(
                f"{side.value}: surface",
                f"{show(high)} above Z 0 at its highest, and the first cut there, "
                f"{quoted(first.name)}, begins {show_mm(_STANDS_UP)} above it at most: skim the "
                'face first (do = "face"), or touch off on the highest place',
            )
