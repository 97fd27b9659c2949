"""Cuts of a job file, each checked against the blank and its cutters as it is read."""

from __future__ import annotations

import math
from typing import TypedDict

import shapely

from toolpath.job.cross import (
    Opening,
    Parts,
    check_inside,
    check_islands,
    check_length,
    check_room,
    overhang,
)
from toolpath.job.effort import check_cusp, check_levels, check_path
from toolpath.job.holes import read_holes
from toolpath.job.keys import CUTS, CUTS_LATER, TABS
from toolpath.job.ledges import read_ledge
from toolpath.job.limits import CUSP, ENGAGE, GAP, MINUTES, SIZE, SPRING_PASSES, TABS_COUNT, TURN
from toolpath.job.model import (
    Corners,
    Cut,
    Cutter,
    Drill,
    FinishBy,
    IfBlocked,
    Pocket,
    Profile,
    ProfileSide,
    Relief,
    Shape,
    Side,
    Tabs,
)
from toolpath.job.reliefs import Map, read_map
from toolpath.job.shapes import Drawn, drawn_polygon, read_shape, read_shapes
from toolpath.job.skims import read_skim, skim_depth
from toolpath.job.table import Table
from toolpath.job.tools import fits, read_cutters
from toolpath.job.words import quoted, value_text
from toolpath.tolerances import TOLERANCES

_SEVERAL = ("pocket", "relief")
"""Cuts that take several cutters."""
_MAY_RISE = (*_SEVERAL, "face")
"""Cuts that may rise over what is in the way."""


class Common(TypedDict):
    """What every cut has."""

    name: str
    face: Side
    cutter: Cutter
    smaller: tuple[Cutter, ...]
    depth: float
    through: bool
    below: float
    through_hard: bool
    if_blocked: IfBlocked
    clear_chips: float


def read_cut(table: Table, parts: Parts) -> Cut | None:
    """One ``[[cut]]``; None where a part is faulty."""
    do = table.word("do", list(CUTS), None, CUTS_LATER)
    if not do:
        if table.values.get("do") not in CUTS_LATER:
            _common(table, parts, "pocket")
        return None
    table.allow(CUTS[do])
    if do == "relief":
        return _relief(table, parts)
    common = _common(table, parts, do)
    reader = {"pocket": _pocket, "profile": _profile, "drill": _drill, "face": read_skim}[do]
    return reader(table, parts, common)


def _common(table: Table, parts: Parts, do: str, deepest: float | None = None) -> Common | None:
    """What all cuts have; None where the cutters are not to be had. `deepest` is the depth of a
    relief, which need not say it."""
    name = table.text("name", "a name")
    face = table.choice("face", Side)
    depth, through = _depth(table, parts, do) if deepest is None else (deepest, False)
    below = 0.0 if do == "face" else _below(table, depth)
    cutters = read_cutters(table, parts.cutters, several=do in _SEVERAL)
    blocked = _if_blocked(table, do)
    through_hard = table.flag("through_hard", False)
    minutes = table.number("clear_chips", MINUTES, "minutes", 0.0)
    if cutters is None or not check_levels(table, cutters, depth - below):
        return None
    return Common(
        name=name,
        face=face or Side.FRONT,
        cutter=cutters[0],
        smaller=cutters[1:],
        depth=depth,
        through=through,
        below=below,
        through_hard=bool(through_hard),
        if_blocked=blocked,
        clear_chips=60.0 * minutes,
    )


def _depth(table: Table, parts: Parts, do: str) -> tuple[float, bool]:
    """The depth of a cut, and whether it goes right through."""
    blank = parts.blank
    if do == "face":
        return skim_depth(table, blank), False
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


def _below(table: Table, depth: float) -> float:
    """The depth at which the material of a cut begins."""
    below, show = table.length("below", GAP, 0.0), table.reading.show
    if below >= depth - TOLERANCES.equal:
        table.fault(
            "below",
            f"{show(below)} must be less than the depth of the cut ({show(depth)}): "
            "nothing would be left to cut",
        )
        return math.nan
    return below


def _if_blocked(table: Table, do: str) -> IfBlocked:
    """``"stop"`` is all that a profile or drill may ever say."""
    default = IfBlocked.STOP
    raw = table.values.get("if_blocked", default.value)
    if do in _MAY_RISE:
        return table.choice("if_blocked", IfBlocked, default) or default
    if raw in (IfBlocked.RISE.value, IfBlocked.PILLAR.value):
        table.fault("if_blocked", f'{value_text(raw)} does not hold for do = "{do}": use "stop"')
    else:
        table.word("if_blocked", (default.value,), default.value)
    return default


