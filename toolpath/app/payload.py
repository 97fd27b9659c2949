"""Results as JSON: mm, mm², mm/min and seconds, `at` in the blank frame."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from toolpath.check.report import Closest, Finding, Report
from toolpath.errors import Fault
from toolpath.job.model import Warned
from toolpath.show.scene import CutView, ProgramView, Scene

Json = dict[str, Any]
_PLACES = 6


def to_text(payload: Json) -> str:
    """The JSON text of a payload: stable order, no NaN, a newline at the end."""
    return json.dumps(payload, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def of_faults(faults: Sequence[Fault]) -> Json:
    """What stands on stdout at exit 2."""
    rows = [{"file": f.file, "where": f.where, "message": f.message} for f in faults]
    return {"verdict": "wrong", "faults": rows}


def of_scene(scene: Scene, *, written: bool) -> Json:
    """What `plan.json` holds."""
    return {
        "verdict": scene.verdict.value,
        "job": scene.job.name,
        "cuts": [_cut(cut) for program in scene.programs for cut in program.cuts],
        "programs": [_program(p) for p in scene.programs] if written else [],
        "warnings": [_warned(w) for w in scene.job.warnings],
    }


def of_report(report: Report) -> Json:
    """What `check --json` prints."""
    return {
        "verdict": report.verdict.value,
        "closest": _closest(report.closest),
        "findings": [_finding(f) for f in report.findings],
        "bounds": [_point(p) for p in report.bounds] if report.bounds else None,
        "feed_length": _round(report.feed_length),
        "rapid_length": _round(report.rapid_length),
        "arcs": report.arcs,
        "moves": report.moves,
        "seconds": _round(report.seconds),
    }


def _cut(cut: CutView) -> Json:
    return {
        "name": cut.planned.cut.name,
        "face": cut.planned.cut.face.value,
        "verdict": cut.verdict.value,
        "closest": _closest(cut.closest),
        "floor": _round(cut.planned.floor),
        "uncut_area_mm2": _round(cut.planned.uncut_area),
        "seconds": _round(cut.seconds),
        "notes": list(cut.planned.notes),
        "findings": [_finding(f) for f in cut.findings],
        **({"refusal": cut.refusal} if cut.refusal else {}),
    }


def _program(program: ProgramView) -> Json:
    bounds = program.report.bounds
    return {
        "file": program.file,
        "face": program.face.value,
        "cutter": program.cutter.name,
        "lines": program.lines,
        "seconds": _round(program.seconds),
        "bounds": [_point(p) for p in bounds] if bounds else None,
    }


def _closest(closest: Closest | None) -> Json | None:
    if closest is None:
        return None
    return {
        "piece": closest.piece,
        "gap": _round(closest.gap),
        "at": _point(closest.at),
        "line": closest.line,
        "part": closest.part.value,
    }


def _finding(finding: Finding) -> Json:
    return {
        "code": finding.code.value,
        "refuses": finding.refuses,
        "message": finding.message,
        "line": finding.line,
        "piece": finding.piece,
        "part": finding.part.value if finding.part else None,
        "at": _point(finding.at) if finding.at else None,
        "at_program": _point(finding.at_program) if finding.at_program else None,
        "gap": _round(finding.gap),
        "needed": _round(finding.needed),
        "clear_depth": _round(finding.clear_depth),
        "mend": finding.mend,
    }


def _warned(warned: Warned) -> Json:
    return {"where": warned.where, "message": warned.message}


def _point(point: tuple[float, float, float]) -> list[float]:
    return [round(float(value), _PLACES) + 0.0 for value in point]


def _round(value: float | None) -> float | None:
    return None if value is None else round(float(value), _PLACES) + 0.0
