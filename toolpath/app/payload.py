"""Results as JSON: mm, mm², mm/min and seconds, `at` in the blank frame."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from toolpath.app.names import face_word
from toolpath.check.left import Spot
from toolpath.check.report import Closest, Engaged, Finding, PieceCut, Report, Verdict
from toolpath.errors import Fault
from toolpath.job.model import Side, Warned
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.show.times import Times, times_of

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
    every = [(each, program) for each in scene.every for program in each.programs]
    return {
        "verdict": scene.verdict.value,
        "job": scene.job.name,
        "cuts": _cuts(scene),
        "programs": [_program(each, program) for each, program in every] if written else [],
        "plates": [_plate(each) for each in scene.plates],
        "times": _times(times_of(scene)),
        "warnings": [_warned(w) for w in scene.job.warnings],
    }


def _times(times: Times) -> Json:
    """Seconds: by cutter, all programs, what is done by hand, all of it."""
    return {
        "cutters": [
            {"cutter": name, "seconds": _round(seconds)} for name, seconds in times.cutters
        ],
        "running": _round(times.running),
        "changes": _round(times.changes),
        "pauses": _round(times.pauses),
        "whole": _round(times.whole),
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
        "pieces_cut": [_piece_cut(each) for each in report.pieces_cut],
        "engaged": _engaged(report.engaged) if report.engaged else None,
    }


def _engaged(engaged: Engaged) -> Json:
    return {
        "widest": _round(engaged.widest),
        "line": engaged.line,
        "at": _point(engaged.at),
        "length": _round(engaged.length),
        "slot_length": _round(engaged.slot_length),
        "slots": [
            {"lines": [slot.first, slot.last], "length": _round(slot.length)}
            for slot in engaged.slots
        ],
    }


def _cuts(scene: Scene) -> list[Json]:
    """One entry for each cut, in cutting order, over all the cutters that make it."""
    parts: dict[str, list[CutView]] = {}
    for view in (view for program in scene.programs for view in program.cuts):
        parts.setdefault(view.planned.cut.name, []).append(view)
    return [_cut(scene, views) for views in parts.values()]


def _cut(scene: Scene, parts: list[CutView]) -> Json:
    last = parts[-1].planned
    refused = any(part.verdict is Verdict.REFUSED for part in parts)
    reasons = [part.refusal for part in parts if part.refusal]
    near = [part.closest for part in parts if part.closest is not None]
    return {
        "name": last.cut.name,
        "face": _face(scene, last.cut.face),
        "verdict": (Verdict.REFUSED if refused else Verdict.CLEAR).value,
        "closest": _closest(min(near, key=lambda closest: closest.gap, default=None)),
        "floor": _round(max(part.planned.floor for part in parts)),
        "uncut_area_mm2": _round(last.uncut_area),
        "left": [_spot(spot) for spot in scene.left if spot.cut == last.cut.name],
        "seconds": _round(sum(part.seconds for part in parts)),
        "cutters": [part.planned.cutter.name for part in parts],
        "notes": list(dict.fromkeys(note for part in parts for note in part.planned.notes)),
        "findings": [_finding(f) for part in parts for f in part.findings],
        "pieces_cut": [_piece_cut(each) for part in parts for each in part.pieces_cut],
        **({"refusal": reasons[0]} if reasons else {}),
    }


def _spot(spot: Spot) -> Json:
    return {
        "at": [round(value, _PLACES) + 0.0 for value in spot.at],
        "area_mm2": _round(spot.area),
        "width": _round(spot.width),
        "height": _round(spot.height),
        "why": spot.why.value,
        "of": spot.of,
        "diameter": _round(spot.diameter),
        "cutter": spot.cutter,
    }


def _face(scene: Scene, side: Side) -> str:
    return face_word(side, plate=scene.plate is not None)


def _plate(scene: Scene) -> Json:
    """A plate: the cut whose ledge it is for, and what was found of its own cuts."""
    plate = scene.plate
    return {
        "for": plate.cut.name if plate else "",
        "verdict": scene.verdict.value,
        "gap": _round(plate.gap) if plate else None,
        "cuts": _cuts(scene),
    }


def _piece_cut(cut: PieceCut) -> Json:
    return {
        "piece": cut.piece,
        "volume_mm3": _round(cut.volume),
        "share": _round(cut.share),
        "box": [_point(cut.low), _point(cut.high)],
    }


def _program(scene: Scene, program: ProgramView) -> Json:
    bounds = program.report.bounds
    return {
        "file": program.file,
        "face": _face(scene, program.face),
        "cutter": program.cutter.name,
        "code": program.code,
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
