"""The cutters that a cut or a plate names, and whether they can make it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from toolpath.job.model import Cutter, Shape
from toolpath.job.table import Table
from toolpath.job.words import quoted, suggestion
from toolpath.tolerances import TOLERANCES

_LIST = 'holds for do = "pocket" and "relief" only'


def read_cutters(
    table: Table, named: Mapping[str, Cutter], *, several: bool
) -> tuple[Cutter, ...] | None:
    """The cutters under ``cutter``, one name or a list, largest first; None after a fault."""
    raw = table.values.get("cutter")
    if not isinstance(raw, list):
        one = read_named(table, "cutter", named)
        return None if one is None else (one,)
    if len(raw) != 1 and not several:
        table.fault("cutter", f"a list of cutters {_LIST}: name one cutter")
        return None
    if not raw:
        table.fault("cutter", "is an empty list: name a cutter")
    entries = {
        f"cutter[{place}]": entry
        for place, entry in enumerate(table.array("cutter", "names of cutters"), start=1)
    }
    each = replace(table, values=entries)
    found = [read_named(each, key, named) for key in entries]
    cutters = tuple(cutter for cutter in found if cutter is not None)
    if not cutters or len(cutters) < len(found):
        return None
    return cutters if _shrink(table, cutters) else None


def _shrink(table: Table, cutters: tuple[Cutter, ...]) -> bool:
    """Whether each cutter is smaller than the one before it, with a fault where one is not. One
    with a round or slanted end may be as wide as a flat one before it, which only roughs."""
    show = table.reading.show
    good = True
    for place, (larger, smaller) in enumerate(pairwise(cutters), start=2):
        formed = larger.shape is Shape.FLAT and smaller.shape is not Shape.FLAT
        least = TOLERANCES.equal if formed else -TOLERANCES.equal
        if smaller.diameter >= larger.diameter + least:
            good = False
            table.fault(
                f"cutter[{place}]",
                f"{quoted(smaller.name)} ({show(smaller.diameter)}) is not smaller than "
                f"{quoted(larger.name)} ({show(larger.diameter)}) before it: list them largest "
                "first",
            )
    return good


def read_named(table: Table, key: str, named: Mapping[str, Cutter]) -> Cutter | None:
    """The cutter whose name stands under a key; None after a fault."""
    name = table.text(key, "the name of a cutter")
    if not name:
        return None
    if name not in named:
        hint = suggestion(name, named) if named else "there is no [[cutter]]"
        table.fault(key, f"no cutter is named {quoted(name)}: {hint}")
    return named.get(name)


def fits(table: Table, cutter: Cutter, good: tuple[Shape, ...], what: str) -> bool:
    """Whether a cutter of that shape can make `what`, with a fault where it cannot."""
    if cutter.shape in good:
        return True
    name, shape = quoted(cutter.name), cutter.shape.value
    if cutter.shape is Shape.DRILL:
        table.fault("cutter", f"{name} is a drill, which cannot cut sideways: take a flat one")
        return False
    words = " or ".join(shape.value for shape in good)
    table.fault(
        "cutter",
        f"not yet: {what} with a {shape} cutter ({name}) comes with a later version; "
        f"use one of shape {words}",
    )
    return False
