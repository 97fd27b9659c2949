"""Reading a program: its text, judged strictly, becomes a table of moves.

The language is RS-274 as NISTIR 6556 has it. What is not understood is refused with its line,
never passed over; what was assumed is noted. This side shares no code with the writer.
"""

from __future__ import annotations

import io
import os
from itertools import chain
from pathlib import Path

from toolpath.errors import ProgramError
from toolpath.rs274.codes import sort_words
from toolpath.rs274.common import run_common
from toolpath.rs274.habits import Habit
from toolpath.rs274.interpret import Machine
from toolpath.rs274.lines import Lines
from toolpath.rs274.program import Program, ProgramNote, SpeedWord
from toolpath.rs274.words import split_line
from toolpath.units import Unit

__all__ = ["Program", "ProgramNote", "SpeedWord", "read_program", "read_program_file"]

BYTES_LIMIT = 256 * 2**20
"""Largest program file."""

_CUT_OFF = "; it may be cut off"


def read_program_file(path: Path, *, unit: Unit, wait_in_ms: bool = False) -> Program:
    """The program in a file: plain text, with or without a byte order mark, any line ends.

    Outside comments it must be ASCII. No more than a piece is held at a time. See `read_program`.

    Raises
    ------
    ProgramError
        If the file cannot be read, is not text, is larger than 256 MiB or cannot be judged.
    """
    try:
        with path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            if size > BYTES_LIMIT:
                raise ProgramError(f"the file has {size} bytes; {BYTES_LIMIT} is the most")
            return _read(Lines(file, size), Machine(unit=unit, wait_in_ms=wait_in_ms))
    except OSError as error:
        raise ProgramError(f"the file cannot be read ({error.strerror})") from None


def read_program(text: str, *, unit: Unit, wait_in_ms: bool = False) -> Program:
    """The moves of a program: program frame, millimetres, feeds mm/min.

    Parameters
    ----------
    text
        The whole program. Lines may end in CR, LF or both.
    unit
        Of all lengths until the program says G20 or G21.
    wait_in_ms
        Whether the machine takes the P of a wait (G4, G82) as milliseconds; the standard has
        seconds.

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
    data = text.encode("utf-8", errors="surrogatepass")
    return _read(Lines(io.BytesIO(data), len(data)), Machine(unit=unit, wait_in_ms=wait_in_ms))


def _read(source: Lines, machine: Machine) -> Program:
    lines = _run(machine, source)
    moves = machine.table()
    return Program(
        moves=moves,
        notes=machine.notes(),
        lines=lines,
        unit=machine.first_unit if len(moves) else machine.modes.unit,
        speeds=tuple(machine.speeds),
        dwell_seconds=machine.dwell_seconds,
        stops=machine.stops,
        arcs_in_chords=machine.arcs_in_chords,
        chords=machine.chords,
    )


def _run(machine: Machine, lines: Lines) -> int:
    """Run lines until the end of the program, see that it has one, and count all lines.

    `opening` is the line of the first ``%``, 0 without one.
    """
    first = next((each for each in lines if each[1].strip(" \t")), (0, ""))
    opening = first[0] if _is_fence(first[1]) else 0
    for number, text in lines if opening else chain([first], lines):
        if _is_fence(text):
            return _closed(machine, lines, number, opening=opening)
        line = split_line(text, number)
        for habit in line.habits:
            machine.habits.meet(habit, number)
        if line.words:
            block = sort_words(line)
            (machine.run_or_not if line.deleted else machine.run)(block)
        if machine.ended:
            return _after_end(machine, lines, number, opening=opening)
        run_common(machine, lines)
    if opening:
        reason = "the program begins with % and has no second %, no M2 and no M30"
    else:
        reason = "the program has no end (M2 or M30)"
    number, text = lines.last
    raise ProgramError(reason + _CUT_OFF, line=number, text=text)


def _is_fence(text: str) -> bool:
    return "%" in text and text.strip(" \t") == "%"


def _closed(machine: Machine, lines: Lines, number: int, *, opening: int) -> int:
    """What stands after a % that ends the program: anything if there was a first one."""
    count = number
    for count, text in lines:
        _still_text(text, count)
        if not opening and text.strip(" \t"):
            raise ProgramError("a % line in mid-program", line=number, text="%")
    if not opening:
        machine.habits.meet(Habit.LAST_FENCE, number)
    return count


def _still_text(text: str, number: int) -> None:
    if "\0" in text:
        raise ProgramError("after the end of the program the file is not text", line=number)


def _after_end(machine: Machine, lines: Lines, number: int, *, opening: int) -> int:
    """What stands after M2 or M30 does not run; only a second % has its place there."""
    last, left, fence = number, 0, 0
    for last, text in lines:
        _still_text(text, last)
        if not fence and _is_fence(text):
            fence = last
        elif not fence and text.strip(" \t"):
            left += 1
    if opening and not fence:
        machine.habits.meet(Habit.FIRST_FENCE, opening)
    elif fence and not opening:
        machine.habits.meet(Habit.LAST_FENCE, fence)
    if left:
        machine.note(number + 1, f"{left} lines after the end of the program, which do not run")
    return last
