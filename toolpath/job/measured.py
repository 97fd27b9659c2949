"""The blank as it was measured before its second face is planned."""

from __future__ import annotations

import math

from toolpath.drawing.outline import Err
from toolpath.job.cross import Parts
from toolpath.job.keys import MEASURED
from toolpath.job.limits import SIZE
from toolpath.job.model import Cut, Measured, skimmed_off
from toolpath.job.pins import Around
from toolpath.job.table import Table
from toolpath.job.words import quoted
from toolpath.tolerances import TOLERANCES

FAR_OFF = 0.1
"""A blank measured further than this share off what the job says is another blank, or mistyped."""


def read_measured(table: Table, around: Around, parts: Parts) -> Measured | None:
    """``measured = { size, thickness }``, checked against the blank and the second face's cuts;
    None where the job does not say."""
    if table.void:
        return None
    table.allow(MEASURED)
    x, y = table.lengths("size", "[x, y]", SIZE)
    thickness = table.length("thickness", SIZE)
    cuts = around.cuts if around.whole else ()
    second = [cut for cut in cuts if cut.face is not cuts[0].face]
    if cuts and not second:
        table.fault("", "re-plans the second face, and all cuts are on one: leave it out")
    if parts.drawn is not None:
        _check_size(table, (x, y), parts)
    gone = skimmed_off(cuts, cuts[0].face) if cuts else 0.0
    _check_thickness(table, thickness, parts.blank.thickness - gone, parts)
    for cut in second:
        _check_depth(table, thickness, cut)
    return Measured(size=(x, y), thickness=thickness)


def _check_size(table: Table, size: tuple[float, float], parts: Parts) -> None:
    x0, y0, x1, y1 = parts.blank.outline.polygon(TOLERANCES.flatten, Err.INWARD).bounds
    show = table.reading.show
    for place, (found, said) in enumerate(zip(size, (x1 - x0, y1 - y0), strict=True), start=1):
        if abs(found - said) > FAR_OFF * said + TOLERANCES.inside_blank:
            table.fault(
                f"size[{place}]",
                f"{show(found)} is more than {100 * FAR_OFF:.0f} % off the {show(said)} of the "
                "blank: measure again, or mend the outline of the blank",
            )


def _check_thickness(table: Table, found: float, said: float, parts: Parts) -> None:
    within, show = parts.blank.thickness_within, table.reading.show
    off = abs(found - said)
    if off > FAR_OFF * said + TOLERANCES.equal:
        table.fault(
            "thickness",
            f"{show(found)} is more than {100 * FAR_OFF:.0f} % off the {show(said)} of the blank: "
            "measure again, or mend the thickness of the blank",
        )
    elif off > within + TOLERANCES.equal:
        table.warn(
            "thickness",
            f"{show(found)} is {show(off)} off the {show(said)} of the blank, more than its "
            f"thickness_within ({show(within)}): the first face was checked against less",
        )


def _check_depth(table: Table, found: float, cut: Cut) -> None:
    if cut.through or math.isnan(found) or cut.depth <= found + TOLERANCES.equal:
        return
    show = table.reading.show
    table.fault(
        "thickness",
        f"{show(found)} is less than the {show(cut.depth)} that the cut {quoted(cut.name)} goes "
        "down: give it less depth",
    )
