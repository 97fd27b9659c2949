"""Cuts of a job file, each checked against the blank and its cutter as it is read."""

from __future__ import annotations

import math
from typing import TypedDict

from toolpath.job.cross import (
    Parts,
    check_inside,
    check_islands,
    check_length,
    check_points,
    check_room,
    warn_drill_speed,
)
from toolpath.job.keys import CUTS, CUTS_LATER
from toolpath.job.limits import PLACE, SIZE
from toolpath.job.model import Cut, Cutter, Drill, Pocket, Profile, ProfileSide, Shape, Side
from toolpath.job.shapes import read_shape, read_shapes
from toolpath.job.table import Table
from toolpath.job.words import quoted, suggestion, value_text
from toolpath.tolerances import TOLERANCES


class _Common(TypedDict):
    """What every cut has."""

    name: str
    face: Side
    cutter: Cutter
    depth: float
    through: bool


def read_cut(table: Table, parts: Parts) -> Cut | None:
    """One ``[[cut]]``; None where a part is faulty."""
    do = table.word("do", list(CUTS), None, CUTS_LATER)
    if not do:
        if table.values.get("do") not in CUTS_LATER:
            _common(table, parts)
        return None
    table.allow(CUTS[do])
    common = _common(table, parts)
    _if_blocked(table, do)
    reader = {"pocket": _pocket, "profile": _profile, "drill": _drill}[do]
    return reader(table, parts, common)


def _common(table: Table, parts: Parts) -> _Common | None:
    """Name, face, depth and cutter; None where the cutter is not to be had."""
    name = table.text("name", "a name")
    face = table.choice("face", Side)
    depth, through = _depth(table, parts)
    cutter = _cutter(table, parts)
    if cutter is None:
        return None
    return _Common(name=name, face=face or Side.FRONT, cutter=cutter, depth=depth, through=through)


def _depth(table: Table, parts: Parts) -> tuple[float, bool]:
    """The depth of a cut, and whether it goes right through."""
    blank = parts.blank
    through = table.flag("through", False)
    given = table.has("depth")
    if through and given:
        table.fault("depth", "given together with through = true: leave one of them out")
        return math.nan, True
    if through:
        return blank.thickness + blank.thickness_within + parts.machine.spoilboard, True
    if given:
        return _given_depth(table, blank.thickness), False
    if through is False and not table.void:
        table.fault("depth", "missing: give the depth below the face, or through = true")
    return math.nan, False


def _given_depth(table: Table, thickness: float) -> float:
    depth = table.length("depth", SIZE)
    if not depth > thickness + TOLERANCES.equal:
        return depth
    show = table.reading.show
    table.fault(
        "depth",
        f"{show(depth)} is deeper than the blank ({show(thickness)}): "
        "for a cut right through give through = true instead",
    )
    return math.nan


def _cutter(table: Table, parts: Parts) -> Cutter | None:
    raw = table.values.get("cutter")
    if isinstance(raw, list):
        table.fault("cutter", "not yet: a list of cutters comes with a later version; name one")
        return None
    name = table.text("cutter", "the name of a cutter")
    if not name:
        return None
    if name not in parts.cutters:
        hint = suggestion(name, parts.cutters) if parts.cutters else "there is no [[cutter]]"
        table.fault("cutter", f"no cutter is named {quoted(name)}: {hint}")
    return parts.cutters.get(name)


def _if_blocked(table: Table, do: str) -> None:
    """``"stop"`` is all that there is so far, and all that a profile or drill may ever say."""
    if do == "pocket":
        table.word("if_blocked", ("stop",), "stop", ("rise", "pillar"))
        return
    raw = table.values.get("if_blocked", "stop")
    if raw in ("rise", "pillar"):
        table.fault("if_blocked", f'{value_text(raw)} does not hold for do = "{do}": use "stop"')
    else:
        table.word("if_blocked", ("stop",), "stop")