def _finish(table: Table, common: Common | None) -> float:
    """What is left on the walls: less than the last pass, one cutter wide, can take."""
    finish, show = table.length("finish", GAP, 0.0), table.reading.show
    if common is None:
        return finish
    last = (common["cutter"], *common["smaller"])[-1]
    if finish >= last.diameter:
        table.fault(
            "finish",
            f"{show(finish)} must be less than the diameter of {quoted(last.name)} "
            f"({show(last.diameter)}), which takes it in one pass",
        )
        return math.nan
    return finish


def _finish_floor(table: Table, common: Common | None) -> float:
    """What is left on the floor: less than one level of any of the cutters."""
    left, show = table.length("finish_floor", GAP, 0.0), table.reading.show
    if common is None:
        return left
    least = min((common["cutter"], *common["smaller"]), key=lambda cutter: cutter.stepdown)
    if left >= least.stepdown:
        table.fault(
            "finish_floor",
            f"{show(left)} must be less than the stepdown of {quoted(least.name)} "
            f"({show(least.stepdown)}), which takes it in one level",
        )
        return math.nan
    return left


def _spring_passes(table: Table, finish: float) -> int:
    """How often the last pass along the walls is walked again."""
    again = table.whole("spring_passes", SPRING_PASSES, 0)
    if again and finish == 0.0:
        table.fault(
            "spring_passes",
            "walks the last pass again, and without finish there is none: give finish too",
        )
    return again


def _pocket(table: Table, parts: Parts, common: Common | None) -> Pocket | None:
    drawn = read_shape(table, "outline")
    islands = read_shapes(table, "islands")
    if drawn is not None:
        check_inside(table, "outline", drawn, parts)
        check_islands(table, islands or (), drawn)
    depths = (common["below"], common["depth"]) if common else (math.nan, math.nan)
    ledge = read_ledge(table, drawn, depths, parts)
    finish = _finish(table, common)
    left = _finish_floor(table, common)
    again = _spring_passes(table, finish)
    corners = table.choice("inside_corners", Corners, Corners.ROUND)
    engage = table.degrees("engage", ENGAGE) if table.has("engage") else None
    if common is None:
        return None
    cutters = (common["cutter"], *common["smaller"])
    if engage is not None:
        _engaged_finish(table, finish, engage, cutters)
    good = [fits(table, cutter, (Shape.FLAT,), 'do = "pocket"') for cutter in cutters]
    if all(good):
        for cutter in cutters:
            check_length(table, cutter, common["depth"], common["depth"])
        if drawn is not None:
            check_path(table, cutters[0], drawn, common["depth"] - common["below"])
        if drawn is not None and islands is not None:
            opening = Opening(drawn=drawn, islands=islands, finish=finish)
            check_room(table, opening, cutters)
    faulty = table.has("ledge") and ledge is None
    if drawn is None or islands is None or faulty:
        return None
    standing = tuple(region for island in islands for region in island.outline)
    return Pocket(
        **common,
        outline=drawn.outline,
        islands=standing,
        ledge=ledge,
        finish=finish,
        finish_floor=left,
        spring_passes=again,
        corners=corners or Corners.ROUND,
        engage=engage,
    )


def _engaged_finish(
    table: Table, finish: float, engage: float, cutters: tuple[Cutter, ...]
) -> None:
    """What is left on the walls must be thin enough for the bound."""
    least, show = min(cutters, key=lambda cutter: cutter.radius), table.reading.show
    most = least.radius * (1.0 - math.cos(engage))
    if finish > most:
        table.fault(
            "finish",
            f"{show(finish)} meets more of the rim of {quoted(least.name)} than engage lets it: "
            f"leave at most {show(most)}",
        )


def _profile(table: Table, parts: Parts, common: Common | None) -> Profile | None:
    drawn = read_shape(table, "outline")
    side = table.choice("side", ProfileSide)
    if drawn is not None:
        check_inside(table, "outline", drawn, parts)
    finish = _finish(table, common)
    if side is ProfileSide.CENTRE and finish > 0.0:
        table.fault("finish", 'holds for side = "outer" and "inner" only: leave it out')
    again = _spring_passes(table, finish)
    tabs = _tabs(table, parts, common)
    if common is None:
        return None
    cutter = common["cutter"]
    good = (Shape.FLAT, Shape.BALL, Shape.BULL, Shape.VEE)
    if fits(table, cutter, good, 'do = "profile"'):
        check_length(table, cutter, common["depth"], common["depth"])
        if drawn is not None and side is ProfileSide.INNER and cutter.shape is not Shape.VEE:
            check_room(table, Opening(drawn=drawn, finish=finish), (cutter,))
    if drawn is None or side is None:
        return None
    return Profile(
        **common,
        outline=drawn.outline,
        side=side,
        tabs=tabs,
        finish=finish,
        spring_passes=again,
    )


