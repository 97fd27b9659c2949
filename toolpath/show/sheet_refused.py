"""Why a job is refused, in words for the sheet."""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.check.report import Code, Finding
from toolpath.show.scene import Scene
from toolpath.show.words import CODE_WORDS, Lengths, left_words


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """One reason for which a job is refused."""

    cut: str
    title: str
    message: str
    place: str
    mend: str


def reasons_of(scene: Scene, lengths: Lengths) -> list[RefusedRow]:
    """Everything that refuses the job, in cutting order, worst first within a cut."""
    rows: list[RefusedRow] = []
    programs = [program for each in scene.every for program in each.programs]
    for program in programs:
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
