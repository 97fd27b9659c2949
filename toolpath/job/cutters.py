"""Cutters of a job file, with what they must fit: themselves and the machine."""

from __future__ import annotations

import math
from dataclasses import replace

from toolpath.job.keys import CUTTERS, NECK
from toolpath.job.limits import (
    CHIP,
    DRILL_ANGLE,
    FEED,
    FLUTES,
    GAP,
    RAMP,
    SIZE,
    SPEED,
    STEPOVER,
    VEE_ANGLE,
)
from toolpath.job.materials import Material, materials
from toolpath.job.model import Cutter, Machine, Neck, Shape
from toolpath.job.proposals import feed_of, proposed
from toolpath.job.table import Table
from toolpath.job.words import number_text
from toolpath.tolerances import TOLERANCES

FIGURES = ("rpm", "feed", "plunge", "stepdown", "stepover")
"""What a job may leave out where its material is known: it is proposed."""


def read_cutter(table: Table, machine: Machine, material: Material | None) -> Cutter:
    """One ``[[cutter]]``, checked against itself and the machine. Speed, feeds and steps that are
    left out are proposed for the material; they are faults where it is not known.

    Faulty values are NaN, and a faulty shape is `Shape.FLAT`: cuts that name the cutter are
    still read, and only its own faults are told.
    """
    shape = _shape(table)
    cutter = _read(table, shape, material)
    if cutter.chip > 0.0:
        cutter = replace(cutter, feed=feed_of(cutter, cutter.chip, machine))
    if material is not None and not math.isnan(cutter.chip):
        cutter = proposed(cutter, material, machine)
    _check_form(table, cutter)
    _check_lengths(table, cutter)
    _check_neck(table, cutter)
    _check_machine(table, cutter, machine)
    return cutter


def _shape(table: Table) -> Shape | None:
    shape = table.choice("shape", Shape)
    if shape is not None:
        table.allow(CUTTERS[shape.value])
    return shape


def _read(table: Table, shape: Shape | None, material: Material | None) -> Cutter:
    """The cutter as stated; what is left to be proposed is NaN."""
    diameter = table.length("diameter", SIZE)
    chip = _chip(table)
    drill = shape is Shape.DRILL
    own = {"feed"} if table.has("chip") else set()
    own |= {"stepdown", "stepover"} if drill else set()
    free = frozenset(key for key in FIGURES if not table.has(key) and key not in own)
    if material is None and free and not table.void:
        _missing(table, [key for key in FIGURES if key in free])
    blank = math.nan
    return Cutter(
        name=table.text("name", "a name"),
        shape=shape or Shape.FLAT,
        diameter=diameter,
        flutes=table.whole("flutes", FLUTES),
        flute_length=table.length("flute_length", SIZE),
        shank=table.length("shank", SIZE, diameter),
        reach=table.length("reach", SIZE),
        rpm=table.number("rpm", SPEED, "rev/min", blank),
        feed=math.nan if table.has("chip") else table.feed("feed", FEED, blank),
        plunge=table.feed("plunge", FEED, blank),
        ramp=table.degrees("ramp", RAMP, 3.0),
        stepdown=table.length("stepdown", SIZE, diameter if drill else blank),
        stepover=table.number("stepover", STEPOVER, "", 1.0 if drill else blank),
        angle=_angle(table, shape),
        corner_radius=table.length("corner_radius", SIZE) if shape is Shape.BULL else 0.0,
        tip_diameter=table.length("tip_diameter", GAP) if shape is Shape.VEE else 0.0,
        edge_radius=table.length("radius", SIZE) if shape is Shape.ROUND_OVER else 0.0,
        neck=_neck(table.table("neck", optional=True)),
        chip=chip,
        proposed=frozenset() if material is None else free,
    )


def _missing(table: Table, keys: list[str]) -> None:
    """One fault for all figures that are left out though no material is known."""
    known = ", ".join(row.name for row in materials())
    table.fault(
        "",
        f"{', '.join(keys)}: missing: give what the cutter is to do, or give the blank "
        f"a material for which they can be proposed: {known}",
    )


def _chip(table: Table) -> float:
    """mm a tooth, 0 where none is given."""
    if table.has("chip") and table.has("feed"):
        table.fault("chip", "given together with feed: leave one of them out")
    return table.length("chip", CHIP, 0.0)


def _neck(table: Table) -> Neck | None:
    table.allow(NECK)
    if table.void:
        return None
    return Neck(diameter=table.length("diameter", SIZE), length=table.length("length", SIZE))


def _angle(table: Table, shape: Shape | None) -> float:
    if shape is Shape.VEE:
        return table.degrees("angle", VEE_ANGLE)
    return table.degrees("angle", DRILL_ANGLE) if shape is Shape.DRILL else 0.0