def _fits(table: Table, cutter: Cutter, good: tuple[Shape, ...], do: str) -> bool:
    """Whether a cutter of that shape can make the cut, with a fault where it cannot."""
    if cutter.shape in good:
        return True
    name, shape = quoted(cutter.name), cutter.shape.value
    if cutter.shape is Shape.DRILL:
        table.fault("cutter", f"{name} is a drill, which cannot cut sideways: take a flat one")
        return False
    words = " or ".join(shape.value for shape in good)
    table.fault(
        "cutter",
        f'not yet: do = "{do}" with a {shape} cutter ({name}) comes with a later version; '
        f"use one of shape {words}",
    )
    return False


def _pocket(table: Table, parts: Parts, common: _Common | None) -> Pocket | None:
    drawn = read_shape(table, "outline")
    islands = read_shapes(table, "islands")
    if drawn is not None:
        check_inside(table, "outline", drawn, parts)
        check_islands(table, islands or (), drawn)
    if common is None:
        return None
    cutter = common["cutter"]
    if _fits(table, cutter, (Shape.FLAT,), "pocket"):
        check_length(table, cutter, common["depth"], common["depth"])
        if drawn is not None and islands is not None:
            check_room(table, drawn, islands, cutter)
    if drawn is None or islands is None:
        return None
    standing = tuple(region for island in islands for region in island.outline)
    return Pocket(**common, outline=drawn.outline, islands=standing)


def _profile(table: Table, parts: Parts, common: _Common | None) -> Profile | None:
    drawn = read_shape(table, "outline")
    side = table.choice("side", ProfileSide)
    if drawn is not None:
        check_inside(table, "outline", drawn, parts)
    if common is None:
        return None
    cutter = common["cutter"]
    good = (Shape.FLAT, Shape.BALL, Shape.BULL, Shape.VEE)
    if _fits(table, cutter, good, "profile"):
        check_length(table, cutter, common["depth"], common["depth"])
        if drawn is not None and side is ProfileSide.INNER and cutter.shape is not Shape.VEE:
            check_room(table, drawn, (), cutter)
    if drawn is None or side is None:
        return None
    return Profile(**common, outline=drawn.outline, side=side)


def _drill(table: Table, parts: Parts, common: _Common | None) -> Drill | None:
    points = _points(table)
    check_points(table, points, parts)
    if common is None:
        table.length("peck", SIZE, 1.0)
        return None
    cutter = common["cutter"]
    peck = table.length("peck", SIZE, cutter.diameter)
    _bore(table, cutter)
    if _fits(table, cutter, (Shape.DRILL, Shape.FLAT), "drill"):
        depth = common["depth"]
        tip = depth + (cutter.point_length if cutter.shape is Shape.DRILL else 0.0)
        check_length(table, cutter, depth, tip)
        warn_drill_speed(table, cutter)
    return Drill(**common, at=points, peck=peck, diameter=cutter.diameter)


def _bore(table: Table, cutter: Cutter) -> None:
    """The diameter of the holes, which a drill cut may state."""
    if not table.has("diameter"):
        return
    diameter, show = table.length("diameter", SIZE), table.reading.show
    if diameter > cutter.diameter + TOLERANCES.equal:
        table.fault(
            "diameter",
            f"not yet: holes of {show(diameter)} with a cutter of {show(cutter.diameter)} come "
            "with a later version; take a cutter of that diameter, or a pocket",
        )
    elif diameter < cutter.diameter - TOLERANCES.equal:
        table.fault(
            "diameter",
            f"{show(diameter)} is narrower than the cutter {quoted(cutter.name)} "
            f"({show(cutter.diameter)}): take a thinner cutter",
        )


def _points(table: Table) -> tuple[tuple[float, float], ...]:
    if isinstance(table.values.get("at"), dict):
        table.fault("at", "not yet: patterns of holes come with a later version; list the points")
        return ()
    raw = table.array("at", "the holes, [[x, y], …]")
    if not raw and table.values.get("at") == []:
        table.fault("at", "has no holes: give at least one [x, y]")
    pairs = (
        table.as_lengths(f"at[{place}]", entry, "[x, y]", PLACE)
        for place, entry in enumerate(raw, start=1)
    )
    return tuple((x, y) for x, y in pairs)
