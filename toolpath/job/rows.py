"""Rows and grids: `count` and `step`, as pieces repeat and holes stand."""

from __future__ import annotations

from dataclasses import replace

from toolpath.job.limits import MAX_ENTRIES, PLACE
from toolpath.job.table import Table

_MOST = (1, MAX_ENTRIES)


def read_steps(table: Table, what: str) -> list[tuple[float, float]]:
    """How far each of the things lies from the first, mm, row by row; empty after a fault.

    ``count = n`` is a row along the step; ``count = [across, up]`` a grid, dx apart along x and dy
    along y. `what` is what the messages call them.
    """
    dx, dy = table.lengths("step", "[dx, dy]", PLACE)
    if not isinstance(table.values.get("count"), list):
        count = table.whole("count", _MOST)
        if count > 1 and dx == dy == 0.0:
            table.fault("step", f"is [0, 0]: the {what} would lie in one place")
            return []
        return [(place * dx, place * dy) for place in range(count)]
    across, up = _counts(table)
    still = [
        key
        for key, many, step in (("step[1]", across, dx), ("step[2]", up, dy))
        if many > 1 and step == 0.0
    ]
    for key in still:
        table.fault(key, f"is 0: the {what} would lie in one place")
    if still:
        return []
    if across * up > MAX_ENTRIES:
        table.fault("count", f"makes {across * up} {what}; at most {MAX_ENTRIES} are read")
        return []
    return [(column * dx, row * dy) for row in range(up) for column in range(across)]


def _counts(table: Table) -> tuple[int, int]:
    """The two numbers of a count = [across, up], each judged as a number of its own."""
    raw = table.values["count"]
    if len(raw) != 2:
        table.fault("count", f"holds {len(raw)} numbers: give [across, up], or one for a row")
        return 1, 1
    each = replace(table, values={f"count[{place}]": raw[place - 1] for place in (1, 2)})
    return each.whole("count[1]", _MOST), each.whole("count[2]", _MOST)