def _check_form(table: Table, cutter: Cutter) -> None:
    """The measures of a cutter's end among themselves."""
    equal, show = TOLERANCES.equal, table.reading.show
    if cutter.corner_radius > cutter.radius + equal:
        table.fault(
            "corner_radius",
            f"{show(cutter.corner_radius)} is more than half the diameter ({show(cutter.radius)})",
        )
    elif cutter.edge_radius > cutter.radius + equal:
        table.fault(
            "radius",
            f"{show(cutter.edge_radius)} is more than half the diameter ({show(cutter.radius)}), "
            "which is the full width above the rounding: measure both",
        )
    elif cutter.tip_diameter >= cutter.diameter:
        table.fault(
            "tip_diameter",
            f"{show(cutter.tip_diameter)} must be less than the diameter ({show(cutter.diameter)})",
        )
    elif cutter.point_length > cutter.flute_length + equal:
        table.fault(
            "flute_length",
            f"{show(cutter.flute_length)} is shorter than the cutter's own end, which takes "
            f"{show(cutter.point_length)}: measure both",
        )


def _check_lengths(table: Table, cutter: Cutter) -> None:
    """What a cutter takes at a time against its flutes, and they against its reach."""
    equal, show = TOLERANCES.equal, table.reading.show
    if cutter.flute_length > cutter.reach + equal:
        table.fault(
            "flute_length",
            f"{show(cutter.flute_length)} is more than the reach ({show(cutter.reach)}): "
            "the flutes cannot stand in the nut",
        )
    if cutter.stepdown > cutter.flute_length + equal:
        table.fault(
            "stepdown",
            f"{show(cutter.stepdown)} is more than the flutes are long "
            f"({show(cutter.flute_length)}): take less at a time",
        )


def _check_neck(table: Table, cutter: Cutter) -> None:
    """A neck stands between flutes and shank, no wider than the cutter, and what is above it is
    no thinner: but for the step behind the flutes a tool never gets thinner upward."""
    neck, equal, show = cutter.neck, TOLERANCES.equal, table.reading.show
    if neck is None:
        return
    if neck.diameter > cutter.diameter + equal:
        table.fault(
            "neck",
            f"{show(neck.diameter)} is thicker than the cutter ({show(cutter.diameter)}): "
            "what is thicker is the shank",
        )
    elif neck.diameter > cutter.shank + equal:
        table.fault(
            "neck",
            f"{show(neck.diameter)} is thicker than the shank above it ({show(cutter.shank)}): a "
            "cutter does not get thinner above its neck: measure both, or leave the neck out",
        )
    if neck.length <= cutter.flute_length + equal:
        table.fault(
            "neck",
            f"ends {show(neck.length)} above the tip, no further than the flutes "
            f"({show(cutter.flute_length)}): its length is measured from the tip",
        )
    elif neck.length > cutter.reach + equal:
        table.fault(
            "neck",
            f"ends {show(neck.length)} above the tip, more than the reach "
            f"({show(cutter.reach)}): the nut cannot hold it",
        )


def _check_machine(table: Table, cutter: Cutter, machine: Machine) -> None:
    """What the machine must be able to hold, turn and push."""
    show_feed = table.reading.show_feed
    _check_holder(table, cutter, machine)
    low, high = machine.spindle
    if cutter.rpm < low or cutter.rpm > high:
        table.fault(
            "rpm",
            f"{number_text(cutter.rpm)} rev/min is outside the spindle's {number_text(low)} "
            f"to {number_text(high)} rev/min",
        )
    for key, feed in (("feed", cutter.feed), ("plunge", cutter.plunge)):
        if feed > machine.feed_max + TOLERANCES.equal:
            most = show_feed(machine.feed_max)
            table.fault(key, f"{show_feed(feed)} is more than the machine's feed_max ({most})")


def _check_holder(table: Table, cutter: Cutter, machine: Machine) -> None:
    """The nut must go round the shank, and the cutter come out of the shoe."""
    show, nut = table.reading.show, machine.nut
    if cutter.shank > nut.diameter + TOLERANCES.equal:
        wide = f"{show(cutter.shank)} is wider than the collet nut ({show(nut.diameter)})"
        if table.has("shank"):
            table.fault("shank", f"{wide}, which cannot hold it: measure both")
        else:
            less = "a shank that is not given is taken as thick as the cutter"
            table.warn("shank", f"{wide}: measure both; {less}")
    if nut.shoe is not None and nut.shoe.drop >= cutter.reach:
        table.fault(
            "reach",
            f"{show(cutter.reach)} does not come out of the dust shoe, which hangs "
            f"{show(nut.shoe.drop)} below the nut: let it stick out more or raise the shoe",
        )
