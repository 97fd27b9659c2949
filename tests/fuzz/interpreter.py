"""Programs: the compiled reader and the interpreter beside it, in both units."""

import math
import re
from pathlib import Path
from unittest import mock

import numpy as np
from fuzz.mutate import seeds_of, text_mutator, words_of
from fuzz.target import Target, Unsound

from toolpath.errors import ProgramError
from toolpath.motion.moves import Kind
from toolpath.rs274 import read as reading
from toolpath.rs274.program import Program
from toolpath.rs274.read import read_program_file
from toolpath.units import Unit


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


TARGET = Target(
    name="interpreter",
    endings=(".nc",),
    read=_read,
    seconds=20.0,  # of four readings
    mutate=text_mutator(
        word=re.compile(rb"[A-Za-z][-+.0-9]*|[(;%/\n]"),
        words=words_of("interpreter"),
        others=seeds_of("interpreter"),
    ),
)
