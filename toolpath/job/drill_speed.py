"""How fast a drill may turn: most spindles of routers are too fast for holes."""

from __future__ import annotations

import math

import numpy as np

from toolpath.job.materials import material_of
from toolpath.job.model import Cutter, Shape
from toolpath.job.table import Table
from toolpath.job.words import number_text, quoted

DRILL_SPEEDS: tuple[tuple[float, float, float], ...] = (
    (3.0, 1500.0, 2500.0),
    (6.0, 800.0, 1500.0),
    (10.0, 500.0, 900.0),
    (20.0, 250.0, 500.0),
)
"""Diameter, slowest and fastest rev/min at which plastics are drilled (common practice, no
source); in proportion between the rows, at the same speed of the rim below them, level above."""


def warn_drill_speed(table: Table, cutter: Cutter, material: str) -> None:
    """Warn of a speed at which a hole melts or burns rather than is cut; what the table does not
    know may do either."""
    if math.isnan(cutter.diameter) or math.isnan(cutter.rpm):
        return
    slowest, fastest = drill_speeds(cutter.diameter)
    if not cutter.rpm > fastest:
        return
    row = material_of(material)
    where, heat = (f" in {row.name}", row.heat) if row else ("", "melts or burns")
    what = "an end mill" if cutter.shape is Shape.FLAT else "a drill"
    table.warn(
        "cutter",
        f"{quoted(cutter.name)}, {what}, turns at {number_text(cutter.rpm)} rev/min, which is fast "
        f"for a hole of {table.reading.show(cutter.diameter)}{where} (a drill press turns "
        f"{number_text(slowest)} to {number_text(fastest)} in plastics): what gets hot {heat}, so "
        "take the slowest speed and short pecks, or only mark the hole and drill it elsewhere",
    )


def drill_speeds(diameter: float) -> tuple[float, float]:
    """Slowest and fastest rev/min for a diameter, to the nearest ten."""
    table = np.array(DRILL_SPEEDS)
    stretch = max(1.0, float(table[0, 0]) / diameter)
    low, high = (
        stretch * float(np.interp(diameter, table[:, 0], table[:, column])) for column in (1, 2)
    )
    return 10.0 * round(low / 10.0), 10.0 * round(high / 10.0)
