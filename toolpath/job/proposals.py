"""What a job leaves out of a cutter's speed, feeds and steps, proposed for a material.

Every proposal is a starting point (common practice, no source, where the table of materials has no
other): chip and stepdown a third of the way up their bands, speed, stepover and plunge in the
middle. What the maker states is kept, and what is proposed is fitted to it and to the machine.
"""

from __future__ import annotations

import math
from dataclasses import replace

from toolpath.job.materials import Material
from toolpath.job.model import Cutter, Machine, Shape
from toolpath.tolerances import TOLERANCES

LEAST_CHIP = 0.025
"""mm a tooth below which most cutters rub and do not cut (two lists of common router mistakes:
0.025 to 0.03); thinner cutters in proportion below 3 mm (common practice, no source)."""

STICK_OUT = 5.0
"""Stick-out over diameter from which a cutter is slowed down: notes on overhang have 3 to 4 as
easy, over 5 to 6 as slow."""

DRILL_CHIP = 0.01
"""mm an edge of a drill over its diameter, at most `LEAST_CHIP` (common practice, no source)."""

_START = 1.0 / 3.0
_MIDDLE = 0.5
_DEEP = ((1.0, 1.0), (2.0, 0.75), (3.0, 0.5))
"""Depth of a level over the diameter, and what that leaves of the chip (router chart: 25 % less at
two diameters, 50 % at three)."""


def chip_of(cutter: Cutter) -> float:
    """mm a tooth at the cutter's feed: feed / (rpm x flutes)."""
    return cutter.feed / (cutter.rpm * cutter.flutes)


def feed_of(cutter: Cutter, chip: float, machine: Machine) -> float:
    """The feed (mm/min) of a chip: rpm x flutes x chip, at most that of the machine."""
    return min(cutter.rpm * cutter.flutes * chip, machine.feed_max)


def surface_speed(cutter: Cutter) -> float:
    """Speed of the rim, m/min: pi x diameter x rpm / 1000. Source: any handbook of machining."""
    return math.pi * working(cutter) * cutter.rpm / 1000.0


def working(cutter: Cutter) -> float:
    """The diameter that a cutter works with, mm: of a vee half its widest (common practice)."""
    return cutter.diameter / 2.0 if cutter.shape is Shape.VEE else cutter.diameter


def least_chip(diameter: float) -> float:
    """mm a tooth below which a cutter rubs."""
    return LEAST_CHIP * min(1.0, diameter / 3.0)


def depth_share(cutter: Cutter) -> float:
    """What the depth of a level leaves of the chip."""
    deep = cutter.stepdown / working(cutter)
    low, middle, high = _DEEP
    if not deep > low[0]:
        return 1.0
    (x0, y0), (x1, y1) = (low, middle) if deep <= middle[0] else (middle, high)
    return max(high[1], y0 + (y1 - y0) * (deep - x0) / (x1 - x0))


def slenderness(cutter: Cutter) -> float:
    """The stick-out over the diameter of a plain rod as thick as the flutes that bends as much.

    A round bar of two thicknesses held at one end and pushed at the other: the thin part from the
    tip to the shank, the shank above it (elementary bending). It is reach / diameter where both
    are as thick; a neck counts as thick as the flutes.
    """
    thin = min(cutter.shank_from, cutter.reach)
    thick = (cutter.reach**3 - thin**3) * (cutter.diameter / cutter.shank) ** 4
    return float((thin**3 + thick) ** (1.0 / 3.0) / cutter.diameter)


def proposed(cutter: Cutter, row: Material, machine: Machine) -> Cutter:
    """The cutter with the figures that its job leaves out (`Cutter.proposed`), for a material.

    Within the spindle's range and the greatest feed of the machine: where the feed would be over
    it, it turns slower, so that the chip stays. A cutter with faulty measures comes back as it is.
    """
    measures = (cutter.diameter, cutter.shank, cutter.reach, cutter.flute_length)
    if any(map(math.isnan, (*measures, machine.feed_max, *machine.spindle))):
        return cutter
    made = _drill(cutter, machine) if cutter.shape is Shape.DRILL else _mill(cutter, row, machine)
    kept = {name: getattr(made, name) for name in cutter.proposed}
    if cutter.chip > 0.0:
        kept["feed"] = made.feed
    return replace(cutter, **kept)


def _mill(cutter: Cutter, row: Material, machine: Machine) -> Cutter:
    free, size = cutter.proposed, working(cutter)
    start = 0.0 if slenderness(cutter) > STICK_OUT else _START
    if "stepdown" in free:
        cutter = replace(cutter, stepdown=_stepdown(cutter, row.stepdown.at(start)))
    if "stepover" in free:
        cutter = replace(cutter, stepover=round(row.stepover.at(_MIDDLE), 2))
    chip = cutter.chip or row.chip(size).at(start) * depth_share(cutter)
    if "rpm" in free:
        cutter = replace(cutter, rpm=_rpm(cutter, row, chip, machine))
    if cutter.chip > 0.0:
        cutter = replace(cutter, feed=feed_of(cutter, chip, machine))
    elif "feed" in free:
        cutter = replace(cutter, feed=_floor(feed_of(cutter, chip, machine), 10.0))
    if "plunge" in free:
        cutter = replace(cutter, plunge=_floor(cutter.feed * row.plunge.at(_MIDDLE), 10.0))
    return cutter


def _stepdown(cutter: Cutter, share: float) -> float:
    return min(_floor(share * working(cutter), 0.1), cutter.flute_length)


def _rpm(cutter: Cutter, row: Material, chip: float, machine: Machine) -> float:
    """The speed in the band that suits the feed if one is stated, else the middle of the band;
    never one at which the rim is too fast or the feed over the machine's, if the spindle can."""
    band, size = row.speed(working(cutter)), working(cutter)
    wanted = band.at(_MIDDLE)
    if "feed" not in cutter.proposed and cutter.chip == 0.0:
        wanted = cutter.feed / (cutter.flutes * chip)
    wanted = min(max(wanted, band.low), band.high, 1000.0 * row.surface.high / (math.pi * size))
    wanted = min(wanted, machine.feed_max / (cutter.flutes * chip))
    return settable(wanted, machine)


def settable(rpm: float, machine: Machine) -> float:
    """The fastest speed up to `rpm` that the spindle or its dial has, else its slowest."""
    low, high = machine.spindle
    if machine.dial:
        return max((step for step in machine.dial if step <= rpm), default=machine.dial[0])
    return min(max(_floor(rpm, 100.0), low, 1.0), high)


def _drill(cutter: Cutter, machine: Machine) -> Cutter:
    """A drill in a router: the slowest that the spindle turns, and as much down as just cuts
    (common practice, no source; the speeds of drill presses lie far below)."""
    free = cutter.proposed
    if "rpm" in free:
        cutter = replace(cutter, rpm=settable(0.0, machine))
    chip = cutter.chip or min(LEAST_CHIP, DRILL_CHIP * cutter.diameter)
    feed = _floor(feed_of(cutter, chip, machine), 10.0)
    if cutter.chip > 0.0 or "feed" in free:
        cutter = replace(cutter, feed=feed)
    return replace(cutter, plunge=min(feed, cutter.feed)) if "plunge" in free else cutter


def _floor(value: float, step: float) -> float:
    """Down to a round figure; one below the first step stays as it is."""
    return max(1, math.floor(value / step + TOLERANCES.rounding)) * step if value >= step else value
