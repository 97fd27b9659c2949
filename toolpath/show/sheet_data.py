"""What the machine sheet says, in words, before it is laid out.

Every text here is plain: names from a job are untrusted and are escaped where they are laid out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

from toolpath.check.report import Code, Finding, Verdict
from toolpath.job.model import Blank, Cutter, Hardness, Job, Piece, Shape, Side, TurnOver, Zero
from toolpath.plan.levels import clear_height
from toolpath.show.pictures import section_name
from toolpath.show.pieces import depth_below, rise_seen_from
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.show.seen import seen_from
from toolpath.show.words import (
    CODE_WORDS,
    PART_WORDS,
    SHAPE_WORDS,
    SIDE_WORDS,
    ZERO_WORDS,
    Lengths,
    duration,
    left_words,
)
from toolpath.units import Unit

MOST_NOTES = 10
"""Notes of the check listed for a program."""

_TURN_TEXT = {
    TurnOver.LEFT_RIGHT: (
        "Turn the blank over left to right, as you turn a page: the edge that lay at the left now "
        "lies at the right, the far edge stays at the far side."
    ),
    TurnOver.TOP_BOTTOM: (
        "Turn the blank over top to bottom: the edge that lay at the far side now lies towards "
        "you, the left edge stays at the left."
    ),
}


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRow:
    """A piece on the sheet of a face: its place in the numbers of the machine."""

    name: str
    kind: str
    metal: bool
    x: str
    y: str
    depth: str
    drift: str
    needed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """One face up: all that belongs on its pages."""

    number: int
    side: Side
    face: str
    turn: str
    zero: str
    clamps: tuple[tuple[str, str], ...]
    """Name, and where it stands and how high, in the numbers of the machine."""
    clear_height: str
    spoilboard: str
    """How deep a cut of this set-up may run into the spoilboard; empty if none goes through."""
    programs: tuple[ProgramBlock, ...]
    pieces: tuple[PieceRow, ...]
    time: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """One reason for which a job is refused."""

    cut: str
    title: str
    message: str
    place: str
    mend: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetData:
    """The whole sheet."""

    name: str
    file: str
    unit: str
    refused: bool
    reasons: tuple[RefusedRow, ...]
    size: str
    thickness: str
    stop: str
    z_tick: str
    """What proves the touch-off."""
    within: str
    material: str
    setups: tuple[SetUp, ...]
    path_error: str
    clearance: str
    nearest: str
    pieces: int
    has_metal: bool
    warnings: tuple[tuple[str, str], ...]
    sections: tuple[tuple[str, str], ...]
    """Picture name and caption of each section that may be there."""


def sheet_data(scene: Scene) -> SheetData:
    """What the sheet of a job says."""
    job = scene.job
    lengths = Lengths(unit=job.unit)
    blank, seen = job.blank, seen_from(job, Side.FRONT)
    setups = _setups(scene, lengths)
    return SheetData(
        name=job.name,
        file=job.file.name,
        unit="millimetres (mm)" if job.unit.value == "mm" else "inches (in)",
        refused=scene.verdict is Verdict.REFUSED,
        reasons=tuple(_reasons(scene, lengths)),
        size=f"{lengths.show(seen.size[0])} × {lengths.show(seen.size[1])}",
        thickness=lengths.show(blank.thickness),
        stop=_stop(blank, lengths),
        z_tick="10 mm above the face reads Z 10"
        if job.unit is Unit.MM
        else "1/2 in above the face reads Z 0.5",
        within=lengths.show(blank.thickness_within) if blank.thickness_within else "",
        material=blank.material,
        setups=setups,
        path_error=lengths.show(job.machine.path_error),
        clearance=lengths.show(job.check.clearance),
        nearest=_nearest(scene, lengths),
        pieces=len(job.pieces),
        has_metal=any(piece.hardness is Hardness.METAL for piece in job.pieces),
        warnings=tuple((warned.where, warned.message) for warned in job.warnings),
        sections=tuple(
            (section_name(view), f"Cut {view.number}, {view.planned.cut.name}")
            for program in scene.programs
            for view in program.cuts
        ),
    )


def _stop(blank: Blank, lengths: Lengths) -> str:
    """When not to go on, by the thickness that the check took."""
    thickness = lengths.show(blank.thickness)
    if not blank.thickness_within:
        return f"is not {thickness}: the check took it as exact"
    return f"differs from {thickness} by more than {lengths.show(blank.thickness_within)}"


def _into_board(job: Job, programs: tuple[ProgramView, ...], lengths: Lengths) -> str:
    """How deep the tips of a set-up may run into the board below; empty where none comes through.

    A drill's point goes deeper than its full diameter.
    """
    thinnest = job.blank.thickness - job.blank.thickness_within
    deepest = max((view.planned.floor for each in programs for view in each.cuts), default=0.0)
    return lengths.show(deepest - thinnest) if deepest > thinnest else ""


def _nearest(scene: Scene, lengths: Lengths) -> str:
    """The nearest approach of the whole job in words; empty where there is none."""
    needed = scene.job.needs
    known = [
        (view.closest.gap - needed.get(view.closest.piece, 0.0), view.number, view.closest, view)
        for program in scene.programs
        for view in program.cuts
        if view.closest is not None
    ]
    if not known:
        return ""
    _, number, closest, view = min(known, key=lambda entry: entry[:2])
    least = lengths.need(needed.get(closest.piece, 0.0))
    return (
        f"{closest.piece}: {lengths.gap(closest.gap)} in cut {number}, "
        f"{view.planned.cut.name} ({PART_WORDS[closest.part]}); {least} needed"
    )


def _setups(scene: Scene, lengths: Lengths) -> tuple[SetUp, ...]:
    """One set-up for each unbroken run of programs on one face."""
    runs = [(side, tuple(run)) for side, run in groupby(scene.programs, key=lambda p: p.face)]
    return tuple(
        _setup(scene.job, number, side, programs, lengths)
        for number, (side, programs) in enumerate(runs, start=1)
    )


def _setup(
    job: Job, number: int, side: Side, programs: tuple[ProgramView, ...], lengths: Lengths
) -> SetUp:
    turned = side is Side.BACK
    return SetUp(
        number=number,
        side=side,
        face=SIDE_WORDS[side],
        turn=_TURN_TEXT[job.blank.turn_over] if turned else "",
        zero=_zero_words(job, side),
        clamps=tuple(_clamps(job, side, lengths)),
        clear_height=lengths.show(clear_height(job, side)),
        spoilboard=_into_board(job, programs, lengths),
        programs=tuple(_program(job, program, lengths) for program in programs),
        pieces=tuple(_piece(job, piece, side, lengths) for piece in _by_depth(job, side)),
        time=duration(sum(program.seconds for program in programs)),
    )


def _zero_words(job: Job, side: Side) -> str:
    """Where X and Y are zero."""
    zero = job.zero.get(side, Zero.LOWER_LEFT)
    if zero is Zero.CENTRE:
        place = "the middle of the blank: half its width and half its height"
    else:
        place = f"the {ZERO_WORDS[zero]} of the blank's bounding box"
    return f"{place}, as you look at this face on the machine"


def _clamps(job: Job, side: Side, lengths: Lengths) -> list[tuple[str, str]]:
    from toolpath.show.areas import clamp_area

    seen, found = seen_from(job, side), []
    for clamp in job.clamps:
        if clamp.face is side:
            left, low, right, high = (
                lengths.bare(v) for v in seen.geometry(clamp_area(clamp)).bounds
            )
            words = f"X {left} to {right}, Y {low} to {high}, {lengths.show(clamp.height)} high"
            found.append((clamp.name, words))
    return found


def _by_depth(job: Job, side: Side) -> list[Piece]:
    """Pieces, those nearest to this face first."""
    return sorted(job.pieces, key=lambda piece: depth_below(piece, job.blank, side))


def _piece(job: Job, piece: Piece, side: Side, lengths: Lengths) -> PieceRow:
    x, y = seen_from(job, side).point(*piece.at)
    rise = rise_seen_from(piece, job.blank, side)
    moved = [
        (piece.drift.side, f"{lengths.short(piece.drift.side)} side"),
        (rise, f"{lengths.short(rise)} rise"),
        (piece.drift.turn, f"{round(math.degrees(piece.drift.turn), 1):g}° turn"),
    ]
    return PieceRow(
        name=piece.name,
        kind=piece.hardness.value,
        metal=piece.hardness is Hardness.METAL,
        x=lengths.bare(x),
        y=lengths.bare(y),
        depth=lengths.show(depth_below(piece, job.blank, side)),
        drift=", ".join(words for amount, words in moved if amount > 0.0) or "none stated",
        needed=lengths.need(job.need(piece)),
    )


def _program(job: Job, program: ProgramView, lengths: Lengths) -> ProgramBlock:
    notes = _program_notes(program)
    return ProgramBlock(
        file=program.file,
        cutter=program.cutter.name,
        facts=tuple(_cutter_facts(program.cutter, lengths)),
        bounds=_bounds(program, lengths),
        time=duration(program.seconds),
        lines=program.lines,
        cuts=tuple(_cut(job, view, lengths) for view in program.cuts),
        notes=notes[:MOST_NOTES],
        more_notes=max(len(notes) - MOST_NOTES, 0),
    )


def _program_notes(program: ProgramView) -> tuple[str, ...]:
    """What the check noted without refusing, each once."""
    own = [finding for view in program.cuts for finding in view.findings]
    every = [*program.report.findings, *own]
    return tuple(dict.fromkeys(f.message for f in every if not f.refuses))


def _cutter_facts(cutter: Cutter, lengths: Lengths) -> list[tuple[str, str]]:
    """What to look for and to set, label and value."""
    shape = SHAPE_WORDS[cutter.shape]
    if cutter.shape in (Shape.VEE, Shape.DRILL):
        shape += f", {round(math.degrees(cutter.angle), 1):g}° point"
    if cutter.shape is Shape.BULL:
        shape += f", corner {lengths.show(cutter.corner_radius)}"
    return [
        ("shape", shape),
        ("diameter", lengths.show(cutter.diameter)),
        ("flutes", str(cutter.flutes)),
        ("flute length", lengths.show(cutter.flute_length)),
        ("shank", lengths.show(cutter.shank)),
        ("stick-out below the nut", lengths.show(cutter.reach)),
        ("speed", f"{cutter.rpm:.0f} rev/min"),
        ("feed, at most", lengths.feed(cutter.feed)),
        ("plunge", lengths.feed(cutter.plunge)),
    ]


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
    notes = list(planned.notes)
    if planned.uncut_area > 0.05:
        notes.append(f"leaves {lengths.area(planned.uncut_area)} uncut at its floor")
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


def _reasons(scene: Scene, lengths: Lengths) -> list[RefusedRow]:
    """Everything that refuses the job, in cutting order, worst first within a cut."""
    rows: list[RefusedRow] = []
    for program in scene.programs:
        told: list[Finding] = []
        for view in program.cuts:
            name = f"Cut {view.number}, {view.planned.cut.name}"
            if view.refusal:
                rows.append(_no_way_in(name, view.refusal))
            told += view.findings
            rows += [_reason(name, f, lengths) for f in _refusing(view.findings)]
        rest = [f for f in program.report.findings if f not in told]
        rows += [_reason(f"Program {program.file}", f, lengths) for f in _refusing(tuple(rest))]
    return rows


def _refusing(findings: tuple[Finding, ...]) -> list[Finding]:
    order = list(Code)
    found = [f for f in findings if f.refuses and f.code is not Code.NOTE]
    return sorted(found, key=lambda f: order.index(f.code))


def _no_way_in(name: str, why: str) -> RefusedRow:
    return RefusedRow(cut=name, title="could not be planned", message=why, place="", mend="")


def _reason(name: str, finding: Finding, lengths: Lengths) -> RefusedRow:
    words = []
    if finding.piece is not None:
        words.append(finding.piece)
    if finding.gap is not None:
        words.append(left_words(finding.gap, lengths))
    if finding.needed is not None:
        words.append(f"{lengths.need(finding.needed)} needed")
    place = ""
    if finding.at_program is not None:
        x, y, z = (lengths.bare(v) for v in finding.at_program)
        place = f"tip at X {x}, Y {y}, Z {z} on the machine"
        if finding.line:
            place += f", line {finding.line} of the program"
    mend = finding.mend
    if not mend and finding.clear_depth is not None:
        mend = f"here the gap is kept down to a depth of {lengths.show(finding.clear_depth)}"
    title = f"{CODE_WORDS[finding.code]}: {', '.join(words)}" if words else CODE_WORDS[finding.code]
    return RefusedRow(cut=name, title=title, message=finding.message, place=place, mend=mend)
