"""Lines of the terminal that more than one command prints."""

from __future__ import annotations

from collections.abc import Iterator

from toolpath.app.names import face_word
from toolpath.check.report import Engaged, Finding
from toolpath.cli.console import Console
from toolpath.show.scene import CutView, Scene
from toolpath.show.words import duration
from toolpath.units import Unit, show_left, show_mm, show_needed

CHECKED = (
    "checked: every move of cutter, shank and nut against the pieces where the job says they lie, "
    "grown by their drift.\nnot seen: run-out, deflection, lost steps, a wrong touch-off. "
    "Check against the actual blank."
)


def say_cuts(scene: Scene, console: Console) -> None:
    """Warnings of the job, then each cut with why it is refused and what would clear it."""
    for warned in scene.job.warnings:
        kind = "note" if warned.note else "warning"
        console.notice(f"{kind}: {warned.where}: {warned.message}")
    for each in scene.every:
        for cut in (cut for program in each.programs for cut in program.cuts):
            console.say(cut_line(each, cut))
            for line in finding_lines(cut):
                console.say(line)


def cut_line(scene: Scene, cut: CutView) -> str:
    """One cut, or what one of its cutters makes of it, in one line: verdict, face, name, depth,
    time, nearest piece."""
    planned, job = cut.planned, scene.job
    several = len(planned.cut.cutters) > 1
    name = planned.cut.name + (f" ({planned.cutter.name})" if several else "")
    face = face_word(planned.cut.face, plate=scene.plate is not None)
    if scene.plate is not None:
        name = f"{scene.plate.cut.name}, {name}"
    near = "no piece"
    if cut.closest is not None:
        needed = job.needs[cut.closest.piece]
        near = f"{show_left(cut.closest.gap, job.unit)} from {cut.closest.piece}"
        near += f" ({show_needed(needed, job.unit)} needed)"
    return (
        f"{cut.verdict.value:8}{face:6} {name}: "
        f"{show_mm(planned.floor, job.unit)} deep, {duration(cut.seconds)}, {near}"
    )


def engaged_text(engaged: Engaged, unit: Unit) -> str:
    """How wide the cutter is engaged, in one line."""
    return (
        f"engaged: up to {show_mm(engaged.widest, unit)} wide (line {engaged.line}); "
        f"a slot along {show_mm(engaged.slot_length, unit)} of {show_mm(engaged.length, unit)} "
        "that it cuts level"
    )


def finding_lines(cut: CutView) -> Iterator[str]:
    """Why a cut is refused, and what would clear it; then its notes."""
    if cut.refusal:
        yield f"         refused: {cut.refusal}"
    for finding in cut.findings:
        yield from (f"         {line}" for line in finding_text(finding).splitlines())
    for note in cut.planned.notes:
        yield f"         note: {note}"


def finding_text(finding: Finding) -> str:
    """A finding, and on a line of its own what would clear it."""
    word = finding.code.value if finding.refuses else "note"
    mend = f"\n  mend: {finding.mend}" if finding.mend else ""
    return f"{word}: {finding.message}{mend}"


def place(at: tuple[float, float, float]) -> str:
    """A position for a person."""
    return "X{:.2f} Y{:.2f} Z{:.2f}".format(*at)
