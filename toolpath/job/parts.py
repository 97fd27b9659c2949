"""Blank, faces, machine, check rules and clamps of a job file."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from toolpath.drawing.outline import Loop, Region
from toolpath.job.keys import BLANK, CHECK, CLAMP, FACE, FACES, MACHINE, NUT, SHOE
from toolpath.job.limits import (
    ACCELERATION,
    CELL,
    DECIMALS_INCH,
    DECIMALS_MM,
    FEED,
    GAP,
    PLACE,
    ROOM,
    SECONDS,
    SIZE,
    SPEED,
    SPEED_OR_STILL,
)
from toolpath.job.model import (
    Blank,
    CheckRules,
    Clamp,
    Machine,
    Nut,
    Shoe,
    Side,
    TurnOver,
    Zero,
)
from toolpath.job.shapes import Drawn, read_shape
from toolpath.job.table import Table
from toolpath.job.words import number_text
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

_LONG_WAIT = 60.0
"""Seconds in which any spindle is up to speed (from memory)."""
CHANGE = 120.0
"""Seconds to change a cutter and touch it off (common practice, no source)."""

_STAND_IN = Region(outer=Loop.of_polygon(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])))


def read_blank(table: Table) -> tuple[Blank, Drawn | None]:
    """``[blank]``, and its outline as drawn: None, beside a stand-in, after a fault."""
    table.allow(BLANK)
    drawn = _one_region(table, read_shape(table, "outline"))
    thickness = table.length("thickness", SIZE)
    within = table.length("thickness_within", GAP, 0.0)
    if within >= thickness:
        show = table.reading.show
        table.fault(
            "thickness_within",
            f"{show(within)} must be less than the thickness ({show(thickness)})",
        )
        within = math.nan
    blank = Blank(
        outline=drawn.outline[0] if drawn else _STAND_IN,
        thickness=thickness,
        thickness_within=within,
        material=table.text("material", "what the blank is made of"),
        turn_over=table.choice("turn_over", TurnOver, TurnOver.LEFT_RIGHT) or TurnOver.LEFT_RIGHT,
    )
    return blank, drawn


def _one_region(table: Table, drawn: Drawn | None) -> Drawn | None:
    if drawn is None:
        return None
    if len(drawn.outline) > 1:
        table.fault("outline", f"has {len(drawn.outline)} parts: a blank is one piece")
        return None
    holes = len(drawn.outline[0].holes)
    if holes:
        table.fault("outline", f"has {holes} inside loop(s): a blank has no holes; cut them")
        return None
    return drawn


def read_zero(table: Table) -> dict[Side, Zero]:
    """``[face.front]`` and ``[face.back]``: where X and Y are zero."""
    table.allow(FACES)
    faces = {side: table.table(side.value, optional=True) for side in Side}
    for face in faces.values():
        face.allow(FACE)
    default = Zero.LOWER_LEFT
    return {side: face.choice("zero", Zero, default) or default for side, face in faces.items()}


def read_machine(table: Table) -> Machine:
    """``[machine]``."""
    table.allow(MACHINE)
    x, y, z = table.lengths("travel", "[x, y, z]", SIZE)
    feed_max = table.feed("feed_max", FEED)
    rapid = table.feed("rapid", FEED, 5000.0)
    acceleration = table.acceleration("acceleration", ACCELERATION, 500.0)
    spindle = _spindle(table)
    safe_height = table.length("safe_height", SIZE)
    nut = _nut(table.table("nut", optional=True))
    nut = replace(nut, shoe=_shoe(table.table("shoe", optional=True), nut))
    spoilboard = table.length("spoilboard", GAP, 0.5)
    path_error = table.length("path_error", GAP, 0.02)
    arcs = table.flag("arcs", True)
    unit = table.reading.unit
    decimals = table.whole(
        "decimals", DECIMALS_MM if unit is Unit.MM else DECIMALS_INCH, unit.decimals
    )
    wait, in_ms = _wait(table)
    return Machine(
        travel=(x, y, z),
        feed_max=feed_max,
        spindle=spindle,
        safe_height=safe_height,
        rapid=rapid,
        acceleration=acceleration,
        nut=nut,
        spoilboard=spoilboard,
        path_error=path_error,
        arcs=bool(arcs),
        decimals=decimals,
        spindle_wait=wait,
        wait_in_ms=in_ms,
        dial=_dial(table, spindle),
        change=table.number("change", SECONDS, "s", CHANGE),
    )


def _spindle(table: Table) -> tuple[float, float]:
    low, high = table.numbers("spindle", "[slowest, fastest]", SPEED_OR_STILL, "rev/min")
    if high < low or high == 0.0:
        table.fault("spindle", "must hold the slowest speed, then the fastest, in rev/min")
        return math.nan, math.nan
    return low, high


def _dial(table: Table, spindle: tuple[float, float]) -> tuple[float, ...]:
    """Rev/min of the steps of a dial, which may be absent."""
    form = "the rev/min of its steps, [10000, 12000, …]"
    raw = table.array("dial", form, optional=True)
    if raw == [] and table.has("dial") and isinstance(table.values["dial"], list):
        table.fault("dial", f"has no steps: give {form}, or leave it out")
    entries = {f"dial[{place}]": entry for place, entry in enumerate(raw, start=1)}
    each = replace(table, values=entries)
    speeds = tuple(each.number(key, SPEED, "rev/min") for key in entries)
    for place, (slower, faster) in enumerate(pairwise(speeds), start=2):
        if faster <= slower:
            table.fault(
                f"dial[{place}]",
                f"{number_text(faster)} rev/min must be more than the step before it "
                f"({number_text(slower)} rev/min)",
            )
    low, high = spindle
    for place, speed in enumerate(speeds, start=1):
        if speed < low or speed > high:
            table.fault(
                f"dial[{place}]",
                f"{number_text(speed)} rev/min lies outside spindle ({number_text(low)} to "
                f"{number_text(high)} rev/min): mend one of them",
            )
    return speeds


def _nut(table: Table) -> Nut:
    table.allow(NUT)
    default = Nut()
    return Nut(
        diameter=table.length("diameter", SIZE, default.diameter if table.void else None),
        height=table.length("height", SIZE, default.height if table.void else None),
    )


def _wait(table: Table) -> tuple[float | None, bool]:
    """Seconds to wait for the spindle (None: the program stops), and whether in ms."""
    seconds = table.number("spindle_wait", SECONDS, "s", 5.0)
    in_ms = table.word("wait_unit", ("s", "ms"), "s") == "ms"
    if not table.has("wait"):
        _warn_wait(table, seconds)
        return seconds, in_ms
    pause = table.word("wait", ("pause",), None)
    for key in ("spindle_wait", "wait_unit"):
        if pause and table.has(key):
            table.fault(key, 'given together with wait = "pause": leave one of them out')
    return None, False


def _warn_wait(table: Table, seconds: float) -> None:
    if seconds > _LONG_WAIT:
        text = number_text(seconds)
        table.warn(
            "spindle_wait",
            f"{text} s goes by each time the spindle starts: it is in seconds whatever wait_unit "
            f"says, so give {number_text(seconds / 1000.0)} for {text} ms",
        )


def _shoe(table: Table, nut: Nut) -> Shoe | None:
    """A dust shoe, which may be absent. Its drop has no default: a shoe taken for higher than it
    hangs would come too near."""
    table.allow(SHOE)
    if table.void:
        return None
    shoe = Shoe(diameter=table.length("diameter", SIZE), drop=table.length("drop", PLACE))
    if shoe.diameter < nut.diameter - TOLERANCES.equal:
        show = table.reading.show
        table.fault(
            "diameter",
            f"{show(shoe.diameter)} is narrower than the collet nut ({show(nut.diameter)}) that "
            "it stands round: measure both",
        )
    return shoe


def read_check(table: Table) -> CheckRules:
    """``[check]``."""
    table.allow(CHECK)
    cell = table.length("cell", CELL, 0.2)
    return CheckRules(
        cell=cell,
        clearance=table.length("clearance", ROOM),
        least_floor=table.length("least_floor", GAP, 0.0),
        least_wall=table.length("least_wall", GAP, 0.0),
    )


def read_clamp(table: Table, place: int) -> Clamp | None:
    """One ``[[clamp]]``, named by its place; None where a part is faulty."""
    table.allow(CLAMP)
    face = table.choice("face", Side)
    drawn = read_shape(table, "outline")
    height = table.length("height", SIZE)
    if face is None or drawn is None:
        return None
    return Clamp(name=f"clamp {place}", face=face, outline=drawn.outline, height=height)