def _tabs(table: Table, parts: Parts, common: Common | None) -> Tabs | None:
    """The tabs of a profile, lower than what it cuts of the thinnest blank."""
    found = read_tabs(table)
    if found is None or common is None:
        return found
    deep, show = common["depth"], table.reading.show
    if common["through"]:
        deep = parts.blank.thinnest
    if found.height >= deep - common["below"] - TOLERANCES.equal:
        table.fault(
            "tabs: height",
            f"{show(found.height)} must be less than the {show(deep - common['below'])} that "
            "this cut takes: make the tabs lower",
        )
    return found


def read_tabs(table: Table) -> Tabs | None:
    """``tabs = { count, width, height }``; None where the table has none."""
    tabs = table.table("tabs", optional=True)
    if tabs.void:
        return None
    tabs.allow(TABS)
    return Tabs(
        count=tabs.whole("count", TABS_COUNT),
        width=tabs.length("width", SIZE),
        height=tabs.length("height", SIZE),
    )


def _drill(table: Table, parts: Parts, common: Common | None) -> Drill | None:
    if table.length("finish", GAP, 0.0) > 0.0:
        table.fault("finish", 'does not hold for do = "drill", which leaves nothing: leave it out')
    cutter = common["cutter"] if common else None
    depth = common["depth"] if common else math.nan
    holes = read_holes(table, cutter, depth, parts)
    if common is None:
        return None
    return Drill(**common, at=holes.at, peck=holes.peck, diameter=holes.diameter)


def _relief(table: Table, parts: Parts) -> Relief | None:
    thickness = parts.blank.thickness
    given = _given_depth(table, thickness) if table.has("depth") else math.nan
    found = read_map(table.table("map"), thickness, given)
    drawn = _relief_outline(table, found, parts)
    deepest = math.nan if found is None else found.deepest
    common = _common(table, parts, "relief", deepest)
    finish, cusp = _finish(table, common), table.length("cusp", CUSP, 0.02)
    by = table.choice("finish_by", FinishBy, FinishBy.PARALLEL)
    angle = table.degrees("angle", TURN, 0.0)
    if table.has("angle") and by is not FinishBy.PARALLEL:
        table.fault("angle", 'holds for finish_by = "parallel" only: leave it out')
    if common is None:
        return None
    cutters = (common["cutter"], *common["smaller"])
    good = [_cuts_reliefs(table, cutter, cusp) for cutter in cutters]
    if not all(good):
        return None
    for cutter in cutters:
        check_length(table, cutter, deepest, deepest)
    if drawn is None or found is None or by is None:
        return None
    check_path(table, cutters[0], drawn, deepest - common["below"])
    check_room(table, Opening(drawn=drawn, finish=finish), cutters)
    cut = Relief(
        **common,
        outline=drawn.outline,
        ground=found.ground,
        finish=finish,
        finish_by=by,
        angle=angle,
        cusp=cusp,
    )
    check_cusp(table, cut, float(shapely.area(drawn.inner)))
    return cut


def _cuts_reliefs(table: Table, cutter: Cutter, cusp: float) -> bool:
    """Whether a cutter has a form that makes free floors, and one wider than the ridges."""
    good = (Shape.FLAT, Shape.BALL, Shape.BULL, Shape.VEE)
    if not fits(table, cutter, good, 'do = "relief"'):
        return False
    if cusp >= cutter.radius / 2.0:
        show = table.reading.show
        table.fault(
            "cusp",
            f"{show(cusp)} must be less than a quarter of the diameter of {quoted(cutter.name)} "
            f"({show(cutter.diameter)})",
        )
        return False
    return True


def _relief_outline(table: Table, found: Map | None, parts: Parts) -> Drawn | None:
    """The outline of a relief, within its map and the blank: the rectangle of the map, if none is
    given."""
    if found is None:
        return None
    whole = drawn_polygon(found.ground.corners())
    if not table.has("outline"):
        check_inside(table, "map", whole, parts)
        return whole
    drawn = read_shape(table, "outline")
    if drawn is None:
        return None
    check_inside(table, "outline", drawn, parts)
    past = overhang(drawn.inner, whole.outer)
    if past is None:
        return drawn
    show = table.reading.show
    table.fault(
        "outline",
        f"reaches {show(past[2])} past the edge of the map (at x = {show(past[0])}, "
        f"y = {show(past[1])}): make it smaller or the map larger",
    )
    return None
