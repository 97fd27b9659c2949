"""Programs: the compiled reader and the interpreter beside it, in both units."""

import math
import re
from pathlib import Path
from unittest import mock

import numpy as np

from fuzz.mutate import text_mutator
from fuzz.target import Target, Unsound
from toolpath.errors import ProgramError
from toolpath.motion.moves import Kind
from toolpath.rs274 import read as reading
from toolpath.rs274.program import Program
from toolpath.rs274.read import read_program_file
from toolpath.units import Unit

_WORDS = tuple(
    word.encode()
    for word in (
        *"G0 G1 G2 G3 G4 G17 G18 G19 G20 G21 G28 G38.2 G40 G41 G49 G53 G54 G59.3 G61 G64".split(),
        *"G80 G81 G82 G83 G84 G90 G91 G91.1 G90.1 G92 G93 G94 G98 G99 G01 g2 G1.0 G10".split(),
        *"M0 M1 M2 M3 M4 M5 M6 M7 M8 M9 M30 M48 M49 M60 M98 M99 M03".split(),
        *"X1 Y2 Z-3 I1 J-1 K2 R5 R-5 F100 F0 S1000 S0 P1 P0.5 Q1 L2 L0 T1 H1 D1 A1 B0 C1".split(),
        *"N10 N123456 N / % ; ( ) () (MSG,x) #1 #1=2 [1+2] X[1] E1 O1 U1 V1 W1 * $".split(),
        *"X0 Y0 Z0 I0 J0 K0 R0 X-0 X+.5 X1. X. X9999999 X10000000 X0.00000001".split(),
        *("G0 X0 Y0 Z5\n", "G1 X10 F100\n", "G2 X10 Y0 I5\n", "G3 X0 Y0 R5\n", "M2\n", "%\n"),
        *("G18 G2 X10 Z0 I5 K0\n", "G19 G3 Y10 Z0 J5 K0\n", "G81 X1 Y1 Z-2 R1 F50\n"),
        *("G83 X1 Z-9 R1 Q2\n", "G82 Z-1 R1 P0.5\n", "G91 X1\n", "G2 I5 Z1\n", "(note)", "\n"),
    )
)


def _bits(program: Program) -> tuple[object, ...]:
    """All that was read, to the last bit."""
    moves = program.moves
    columns = (moves.kind, moves.start, moves.end, moves.centre, moves.sweep, moves.feed)
    bits = [(each.dtype, each.shape, each.tobytes()) for each in (*columns, moves.line)]
    rest = (program.notes, program.lines, program.unit, program.speeds, program.dwell_seconds)
    return bits, rest, program.stops, program.arcs_in_chords, program.chords


def _outcome(path: Path, unit: Unit) -> tuple[Program | None, object]:
    try:
        program = read_program_file(path, unit=unit, wait_in_ms=unit is Unit.INCH)
    except ProgramError as error:
        return None, (str(error), error.reason, error.line, error.text)
    return program, _bits(program)


def _sound(program: Program) -> None:
    """Once an axis has a place it keeps one, a feed has a speed, an arc a centre."""
    moves = program.moves
    for places in (moves.start, moves.end):
        unknown = np.isnan(places).astype(np.int8)
        if np.isinf(places).any() or (np.diff(unknown, axis=0) > 0).any():
            raise Unsound("a place that is lost or endless")
    if not np.array_equal(moves.start[1:], moves.end[:-1], equal_nan=True):
        raise Unsound("a move that does not begin where the one before ended")
    arcs = moves.kind == Kind.ARC
    if not np.isfinite(moves.centre[arcs]).all() or not np.isfinite(moves.sweep).all():
        raise Unsound("an arc without a centre or a sweep")
    if (np.abs(moves.sweep) > 2.0 * math.pi + 1e-9).any():
        raise Unsound("an arc of more than one turn")
    if not (moves.feed[moves.kind != Kind.RAPID] > 0.0).all():
        raise Unsound("a feed move without a feed")
    if (np.diff(moves.line) < 0).any() or (len(moves) and moves.line[-1] > program.lines):
        raise Unsound("lines out of order")


def _read(path: Path) -> str:
    words = []
    for unit in Unit:
        program, both = _outcome(path, unit)
        with mock.patch.object(reading, "run_common"):
            _, alone = _outcome(path, unit)
        if both != alone:
            raise Unsound(f"the fast way gives {both!r:.300}, the interpreter {alone!r:.300}")
        if program is not None:
            _sound(program)
        words.append("ProgramError" if program is None else "answer")
    return " and ".join(sorted(set(words)))


def _others() -> tuple[bytes, ...]:
    folder = Path(__file__).parent / "seeds" / "interpreter"
    return tuple(path.read_bytes() for path in sorted(folder.glob("*.nc")))


TARGET = Target(
    name="interpreter",
    endings=(".nc",),
    read=_read,
    mutate=text_mutator(
        word=re.compile(rb"[A-Za-z][-+.0-9]*|[(;%/\n]"), words=_WORDS, others=_others()
    ),
)
