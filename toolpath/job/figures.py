"""A cutter's speed, feeds and steps held against what is known of a material: what was proposed is
said, and what lies outside its band is warned of with figure, limit and mend. Nothing is changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from toolpath.job.materials import Band, Material, material_of, materials
from toolpath.job.model import Cut, Cutter, Machine, Plate, Shape, Warned
from toolpath.job.proposals import (
    STICK_OUT,
    chip_of,
    depth_share,
    least_chip,
    slenderness,
    surface_speed,
    working,
)
from toolpath.job.table import Table
from toolpath.job.words import number_text, quoted, suggestion

_SLACK = 0.02
"""What may lie outside a band without a word, as a share: figures are rounded."""


def read_material(table: Table, words: str) -> Material | None:
    """The row that the words under ``material`` mean; a note where there is none."""
    row = material_of(words) if words else None
    if words and row is None:
        hint = suggestion(words, [row.name for row in materials()])
        table.warn(
            "material",
            f"{quoted(words)} is not in the table of materials ({hint}): speeds and feeds are "
            "neither proposed nor judged",
            note=True,
        )
    return row


Use = tuple[Cutter, Material | None]
"""A cutter and what it is to cut."""


def uses_of(cuts: Iterable[Cut], plates: Iterable[Plate], words: str) -> list[Use]:
    """Each cutter with each material that it cuts: that of the blank, named by `words`, and those
    of the sheets."""
    plates, material = list(plates), material_of(words)
    screws = [plate.screws for plate in plates if plate.screws is not None]
    found: list[Use] = [(cutter, material) for cut in cuts for cutter in cut.cutters]
    found += [(each.pilot, material) for each in screws]
    for plate in plates:
        row = material_of(plate.sheet.material)
        hole = None if plate.screws is None else plate.screws.hole
        found += [(cutter, row) for cutter in (plate.cutter, hole) if cutter is not None]
    return found


def tell_uses(tables: Mapping[str, Table], uses: Iterable[Use], machine: Machine) -> None:
    """What was proposed and what does not suit, once for each cutter and material."""
    told = set()
    for cutter, row in uses:
        if row is not None and (cutter.name, row.name) not in told:
            told.add((cutter.name, row.name))
            tell_figures(tables[cutter.name], cutter, row, machine)


def _warn(table: Table, key: str, message: str) -> None:
    """A warning, unless it stands there already: some do not depend on the material."""
    warned = Warned(where=table.path(key), message=message)
    if warned not in table.reading.warnings:
        table.warn(key, message)


def tell_figures(table: Table, cutter: Cutter, row: Material, machine: Machine) -> None:
    """Say what was proposed for a cutter in a material, and warn of what does not suit it."""
    if any(map(math.isnan, _figures(cutter))):
        return
    if cutter.proposed:
        table.warn("", _proposed_text(table, cutter, row), note=True)
    if cutter.shape is Shape.DRILL:
        return
    _tell_chip(table, cutter, row, machine)
    _tell_surface(table, cutter, row, machine)
    _tell_depth(table, cutter, row)
    _tell_stick_out(table, cutter)
    _tell_ways_in(table, cutter, row)


def _figures(cutter: Cutter) -> tuple[float, ...]:
    measures = (cutter.diameter, cutter.shank, cutter.reach, cutter.flute_length)
    return (*measures, cutter.rpm, cutter.feed, cutter.plunge, cutter.stepdown, cutter.stepover)


def _proposed_text(table: Table, cutter: Cutter, row: Material) -> str:
    reading = table.reading
    shown = {
        "rpm": f"rpm {number_text(cutter.rpm, 0)}",
        "feed": f"feed {reading.show_feed(cutter.feed)} ({_chip_text(chip_of(cutter))})",
        "plunge": f"plunge {reading.show_feed(cutter.plunge)}",
        "stepdown": f"stepdown {reading.show(cutter.stepdown)}",
        "stepover": f"stepover {number_text(cutter.stepover, 2)}",
    }
    figures = ", ".join(text for name, text in shown.items() if name in cutter.proposed)
    return f"proposed: {figures}, for {row.name}: a place to start from, state your own once tried"


def _tell_chip(table: Table, cutter: Cutter, row: Material, machine: Machine) -> None:
    """A chip so thin that it rubs, or outside its band."""
    chip, band, size = chip_of(cutter), row.chip(working(cutter)), table.reading.show
    key = "chip" if cutter.chip > 0.0 else "feed"
    band = Band(low=band.low, high=band.high * depth_share(cutter))
    if cutter.chip > 0.0 and chip < cutter.chip * (1.0 - _SLACK):
        _warn(
            table,
            key,
            f"{_chip_text(cutter.chip)} needs more than the machine's feed_max at "
            f"{_turns(cutter.rpm)}: it gets {_chip_text(chip)}: turn at "
            f"{_turns(machine.feed_max / (cutter.flutes * cutter.chip))}, not thinner",
        )
    least, head = least_chip(working(cutter)), _chip_head(table, cutter, chip)
    if chip < min(least, band.low) * (1.0 - _SLACK):
        least = min(least, band.low)
        mend = _thicker(table, cutter, least, machine)
        _warn(
            table, key, f"{head}: under {_chip_text(least)} most cutters rub and do not cut: {mend}"
        )
    elif chip < band.low * (1.0 - _SLACK):
        mend = _thicker(table, cutter, band.low, machine)
        _warn(table, key, f"{head}, little for {_band_text(row, band)}: it {row.heat}: {mend}")
    elif chip > band.high * (1.0 + _SLACK):
        deep = "" if depth_share(cutter) == 1.0 else f" at a stepdown of {size(cutter.stepdown)}"
        most = table.reading.show_feed(cutter.rpm * cutter.flutes * band.high)
        _warn(
            table,
            key,
            f"{head}, much for {_band_text(row, band)}{deep}: it may chip, or break the cutter: "
            f"feed at most {most}",
        )


def _chip_head(table: Table, cutter: Cutter, chip: float) -> str:
    flutes = "1 flute" if cutter.flutes == 1 else f"{cutter.flutes} flutes"
    feed = table.reading.show_feed(cutter.feed)
    return f"{feed} with {flutes} at {_turns(cutter.rpm)} is {_chip_text(chip)}"


def _band_text(row: Material, band: Band) -> str:
    return f"{row.name} ({number_text(band.low)} to {number_text(band.high)} mm)"


def _thicker(table: Table, cutter: Cutter, chip: float, machine: Machine) -> str:
    """How to come to a thicker chip: more feed, fewer turns, or fewer flutes."""
    feed, ways = cutter.rpm * cutter.flutes * chip, []
    if feed <= machine.feed_max:
        ways.append(f"feed at least {table.reading.show_feed(math.ceil(feed))}")
    turns = cutter.feed / (cutter.flutes * chip)
    if turns >= machine.spindle[0]:
        ways.append(f"turn at most {_turns(math.floor(turns))}")
    if cutter.flutes > 1:
        ways.append("take fewer flutes")
    return ", or ".join(ways) or "take a thinner cutter"


def _tell_surface(table: Table, cutter: Cutter, row: Material, machine: Machine) -> None:
    """A rim too fast for the material, and whether the spindle could turn slower."""
    speed, most = surface_speed(cutter), row.surface.high
    if speed <= most * (1.0 + _SLACK):
        return
    turns = 1000.0 * most / (math.pi * working(cutter))
    slowest = machine.spindle[0]
    mend = f"turn at most {_turns(math.floor(turns))}"
    if turns < slowest:
        mend = (
            f"that would need {_turns(math.floor(turns))}, and this spindle turns no slower than "
            f"{_turns(slowest)}: take a thinner cutter, or one with fewer flutes and light cuts"
        )
    _warn(
        table,
        "rpm",
        f"{_turns(cutter.rpm)} moves the rim at {speed:.0f} m/min; {row.name} takes "
        f"{row.surface.low:.0f} to {most:.0f} m/min, and faster it {row.heat}: {mend}",
    )


def _tell_depth(table: Table, cutter: Cutter, row: Material) -> None:
    show, most = table.reading.show, row.stepdown.high * working(cutter)
    if cutter.stepdown > most * (1.0 + _SLACK):
        _warn(
            table,
            "stepdown",
            f"{show(cutter.stepdown)} is deep for a slot in {row.name} with a cutter of "
            f"{show(cutter.diameter)}: at most {show(most)}",
        )


def _tell_stick_out(table: Table, cutter: Cutter) -> None:
    slender = slenderness(cutter)
    if slender > STICK_OUT * (1.0 + _SLACK):
        as_rod = "" if cutter.shank == cutter.diameter else " (its shank counted in)"
        _warn(
            table,
            "reach",
            f"{table.reading.show(cutter.reach)} is {slender:.1f} times the diameter{as_rod}; over "
            f"{STICK_OUT:.0f} a cutter bends and chatters: let it stick out less if the cut allows "
            "(half the length bends an eighth), else feed slower and take less at a time",
        )


def _tell_ways_in(table: Table, cutter: Cutter, row: Material) -> None:
    """Plunge and ramp."""
    show_feed, most = table.reading.show_feed, row.plunge.high * cutter.feed
    if cutter.plunge > most * (1.0 + _SLACK):
        _warn(
            table,
            "plunge",
            f"{show_feed(cutter.plunge)} is {cutter.plunge / cutter.feed:.0%} of the feed; "
            f"{row.name} takes up to {row.plunge.high:.0%}: at most {show_feed(most)}",
        )
    if cutter.ramp > row.ramp.high * (1.0 + _SLACK):
        _warn(
            table,
            "ramp",
            f"{math.degrees(cutter.ramp):.3g} degrees is a steep way into {row.name}: at most "
            f"{math.degrees(row.ramp.high):.3g} degrees",
        )


def _chip_text(chip: float) -> str:
    return f"{number_text(chip)} mm a tooth"


def _turns(rpm: float) -> str:
    return f"{number_text(rpm, 0)} rev/min"
