"""Writing a program: moves become plain words of NISTIR 6556 that small controllers also take.

Every number has a fixed count of decimals. Where the tip is, is tracked as whole steps of the
last decimal, so what is written never drifts from what was planned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from toolpath.errors import InternalError
from toolpath.motion.moves import Kind, Move, Point
from toolpath.rs274.comments import comment_lines
from toolpath.rs274.rounding import Steps, arc_pieces, chord_count, plain_arc, point_on
from toolpath.units import Unit

LINE_LETTERS = 70
"""Longest line written; small controllers take 50 to 80 (common practice), the standard 256."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Moves that belong together, program frame, mm; `comment` stands before them.

    Where the first move does not start at the end of what was written before, the writer lifts
    to the safe height, goes there, and down to its start, all by rapids.
    """

    comment: str
    moves: tuple[Move, ...]
    pauses: tuple[int, ...] = ()
    """After how many of the moves the program stops, with the spindle off until it goes on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramText:
    """All that a program is made of.

    `rpm` None: the spindle stays off. `safe_height` mm; `spindle_wait` seconds (None: the program
    stops, M0); `wait_in_ms` whether the machine takes waits as milliseconds; `decimals` of the
    coordinates, 1 to 6; `arcs` whether it takes G2 and G3.
    """

    title: tuple[str, ...]
    unit: Unit
    decimals: int
    arcs: bool
    rpm: float | None
    spindle_wait: float | None
    wait_in_ms: bool
    safe_height: float
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A program as text; `section_lines` first and last line (from 1) of each section, the last
    before the first where a section has no line."""

    text: str
    lines: int
    section_lines: tuple[tuple[int, int], ...]


def write_program(spec: ProgramText) -> Written:
    """The program of `spec`: ASCII, lines of at most 70 letters, the same text every time.

    Arcs are written with I and J where, on the rounded numbers, both radii agree within half of
    what the standard tolerates (NISTIR 6556, 3.5.3.2) and the arc stays within 0.005 mm of the
    wanted one; else as chords within `TOLERANCES.arc_fit`. Moves that round to nothing are left
    out.

    Raises
    ------
    InternalError
        For numbers that are not finite, feeds that are not positive, moves of a section that do
        not join, or numbers too long for a line.
    """
    pen = _Pen(steps=Steps(unit=spec.unit, decimals=spec.decimals), arcs=spec.arcs)
    _open(pen, spec)
    spans = []
    for section in spec.sections:
        first = len(pen.lines) + 1
        for text in comment_lines(section.comment):
            pen.put(text)
        _write_moves(pen, section, spec)
        spans.append((first, len(pen.lines)))
    _close(pen, spec)
    return Written(
        text="".join(f"{line}\n" for line in pen.lines),
        lines=len(pen.lines),
        section_lines=tuple(spans),
    )


def with_first_line(written: Written, text: str) -> Written:
    """The same program with a comment of one line before all else."""
    (line,) = comment_lines(text)
    return Written(
        text=f"{line}\n{written.text}",
        lines=written.lines + 1,
        section_lines=tuple((first + 1, last + 1) for first, last in written.section_lines),
    )


@dataclass(slots=True, kw_only=True)
class _Pen:
    """What was written, where the tip is (whole steps, None unknown) and the feed in force."""

    steps: Steps
    arcs: bool
    lines: list[str] = field(default_factory=list)
    place: list[int | None] = field(default_factory=lambda: [None, None, None])
    feed: str = ""

    def put(self, text: str) -> None:
        if len(text) > LINE_LETTERS:
            raise InternalError(f'the line "{text}" is longer than {LINE_LETTERS} letters')
        self.lines.append(text)

    def axis_words(self, goal: tuple[int, int, int], always: str = "") -> list[str]:
        """Words of the axes that change, and of those in `always`."""
        return [
            f"{axis}{self.steps.show(new)}"
            for axis, old, new in zip("XYZ", self.place, goal, strict=True)
            if old != new or axis in always
        ]

    def rapid(self, goal: tuple[int, int, int]) -> None:
        """A rapid; across with both X and Y, so that a program can be begun again there."""
        across = self.place[:2] != list(goal[:2])
        words = self.axis_words(goal, always="XY" if across else "")
        if words:
            self.put(" ".join(["G0", *words]))
            self.place[:] = goal
            self.feed = ""

    def cut(self, code: str, words: list[str], goal: tuple[int, int, int], feed: str) -> None:
        """A feed move; its F where it changes, on a line of its own if it would not fit."""
        line = " ".join([code, *words])
        if feed != self.feed:
            if len(line) + 1 + len(feed) > LINE_LETTERS:
                self.put(feed)
            else:
                line += f" {feed}"
        self.put(line)
        self.place[:] = goal
        self.feed = feed

    def line_to(self, goal: tuple[int, int, int], feed: str) -> None:
        words = self.axis_words(goal)
        if words:
            self.cut("G1", words, goal, feed)


def _open(pen: _Pen, spec: ProgramText) -> None:
    """Title, modes, the safe height, the spindle and its wait."""
    if spec.rpm is not None and not (math.isfinite(spec.rpm) and spec.rpm > 0):
        raise InternalError(f"a spindle speed of {spec.rpm} rev/min")
    for title in spec.title:
        for text in comment_lines(title):
            pen.put(text)
    pen.put(f"G17 {'G21' if spec.unit is Unit.MM else 'G20'} G90 G94")
    pen.put("G54")
    safe = pen.steps.of(spec.safe_height)
    pen.put(f"G0 Z{pen.steps.show(safe)}")
    pen.place[2] = safe
    if spec.rpm is None:
        pen.put("M5")
        return
    _start_spindle(pen, spec, spec.rpm)


def _start_spindle(pen: _Pen, spec: ProgramText, rpm: float) -> None:
    """The spindle, and its wait."""
    pen.put(f"M3 S{_short(rpm, 1)}")
    if spec.spindle_wait is None:
        pen.put("M0")
    elif spec.spindle_wait > 0:
        scale, decimals = (1000.0, 0) if spec.wait_in_ms else (1.0, 3)
        pen.put(f"G4 P{_short(spec.spindle_wait * scale, decimals)}")


def _close(pen: _Pen, spec: ProgramText) -> None:
    """Up to the safe height if below it, spindle off, end."""
    safe, z = pen.steps.of(spec.safe_height), pen.place[2]
    if z is None or z < safe:
        pen.put(f"G0 Z{pen.steps.show(safe)}")
    pen.put("M5")
    pen.put("M30")


def _pause(pen: _Pen, spec: ProgramText) -> None:
    """A stop with the spindle off; with a spindle that stays off anyhow there is none."""
    if spec.rpm is not None:
        for text in ("(Clear the chips)", "M5", "M0"):
            pen.put(text)
        _start_spindle(pen, spec, spec.rpm)


def _write_moves(pen: _Pen, section: Section, spec: ProgramText) -> None:
    """The moves of one section, each joined to the one before."""
    moves = section.moves
    if moves:
        _go_to_start(pen, moves[0], spec.safe_height)
    before: Point | None = None
    for count, move in enumerate(moves):
        if count in section.pauses:
            _pause(pen, spec)
        if before is not None and not _joins(before, move.start, pen.steps.size):
            raise InternalError(f"a move starts at {move.start}, the one before ends at {before}")
        _write_move(pen, move)
        before = move.end


def _joins(before: Point, start: Point, step: float) -> bool:
    return all(abs(a - b) <= step for a, b in zip(before, start, strict=True))


def _go_to_start(pen: _Pen, move: Move, safe_height: float) -> None:
    """Rapids to where a section starts: up, across, down; a rapid may start anywhere (NaN)."""
    if move.kind is Kind.RAPID and any(math.isnan(c) for c in move.start):
        return
    x, y, z = (pen.steps.of(c) for c in move.start)
    height = pen.place[2]
    if pen.place[:2] != [x, y]:
        up = max(pen.steps.of(safe_height), z, height if height is not None else z)
        _rapid_z(pen, up)
        pen.rapid((x, y, up))
    _rapid_z(pen, z)


def _rapid_z(pen: _Pen, z: int) -> None:
    if pen.place[2] != z:
        pen.put(f"G0 Z{pen.steps.show(z)}")
        pen.place[2] = z
        pen.feed = ""


def _write_move(pen: _Pen, move: Move) -> None:
    goal = pen.steps.point(move.end)
    if move.kind is Kind.RAPID:
        pen.rapid(goal)
        return
    feed = _feed_word(move.feed, pen.steps.unit)
    if move.kind is Kind.LINE:
        pen.line_to(goal, feed)
        return
    for piece in arc_pieces(move):
        _write_arc(pen, piece, feed)


def _write_arc(pen: _Pen, arc: Move, feed: str) -> None:
    """One arc as G2 or G3 if its rounded numbers are good, else as chords."""
    goal = pen.steps.point(arc.end)
    x, y, _ = pen.place
    if x is None or y is None:
        raise InternalError("an arc before any position")
    offset = plain_arc(arc, (x, y), (goal[0], goal[1]), pen.steps) if pen.arcs else None
    if offset is None:
        for point in _chords(arc):
            pen.line_to(pen.steps.point(point), feed)
        return
    words = pen.axis_words(goal, always="XY")
    words += [f"I{pen.steps.show(offset[0])}", f"J{pen.steps.show(offset[1])}"]
    pen.cut("G3" if arc.sweep > 0 else "G2", words, goal, feed)


def _chords(arc: Move) -> Iterator[Point]:
    """Ends of the chords that replace an arc, each within `TOLERANCES.arc_fit` of it."""
    count = chord_count(arc)
    for index in range(1, count):
        yield point_on(arc, index / count)
    yield arc.end


def _feed_word(feed: float, unit: Unit) -> str:
    """F in units per minute, rounded down, so that no feed is ever above the one asked for."""
    if not (math.isfinite(feed) and feed > 0):
        raise InternalError(f"a feed of {feed} mm/min")
    decimals = 1 if unit is Unit.MM else 3
    scale = 10.0**decimals
    steps = math.floor(feed / unit.mm * scale + 1e-6)
    if steps == 0:
        raise InternalError(f"a feed of {feed} mm/min rounds to nothing")
    return f"F{_short(steps / scale, decimals)}"


def _short(value: float, decimals: int) -> str:
    """A number with at most that many decimals, without trailing zeros."""
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
