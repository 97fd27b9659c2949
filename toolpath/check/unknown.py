"""Moves from or to places that are not known yet: what of them can be judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from toolpath.check.report import Code, Finding
from toolpath.errors import ProgramError
from toolpath.motion.moves import Kind, MoveTable

FloatArray = NDArray[np.float64]


def judged_moves(table: MoveTable) -> MoveTable:
    """The moves whose end is known, those with an unknown start standing at their end.

    A feed move to a place that is not wholly known counts for nothing where it is known
    to end above the face. Raises ProgramError where it is, or for an arc whose start is not known:
    nothing can be said about where it cuts.
    """
    known_end = _all_known(table.end)
    known_start = _all_known(table.start)
    feed = table.kind != Kind.RAPID
    cutting = feed & ~known_end & ~(table.end[:, 2] >= 0.0)
    bad = np.flatnonzero(cutting | ((table.kind == Kind.ARC) & ~known_start))
    if bad.size:
        row = int(bad[0])
        axes = "".join("XYZ"[i] for i in range(3) if not np.isfinite(table.end[row, i])) or "XY"
        raise ProgramError(
            f"a feed move before {axes} is known: give a position on every axis first",
            line=int(table.line[row]),
        )
    if not known_end.all():
        rows = _rows(known_end)
        table, known_start = table.take(rows), known_start[rows]
    if known_start.all():
        return table
    if known_start[1:].all() and _stands_above(table):
        return table.take(slice(1, None))
    return replace(table, start=np.where(known_start[:, None], table.start, table.end))


def _stands_above(table: MoveTable) -> bool:
    """Whether the first move is a rapid that ends above the face, with another after it: that one
    begins where it ends, and there above the face the kind of a move makes no difference. All but
    the odd program begin so, and the starts of a million moves need no copy then."""
    return len(table) > 1 and table.kind[0] == Kind.RAPID and table.end[0, 2] > 0.0


def _rows(known: NDArray[np.bool_]) -> NDArray[np.bool_] | slice:
    """The rows that are known; mostly all from one on, which then need no copy."""
    first = int(known.argmax())
    return slice(first, None) if known[first:].all() else known


def unknown_notes(table: MoveTable) -> list[Finding]:
    """What was not judged because a place was not known.

    A program that begins with rapids above the face says nothing new: every machine starts
    somewhere, and that is passed over.
    """
    unknown = np.flatnonzero(~(_all_known(table.start) & _all_known(table.end)))
    usual = (table.kind[unknown] == Kind.RAPID) & (table.end[unknown, 2] > 0.0)
    if usual.all():
        return []
    nowhere = int((~_all_known(table.end)).sum())
    return [
        note(
            "where the machine starts is not known: each axis is judged from its first word on; "
            f"{nowhere} moves that end at a place not wholly known were not judged",
            int(table.line[unknown[0]]),
        )
    ]


def _all_known(places: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(np.isfinite(places).all(axis=1), dtype=np.bool_)


def note(message: str, line: int = 0, code: Code = Code.NOTE) -> Finding:
    """A finding that changes nothing."""
    return Finding(code=code, message=message, line=line, refuses=False)
