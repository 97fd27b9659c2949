"""What the sheet says about each program: its cutter, its cuts, what to watch."""

from __future__ import annotations

import math
from dataclasses import dataclass

from toolpath.check.report import Verdict
from toolpath.job.model import HARD, Cutter, Job, Machine, Profile, Shape
from toolpath.plan.result import PlannedCut
from toolpath.show.restarts import Restarts, restarts
from toolpath.show.scene import CutView, ProgramView
from toolpath.show.seen import seen_from
from toolpath.show.watch import Watch, watch_list
from toolpath.show.words import AIR, BOX, SHAPE_WORDS, Lengths, duration, rehearsal_name

MOST_NOTES = 10
"""Notes of the check listed for a program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """A cut on the sheet."""

    number: int
    name: str
    depth: str
    time: str
    refused: bool
    closest: str
    gap: str
    needed: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramBlock:
    """A program on the sheet: its file, its cutter and its cuts."""

    file: str
    cutter: str
    facts: tuple[tuple[str, str], ...]
    """What to set and to measure of the cutter: label and value."""
    bounds: str
    time: str
    lines: int
    cuts: tuple[CutRow, ...]
    notes: tuple[str, ...]
    more_notes: int
    code: str
    """The short code of line 1, empty for none."""
    watch: tuple[Watch, ...]
    box: str
    air: str
    """Names of its rehearsals."""
    restarts: Restarts


def program_block(job: Job, program: ProgramView, lengths: Lengths) -> ProgramBlock:
    """The block of one program."""
    notes = _program_notes(program)
    return ProgramBlock(
        file=program.file,
        cutter=program.cutter.name,
        facts=tuple(_cutter_facts(program.cutter, job.machine, lengths)),
        bounds=_bounds(program, lengths),
        time=duration(program.seconds),
        lines=program.lines,
        cuts=tuple(_cut(job, view, lengths) for view in program.cuts),
        notes=notes[:MOST_NOTES],
        more_notes=max(len(notes) - MOST_NOTES, 0),
        code=program.code,
        watch=watch_list(job, program, lengths),
        box=rehearsal_name(program.file, BOX),
        air=rehearsal_name(program.file, AIR),
        restarts=restarts(job, program, lengths),
    )


def _program_notes(program: ProgramView) -> tuple[str, ...]:
    """What the check noted without refusing, each once."""
    own = [finding for view in program.cuts for finding in view.findings]
    every = [*program.report.findings, *own]
    return tuple(dict.fromkeys(f.message for f in every if not f.refuses))


def _cutter_facts(cutter: Cutter, machine: Machine, lengths: Lengths) -> list[tuple[str, str]]:
    """What to look for and to set, label and value."""
    shape = SHAPE_WORDS[cutter.shape]
    if cutter.shape in (Shape.VEE, Shape.DRILL):
        shape += f", {round(math.degrees(cutter.angle), 1):g}° point"
    if cutter.shape is Shape.BULL:
        shape += f", corner {lengths.show(cutter.corner_radius)}"
    if cutter.shape is Shape.ROUND_OVER:
        shape += f", radius {lengths.show(cutter.edge_radius)}"
    neck = cutter.neck
    thin = [] if neck is None else [("neck", lengths.show(neck.diameter))]
    return [
        ("shape", shape),
        ("diameter", lengths.show(cutter.diameter)),
        ("flutes", str(cutter.flutes)),
        ("flute length", lengths.show(cutter.flute_length)),
        *thin,
        ("shank", lengths.show(cutter.shank)),
        ("stick-out below the nut", lengths.show(cutter.reach)),
        ("speed", _speed(cutter.rpm, machine) + _guess(cutter, "rpm")),
        *_feeds(cutter, machine, lengths),
        ("plunge", lengths.feed(cutter.plunge) + _guess(cutter, "plunge")),
        *(
            (name, value + _guess(cutter, name))
            for name, value in (
                ("stepdown", lengths.show(cutter.stepdown)),
                ("stepover", f"{cutter.stepover:.0%} of the diameter"),
            )
            if name in cutter.proposed
        ),
    ]


def _feeds(cutter: Cutter, machine: Machine, lengths: Lengths) -> list[tuple[str, str]]:
    """The feed that is never exceeded; with a chip to keep, that chip, and how far it may rise."""
    if cutter.chip == 0.0:
        return [("feed, at most", lengths.feed(cutter.feed) + _guess(cutter, "feed"))]
    most = f"{lengths.feed(cutter.feed)}, in thin cuts up to {lengths.feed(machine.feed_max)}"
    return [("chip", f"{cutter.chip:.3g} mm a tooth"), ("feed", most)]


def _guess(cutter: Cutter, name: str) -> str:
    """A mark on what the job left out."""
    return " (proposed)" if name in cutter.proposed else ""


def _speed(rpm: float, machine: Machine) -> str:
    """Rev/min, and for a router with a dial the step that comes nearest."""
    if not machine.dial:
        return f"{rpm:.0f} rev/min"
    step = min(range(len(machine.dial)), key=lambda n: abs(machine.dial[n] - rpm))
    return f"dial {step + 1}, {machine.dial[step]:.0f} of {rpm:.0f} rev/min"


def _bounds(program: ProgramView, lengths: Lengths) -> str:
    """The box of the tip over all cutting moves, in the numbers of the machine."""
    if program.report.bounds is None:
        return "no cutting moves"
    low, high = program.report.bounds
    spans = [
        f"{axis} {lengths.bare(low[i])} to {lengths.bare(high[i])}" for i, axis in enumerate("XY")
    ]
    return f"{', '.join(spans)}, down to Z {lengths.short(low[2])}"


def _cut(job: Job, view: CutView, lengths: Lengths) -> CutRow:
    closest, planned = view.closest, view.planned
    needed = job.needs.get(closest.piece, 0.0) if closest else 0.0
    notes = [*_tabs(planned, lengths), *planned.notes]
    if planned.uncut_area > 0.05:
        notes.append(f"leaves {lengths.area(planned.uncut_area)} uncut at its floor")
    if planned.pauses:
        times = f"{len(planned.pauses)} time" + ("" if len(planned.pauses) == 1 else "s")
        notes.append(f"stops {times}, lifted and the spindle off, for chips to be cleared (M0)")
    notes += _pieces_cut(job, view, lengths)
    depth = lengths.show(planned.floor)
    return CutRow(
        number=view.number,
        name=planned.cut.name,
        depth=f"{depth}, right through" if planned.cut.through else depth,
        time=duration(view.seconds),
        refused=view.verdict is Verdict.REFUSED,
        closest=closest.piece if closest else "no piece near",
        gap=lengths.gap(closest.gap) if closest else "",
        needed=lengths.need(needed) if closest else "",
        notes=tuple(notes),
    )


def _tabs(planned: PlannedCut, lengths: Lengths) -> list[str]:
    """How many tabs hold what a profile cuts, and their size."""
    cut = planned.cut
    if not isinstance(cut, Profile) or cut.tabs is None:
        return []
    count, size = len(planned.tabs), cut.tabs
    return [
        f"{count} tab{'' if count == 1 else 's'}, {lengths.show(size.width)} wide and at least "
        f"{lengths.show(size.height)} high"
    ]


def _pieces_cut(job: Job, view: CutView, lengths: Lengths) -> list[str]:
    """Pieces that may be cut and are: how much, where, and a caution for hard ones."""
    hardness = {piece.name: piece.hardness for piece in job.pieces}
    seen, found = seen_from(job, view.planned.cut.face), []
    for cut in view.pieces_cut:
        x, y = seen.point((cut.low[0] + cut.high[0]) / 2, (cut.low[1] + cut.high[1]) / 2)
        words = f"cuts {cut.share:.0%} of {cut.piece} ({cut.volume:.0f} mm³) about X "
        words += f"{lengths.bare(x)}, Y {lengths.bare(y)}"
        if hardness.get(cut.piece) in HARD:
            kind = hardness[cut.piece].value.upper()
            words += (
                f". {kind}: shallow bites, face shield, expect sparks or chips; stop if it rings"
            )
        found.append(words)
    return found
