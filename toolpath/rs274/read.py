"""Reading a program: its text, judged strictly, becomes a table of moves.

The language is RS-274 as NISTIR 6556 has it. What is not understood is refused with its line,
never passed over; what was assumed is noted. This side shares no code with the writer.
"""

from __future__ import annotations

import re
from pathlib import Path

from toolpath.errors import ProgramError
from toolpath.rs274.codes import sort_words
from toolpath.rs274.interpret import Machine
from toolpath.rs274.program import Program, ProgramNote, SpeedWord
from toolpath.rs274.words import Line, split_line
from toolpath.units import Unit

__all__ = ["Program", "ProgramNote", "SpeedWord", "read_program", "read_program_file"]

BYTES_LIMIT = 256 * 2**20
"""Largest program file."""

LINES_LIMIT = 5_000_000
"""Most lines of a program."""

_LINE_END = re.compile(r"\r\n|\n|\r")


def read_program_file(path: Path, *, unit: Unit, wait_in_ms: bool = False) -> Program:
    """The program in a file: plain text, with or without a byte order mark, any line ends.

    Outside comments it must be ASCII. See `read_program`.

    Raises
    ------
    ProgramError
        If the file cannot be read, is not text, is larger than 256 MiB or cannot be judged.
    """
    try:
        size = path.stat().st_size
        if size > BYTES_LIMIT:
            raise ProgramError(f"the file has {size} bytes; {BYTES_LIMIT} is the most")
        data = path.read_bytes()
    except OSError as error:
        raise ProgramError(f"the file cannot be read ({error.strerror})") from None
    if b"\0" in data:
        raise ProgramError("the file is not text")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return read_program(text, unit=unit, wait_in_ms=wait_in_ms)


def read_program(text: str, *, unit: Unit, wait_in_ms: bool = False) -> Program:
    """The moves of a program: program frame, millimetres, feeds mm/min.

    Parameters
    ----------
    text
        The whole program. Lines may end in CR, LF or both.
    unit
        Of all lengths until the program says G20 or G21.
    wait_in_ms
        Whether the machine takes the P of a wait (G4) as milliseconds; the standard has seconds.

    Returns
    -------
    Program
        Moves up to M2, M30 or the second ``%``; where it starts is unknown, so each axis is NaN
        until its first word.

    Raises
    ------
    ProgramError
        With the line and the reason, for anything that is not in NISTIR 6556, is not understood
        or cannot be judged. Errs towards refusing.
    """
    lines = _LINE_END.split(text.removeprefix("\ufeff"))
    if lines[-1] == "":
        lines.pop()
    if len(lines) > LINES_LIMIT:
        raise ProgramError(f"{len(lines)} lines; {LINES_LIMIT} are the most")
    machine = Machine(unit=unit, wait_in_ms=wait_in_ms)
    _run(machine, lines)
    moves = machine.table()
    return Program(
        moves=moves,
        notes=tuple(machine.notes),
        lines=len(lines),
        unit=machine.first_unit if len(moves) else machine.unit,
        speeds=tuple(machine.speeds),
        dwell_seconds=machine.dwell_seconds,
        stops=machine.stops,
    )


def _run(machine: Machine, lines: list[str]) -> None:
    """Run lines until the end of the program, and see that it has one."""
    first = next((i for i, text in enumerate(lines) if text.strip(" \t")), len(lines))
    fenced = first < len(lines) and _is_fence(lines[first])
    semicolons = False
    for number, text in enumerate(lines[first + fenced :], start=first + fenced + 1):
        if _is_fence(text):
            if not fenced:
                raise ProgramError("a % line in mid-program", line=number, text=text)
            return
        line = split_line(text, number)
        if line.semicolon and not semicolons:
            machine.note(number, "a semicolon, which the standard has not: read as a comment")
            semicolons = True
        if line.words:
            _refuse_deleted(line)
            machine.run(sort_words(line))
        if machine.ended:
            _after_end(machine, lines[number:], number, fenced)
            return
    if fenced:
        raise ProgramError("the program begins with % and has no second %; it may be cut off")
    raise ProgramError("the program has no end (M2 or M30); it may be cut off")


def _is_fence(text: str) -> bool:
    return text.strip(" \t") == "%"


def _refuse_deleted(line: Line) -> None:
    if line.deleted:
        raise line.fault("a line with / runs or not by a switch on the machine; cannot be judged")


def _after_end(machine: Machine, rest: list[str], number: int, fenced: bool) -> None:
    """What stands after M2 or M30: a second % if there was a first; nothing else runs."""
    fence = next((i for i, text in enumerate(rest) if _is_fence(text)), None)
    if fenced and fence is None:
        raise ProgramError("the program begins with % and has no second %; it may be cut off")
    left = sum(1 for text in rest[:fence] if text.strip(" \t"))
    if left:
        machine.note(number + 1, f"{left} lines after the end of the program, which do not run")
