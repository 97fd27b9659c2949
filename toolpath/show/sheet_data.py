"""What the machine sheet says, in words, before it is laid out.

Every text here is plain: names from a job are untrusted and are escaped where they are laid out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

from toolpath.blank.lying import thickness_up, thinnest_up
from toolpath.check.report import Verdict
from toolpath.job.model import (
    Hardness,
    Job,
    Piece,
    Rule,
    Side,
    TurnOver,
    Zero,
)
from toolpath.plan.levels import clear_height
from toolpath.show.engaged import engaged_views
from toolpath.show.hold_down import holding, over_zero, touch_off
from toolpath.show.left import LeftRow, left_more, left_rows
from toolpath.show.pictures import engaged_name, relief_name, section_name
from toolpath.show.pieces import depth_below, rise_seen_from
from toolpath.show.relief_picture import relief_views
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.show.seen import seen_from
from toolpath.show.sheet_pins import pin_words
from toolpath.show.sheet_plates import PlatePage, plate_pages
from toolpath.show.sheet_programs import ProgramBlock, program_block
from toolpath.show.sheet_refused import RefusedRow, reasons_of
from toolpath.show.sheet_touch import after_skims, free_words, touch_why, touch_z
from toolpath.show.times import time_words, times_of
from toolpath.show.words import (
    PART_WORDS,
    SIDE_WORDS,
    ZERO_WORDS,
    Lengths,
    duration,
)
from toolpath.units import Unit

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
class PieceRow:
    """A piece on the sheet of a face: its place in the numbers of the machine."""

    name: str
    kind: str
    metal: bool
    may_cut: bool
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
    touch: str
    """Where to touch off: X and Y of a place that no cut but a skim reaches; empty where there is
    none."""
    touch_free: str
    """That it stays uncut, or that the skim alone cuts it."""
    touch_z: str
    """The Z to set there."""
    touch_why: str
    """Why that is not 0; empty where it is."""
    skimmed: tuple[str, ...]
    """What Z to set on the new face after each skim."""
    over_zero: str
    """Clamps that stand over the zero."""
    pins: tuple[str, ...]
    holding: tuple[str, ...]
    left: tuple[LeftRow, ...]
    """What is left in the cavities of this face."""
    left_more: str
    blank_note: str
    """That this set-up was planned on the blank as measured, or how to plan it so."""
    size: str
    thickness: str
    stop: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetData:
    """The whole sheet."""

    name: str
    file: str
    unit: str
    refused: bool
    reasons: tuple[RefusedRow, ...]
    z_tick: str
    """What proves the touch-off."""
    pause: bool
    """Whether programs stop for the spindle instead of waiting."""
    dial: bool
    plates: tuple[PlatePage, ...]
    within: str
    material: str
    setups: tuple[SetUp, ...]
    path_error: str
    clearance: str
    nearest: str
    pieces: int
    has_metal: bool
    warnings: tuple[tuple[str, str], ...]
    time: tuple[str, str]
    """Of each cutter, and the whole."""
    sections: tuple[tuple[str, str], ...]
    """Picture name and caption of each section that may be there."""


def sheet_data(scene: Scene) -> SheetData:
    """What the sheet of a job says."""
    job = scene.job
    lengths = Lengths(unit=job.unit)
    blank = job.blank
    setups = _setups(scene, lengths)
    return SheetData(
        name=job.name,
        file=job.file.name,
        unit="millimetres (mm)" if job.unit.value == "mm" else "inches (in)",
        refused=scene.verdict is Verdict.REFUSED,
        reasons=tuple(reasons_of(scene, lengths)),
        pause=job.machine.spindle_wait is None,
        dial=bool(job.machine.dial),
        plates=plate_pages(scene, lengths),
        z_tick="10 mm above that place it reads 10 more than you set"
        if job.unit is Unit.MM
        else "1/2 in above that place it reads 0.5 more than you set",
        within=lengths.show(blank.thickness_within) if blank.thickness_within else "",
        material=blank.material,
        setups=setups,
        path_error=lengths.show(job.machine.path_error),
        clearance=lengths.show(job.check.clearance),
        nearest=_nearest(scene, lengths),
        pieces=len(job.pieces),
        has_metal=any(piece.hardness is Hardness.METAL for piece in job.pieces),
        warnings=tuple((warned.where, warned.message) for warned in job.warnings),
        time=time_words(times_of(scene)),
        sections=_enlarged(scene),
    )


def _enlarged(scene: Scene) -> tuple[tuple[str, str], ...]:
    """Reliefs and sections: the name of each picture that may be there, and its caption."""
    reliefs = [
        (relief_name(views[0]), f"Relief of cut {views[0].number}, {name}")
        for name, views in relief_views(scene).items()
    ]
    views = [view for program in scene.programs for view in program.cuts]
    return (
        *reliefs,
        *((engaged_name(view), f"Engaged angle, {_titled(view)}") for view in engaged_views(scene)),
        *((section_name(view), f"Cut {view.number}, {view.planned.cut.name}") for view in views),
    )


def _titled(view: CutView) -> str:
    return f"cut {view.number}, {view.planned.cut.name}"


def _stop(job: Job, side: Side, lengths: Lengths) -> str:
    """When not to go on, by the thickness that the check took, less what was skimmed by then."""
    blank, thickness = job.blank, lengths.show(thickness_up(job, side))
    if not blank.thickness_within:
        return f"is not {thickness}: the check took it as exact"
    return f"differs from {thickness} by more than {lengths.show(blank.thickness_within)}"


def _into_board(job: Job, side: Side, programs: tuple[ProgramView, ...], lengths: Lengths) -> str:
    """How deep the tips of a set-up may run into the board below; empty where none comes through.

    A drill's point goes deeper than its full diameter.
    """
    thinnest = thinnest_up(job, side)
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
        _setup(scene, number, side, programs, lengths)
        for number, (side, programs) in enumerate(runs, start=1)
    )


def _setup(
    scene: Scene, number: int, side: Side, programs: tuple[ProgramView, ...], lengths: Lengths
) -> SetUp:
    job, turned = scene.job_of(side), side is Side.BACK
    seen, touch = seen_from(job, side), touch_off(scene, side)
    return SetUp(
        number=number,
        side=side,
        face=SIDE_WORDS[side],
        turn=_TURN_TEXT[job.blank.turn_over] if turned else "",
        zero=_zero_words(job, side),
        clamps=tuple(_clamps(job, side, lengths)),
        clear_height=lengths.show(clear_height(job, side)),
        spoilboard=_into_board(job, side, programs, lengths),
        programs=tuple(program_block(job, program, lengths) for program in programs),
        pieces=tuple(_piece(job, piece, side, lengths) for piece in _by_depth(job, side)),
        time=duration(sum(program.seconds for program in programs)),
        touch=f"X {lengths.bare(touch.x)}, Y {lengths.bare(touch.y)}" if touch else "",
        touch_free=free_words(job, side),
        touch_z=touch_z(job, side, touch, lengths),
        touch_why=touch_why(job, side, touch, lengths),
        skimmed=after_skims(job, programs, touch, lengths),
        over_zero=", ".join(over_zero(job, side)),
        pins=pin_words(scene, side, lengths),
        holding=holding(scene, side, lengths),
        left=left_rows(scene, side),
        left_more=left_more(scene, side),
        blank_note=_blank_note(scene, side, number),
        size=f"{lengths.show(seen.size[0])} × {lengths.show(seen.size[1])}",
        thickness=lengths.show(thickness_up(job, side)),
        stop=_stop(job, side, lengths),
    )


def _blank_note(scene: Scene, side: Side, number: int) -> str:
    """Whether the set-up rests on the blank as measured, and how it could."""
    if scene.job_of(side) is not scene.job:
        return "This set-up was planned with the blank as measured: it must be that very blank."
    if number == 1 and scene.job.measured is None and len({p.face for p in scene.programs}) > 1:
        return (
            "Before the second face: enter what you found as measured = { size, thickness } "
            "and plan again."
        )
    return ""


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
        may_cut=piece.rule is Rule.MAY_CUT,
        x=lengths.bare(x),
        y=lengths.bare(y),
        depth=lengths.show(depth_below(piece, job.blank, side)),
        drift=", ".join(words for amount, words in moved if amount > 0.0) or "none stated",
        needed=lengths.need(job.need(piece)),
    )
