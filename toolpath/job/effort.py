"""How much work a cut is: one that would take all memory, or nights to plan and weeks to cut, is a
fault with its figure. Nearly always a unit or a decimal point is wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from toolpath.job.cusps import level_step
from toolpath.job.model import Cutter, Relief
from toolpath.job.shapes import Drawn
from toolpath.job.table import Table
from toolpath.job.words import number_text, quoted

MOST_LEVELS = 2_000
"""Levels of one cut, or pecks of one hole."""

MOST_PATH = 50e6
"""Path of one pocket, mm: 50 km, 4 weeks at 1,200 mm/min."""

MOST_RELIEF = 2e6
"""Finishing path of one relief, mm: 2 km, 28 hours at 1,200 mm/min."""


def check_levels(table: Table, cutters: Sequence[Cutter], deep: float) -> bool:
    """Whether a cut that goes `deep` mm into its material has few enough levels with every cutter;
    NaN passes."""
    for cutter in cutters:
        levels = deep / cutter.stepdown
        if levels > MOST_LEVELS:
            show = table.reading.show
            table.fault(
                "cutter",
                f"the stepdown of {quoted(cutter.name)}, {show(cutter.stepdown)}, makes "
                f"{_count(levels)} levels of {show(deep)}; at most {MOST_LEVELS} are planned: "
                "take a larger stepdown",
            )
            return False
    return True


def check_pecks(table: Table, peck: float, deep: float) -> None:
    """A hole of few enough pecks; NaN passes."""
    if deep / peck > MOST_LEVELS:
        show = table.reading.show
        table.fault(
            "peck",
            f"{show(peck)} makes {_count(deep / peck)} pecks of {show(deep)}; at most "
            f"{MOST_LEVELS} are planned: take a larger one",
        )


def check_path(table: Table, cutter: Cutter, drawn: Drawn, deep: float) -> None:
    """A pocket that its first cutter can clear in a path of less than `MOST_PATH`; NaN passes."""
    area, apart = float(shapely.area(drawn.inner)), cutter.stepover * cutter.diameter
    path = area / apart * max(1.0, deep / cutter.stepdown) if deep > 0.0 else 0.0
    if path > MOST_PATH:
        show = table.reading.show
        table.fault(
            "cutter",
            f"{quoted(cutter.name)} would go {_count(path / 1e6)} km here, in paths {show(apart)} "
            f"apart and {show(cutter.stepdown)} deep; at most {MOST_PATH / 1e6:.0f} km are "
            "planned: take a thicker cutter, a larger stepover or stepdown, or a smaller outline",
        )


def check_cusp(table: Table, cut: Relief, area: float) -> None:
    """A relief that its first finishing cutter can pass over in a path of less than `MOST_RELIEF`;
    NaN passes."""
    cutter = cut.finishers[0]
    apart = level_step(cutter, cut.cusp)
    if area / apart > MOST_RELIEF:
        show = table.reading.show
        table.fault(
            "cusp",
            f"{show(cut.cusp)} puts the passes of {quoted(cutter.name)} {show(apart)} apart, "
            f"{_count(area / apart / 1e6)} km in all; at most {MOST_RELIEF / 1e6:.0f} km are "
            "planned: take a higher cusp or a wider cutter",
        )


def _count(value: float) -> str:
    return number_text(math.ceil(value)) if math.isfinite(value) else "endless"
