"""Rehearsals: the box of a program's cuts driven round, and the whole program in the air.

Both run with the spindle off and are read back and judged like any program.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from toolpath.app.emit import Emitted, lifted
from toolpath.app.publish import Scratch
from toolpath.check.replay import judge_rehearsal
from toolpath.check.report import Bounds
from toolpath.errors import InternalError
from toolpath.job.model import Job
from toolpath.motion.moves import Kind, Move, Point
from toolpath.rs274.read import read_program_file
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.show.words import AIR, BOX, rehearsal_name

AIR_ABOVE = 5.0
"""How far above the face the deepest cut passes in the air, mm (common practice, no source)."""


def rehearse(job: Job, emitted: Emitted, bounds: Bounds | None, made: Scratch) -> None:
    """Write the box pass and the air pass of a program that keeps clear of all pieces and clamps
    into the scratch folder; `bounds` are those of its feed moves, program frame.

    Raises InternalError where one of them is not clear, which the program itself being clear
    rules out.
    """
    if bounds is None:
        return
    low, high = bounds
    passes = {
        BOX: _box(emitted.spec, low, high, emitted.plan.cutter.feed),
        AIR: lifted(emitted.spec, max(0.0, -low[2]) + AIR_ABOVE),
    }
    for kind, spec in passes.items():
        titled = replace(spec, title=(f"{kind} pass of code {emitted.code}", *spec.title))
        name = rehearsal_name(emitted.path.name, kind)
        path = made.write(f"rehearsal/{name}", write_program(titled).text)
        program = read_program_file(path, unit=job.unit, wait_in_ms=job.machine.wait_in_ms)
        side, cutter = emitted.plan.face, emitted.plan.cutter
        if judge_rehearsal(job, side=side, cutter=cutter, program=program):
            raise InternalError(f"{name} is not clear although its program is")


def _box(spec: ProgramText, low: Point, high: Point, feed: float) -> ProgramText:
    """Once round the box of all feed moves, at the height where rapids cross."""
    z = spec.safe_height
    corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    around = [(x, y, z) for x, y in (*corners, corners[0])]
    moves = tuple(
        Move(kind=Kind.LINE, start=start, end=end, feed=feed)
        for start, end in pairwise(around)
        if start != end
    )
    return replace(spec, rpm=None, sections=(Section(comment="Box of the cuts", moves=moves),))
