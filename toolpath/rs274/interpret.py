"""The reader's machine: modes, position and spindle, changed line by line.

Every step of a line is taken in the order of NISTIR 6556, table 8. The machine has its own
code; it shares nothing with the writer but nouns.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from toolpath.motion.moves import Kind, MoveTable, Point
from toolpath.rs274.arcs import Arc, centre_format, radius_format
from toolpath.rs274.codes import Block, Group, whole
from toolpath.rs274.cycles import CYCLES, drilling
from toolpath.rs274.habits import Habit, Habits
from toolpath.rs274.modes import FIRST_ZERO, Modes
from toolpath.rs274.planes import PLANES, XY, chords
from toolpath.rs274.program import ProgramNote, SpeedWord
from toolpath.rs274.rows import Rows
from toolpath.rs274.words import Line
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

RAPID, FEED, CLOCKWISE, COUNTER, CANCEL = 0, 10, 20, 30, 800
"""Motion codes times ten: G0, G1, G2, G3, G80."""

DWELL, MACHINE_ZERO = 40, 530
"""G4 and G53, times ten."""

TINY_SWEEP = 1e-5
"""Arcs of less (radians) are taken for full turns by some machines: they cannot be
judged."""

MADE_LIMIT = 1_000_000
"""Most moves that a program may have beyond one a line: repeats, pecks and chords of arcs."""

_AXES = frozenset("XYZ")
_FIRST, _FIRST_AND_WAIT = frozenset("FST"), frozenset("FSTP")
"""Words that are used before any motion."""

_NOWHERE = (math.nan, math.nan)
_ASSUMED = (
    (Group.PLANE, "G17 (XY plane)"),
    (Group.DISTANCE, "G90 (absolute)"),
    (Group.FEED_MODE, "G94 (feed per minute)"),
    (Group.ZERO, "G54 (first zero)"),
)
_STICKY = {Group.PLANE, Group.DISTANCE, Group.UNITS}
"""After a word of these, what a cycle kept from the line before would mean something else."""

_UNIT_NAMES = {Unit.MM: "millimetres (G21)", Unit.INCH: "inches (G20)"}


class Machine:
    """What is in force while a program runs. `run` one line after the other until `ended`."""

    def __init__(self, *, unit: Unit, wait_in_ms: bool = False) -> None:
        self.modes = Modes(unit=unit)
        self.first_unit = unit
        self.habits = Habits()
        self.speeds: list[SpeedWord] = []
        self.dwell_seconds = 0.0
        self.stops = 0
        self.arcs_in_chords = 0
        self.chords = 0
        self.ended = False
        self._notes: list[ProgramNote] = []
        self._wait_unit = 0.001 if wait_in_ms else 1.0
        self.spindle_noted = False
        self.rows = Rows()

    def run(self, block: Block) -> None:
        """Carry out one line in the order of table 8, then see that no word was left over."""
        values, g, m, line = block.values, block.g, block.m, block.line
        self._words_first(line, values)
        if m:
            self._switches(line, m)
        used = _FIRST
        if g:
            if g.get(Group.ACTION) == DWELL:
                self._dwell(line, values)
                used = _FIRST_AND_WAIT
            self._modes(line, g)
        moved = self._move(block)
        for letter in values:
            if letter not in moved and letter not in used:
                raise line.fault(_left_over(letter))
        if m:
            self._stop(m.get(Group.STOPPING))

    def run_or_not(self, block: Block) -> None:
        """Carry out a line that a switch may skip (``/``), if that makes no difference."""
        before, rows = self.modes.copy(), len(self.rows)
        self.run(block)
        if self.ended or len(self.rows) > rows or self.modes != before:
            raise block.line.fault(
                "a line with / runs or not by a switch on the machine, and here that changes what "
                "follows; cannot be judged"
            )
        self.habits.meet(Habit.BLOCK_DELETE, block.line.number)

    def notes(self) -> tuple[ProgramNote, ...]:
        """What is worth knowing, in the order of lines."""
        met = [ProgramNote(line=line, message=text) for line, text in self.habits.told()]
        return tuple(sorted([*self._notes, *met], key=lambda note: note.line))

    def table(self) -> MoveTable:
        """All moves so far."""
        return self.rows.table()

    @property
    def _place(self) -> Point:
        return self.rows.place

    def resume(self, *, motion: int, feed: float) -> None:
        """Go on after lines that ran elsewhere: motion 0 to 3 (-1: as it was), feed (-1: none)."""
        if motion >= 0:
            self.modes.motion = 10 * motion
        self.modes.feed = feed if feed >= 0.0 else None

    def note(self, line: int, message: str) -> None:
        """Keep a note."""
        self._notes.append(ProgramNote(line=line, message=message))

    # Steps 3 to 5: F, S, T.

    def _words_first(self, line: Line, values: Mapping[str, float]) -> None:
        modes = self.modes
        if "F" in values:
            if values["F"] < 0:
                raise line.fault(f"F{values['F']:g}: a feed cannot be negative")
            modes.feed = values["F"] * modes.unit.mm
        if "S" in values:
            if values["S"] < 0:
                raise line.fault(f"S{values['S']:g}: a speed cannot be negative")
            modes.rpm = values["S"]
            self.spindle_noted = False
            self.speeds.append(SpeedWord(line=line.number, rpm=values["S"]))
        if "T" in values:
            self._select(line, whole(line, "T", values["T"]))

    def _select(self, line: Line, tool: int) -> None:
        known = self.modes.tool
        if known is not None and tool != known:
            raise line.fault(
                f"T{tool}: a second cutter in mid-program (T{known} before); "
                "a program is judged with one cutter"
            )
        self.modes.tool = tool

    # Steps 6 to 9: M6, spindle; coolant and overrides move nothing.

    def _switches(self, line: Line, m: Mapping[Group, int]) -> None:
        if Group.CHANGE in m:
            self._change(line)
        if Group.SPINDLE in m:
            self.modes.spindle = m[Group.SPINDLE]
            self.spindle_noted = False
        if m.get(Group.OVERRIDES) == 49:
            self.habits.meet(Habit.OVERRIDES_OFF, line.number)

    def _change(self, line: Line) -> None:
        """M6: the one cutter goes in, or is in; the spindle stands afterwards (3.6.3)."""
        modes = self.modes
        if modes.in_spindle is not None:  # and T is the same, or `_select` had refused it
            self.habits.meet(Habit.SAME_TOOL, line.number)
        elif len(self.rows):
            raise line.fault(
                "M6 after motion: a second cutter in mid-program; "
                "a program is judged with one cutter"
            )
        elif modes.tool is None:
            self.habits.meet(Habit.CHANGE_WITHOUT_TOOL, line.number)
        modes.in_spindle = modes.tool
        modes.spindle = 5
        self.spindle_noted = False

    # Step 10: G4.

    def _dwell(self, line: Line, values: Mapping[str, float]) -> None:
        if "P" not in values:
            raise line.fault("G4 without P, the time to wait")
        if values["P"] < 0:
            raise line.fault(f"P{values['P']:g}: a wait cannot be negative")
        self.dwell_seconds += values["P"] * self._wait_unit

    # Steps 11 to 18: modes.

    def _modes(self, line: Line, g: Mapping[Group, int]) -> None:
        modes = self.modes
        if Group.PLANE in g:
            modes.plane = PLANES[g[Group.PLANE]]
        if Group.UNITS in g:
            self._set_unit(line, Unit.INCH if g[Group.UNITS] == 200 else Unit.MM)
        if Group.ZERO in g:
            self._set_zero(line, g[Group.ZERO])
        if Group.ARC_CENTRES in g:
            self.habits.meet(Habit.ARC_CENTRES, line.number)
        if Group.DISTANCE in g:
            modes.absolute = g[Group.DISTANCE] == 900
        if Group.CYCLE_RETURN in g:
            modes.to_start = g[Group.CYCLE_RETURN] == 980
        if modes.sticky is not None and not _STICKY.isdisjoint(g):
            modes.sticky = None
        if not modes.stated.issuperset(g):
            modes.stated |= g.keys() - {Group.ACTION}

    def _set_unit(self, line: Line, unit: Unit) -> None:
        """Change the unit. A feed given before any unit was in force is one in the new unit;
        later on a feed stays what it is in mm/min, since table 8 sets it before the unit."""
        modes = self.modes
        in_force = Group.UNITS in modes.stated or len(self.rows) > 0
        if in_force and unit is not modes.unit:
            self.note(line.number, f"the unit changes to {unit.value} in mid-program")
        elif unit is not modes.unit:
            here, there = _UNIT_NAMES[unit], _UNIT_NAMES[modes.unit]
            self.note(line.number, f"the program is in {here}, the job in {there}: is that meant?")
            if modes.feed is not None:
                modes.feed *= unit.mm / modes.unit.mm
        modes.unit = unit

    def _set_zero(self, line: Line, zero: int) -> None:
        """Take up a zero; a program has one, which is that of the job, whatever its number."""
        if zero != self.modes.zero and len(self.rows):
            raise line.fault(
                f"G{zero / 10:g} after moves from the zero of G{self.modes.zero / 10:g}: how far "
                "apart they are is stored in the machine; a program is judged with one zero"
            )
        if zero != self.modes.zero and zero != FIRST_ZERO:
            self.note(line.number, f"the zero of G{zero / 10:g} is taken as that of the job")
        self.modes.zero = zero

    # Step 20: motion.

    def _move(self, block: Block) -> frozenset[str]:
        """Carry out the motion of a line, if any; the letters it used."""
        modes, asked = self.modes, block.g.get(Group.MOTION)
        if asked is not None:
            if asked != modes.motion:
                modes.sticky = None
            modes.motion = asked
        axes = [axis for axis in "XYZ" if axis in block.values]
        to_machine = bool(block.g) and block.g.get(Group.ACTION) == MACHINE_ZERO
        if not axes:
            if to_machine or (asked is not None and asked != CANCEL):
                code = asked if asked is not None and not to_machine else MACHINE_ZERO
                raise block.line.fault(f"G{code // 10} without X, Y or Z")
            return frozenset()
        if modes.motion is None:
            raise block.line.fault(f"{axes[0]} with no motion (G0, G1, G2, G3) in force")
        if modes.motion == CANCEL:
            raise block.line.fault(f"{axes[0]} while G80 is in force, which cancels motion")
        if not len(self.rows):
            self._note_assumed(block.line)
        if to_machine:
            return self._to_machine(block, axes)
        if modes.motion in CYCLES:
            return self._drill(block)
        end = self._target(block)
        if modes.motion == RAPID:
            self._add(Kind.RAPID, end, _NOWHERE, 0.0, 0.0, block.line)
            return _AXES
        return self._feed_move(block, end)

    def _target(self, block: Block) -> Point:
        """Where the line goes: words given, other axes as they are."""
        scale, values, absolute = self.modes.unit.mm, block.values, self.modes.absolute
        end = list(self._place)
        for index, axis in enumerate("XYZ"):
            if axis in values:
                step = values[axis] * scale
                if not absolute:
                    if math.isnan(end[index]):
                        raise block.line.fault(
                            f"{axis} as an increment (G91) from an unknown place; "
                            f"give {axis} once with G90 before"
                        )
                    step += end[index]
                end[index] = step
        return (end[0], end[1], end[2])

    def _to_machine(self, block: Block, axes: list[str]) -> frozenset[str]:
        """G53: where it ends is not known, which is no news on an axis that never was known."""
        if self.modes.motion not in (RAPID, FEED):
            raise block.line.fault("G53 without G0 or G1 in force")
        for axis in axes:
            if not math.isnan(self._place["XYZ".index(axis)]):
                raise block.line.fault(
                    "G53 is measured from the machine's own zero, which neither program nor job "
                    f"tells; it is read only before the first {axis} of the program"
                )
        kind, feed = Kind.RAPID, 0.0
        if self.modes.motion == FEED:
            kind, feed = Kind.LINE, self._feed_in_force(block.line)
        self._add(kind, self._place, _NOWHERE, 0.0, feed, block.line)
        return _AXES

    def _drill(self, block: Block) -> frozenset[str]:
        modes, line = self.modes, block.line
        if block.g.get(Group.ACTION) == DWELL:
            raise line.fault("G4 and a drilling cycle on one line: give the wait a line of its own")
        feed = self._feed_in_force(line)
        if Group.CYCLE_RETURN not in modes.stated:
            modes.stated.add(Group.CYCLE_RETURN)
            self.note(line.number, "no word gives the return in canned cycles: taken as G98")
        if modes.to_start and modes.sticky and modes.sticky.low:
            self.note(
                line.number, "G98 after G99 in one series: back to the height before this line"
            )
        cycle = drilling(block, self._place, modes)
        self._check_room(cycle.least_moves, line)
        for kind, end in cycle.steps():
            self._add(kind, end, _NOWHERE, 0.0, feed if kind is Kind.LINE else 0.0, line)
        self.dwell_seconds += cycle.sticky.wait * self._wait_unit * cycle.repeats
        modes.sticky = cycle.sticky
        return cycle.used

    def _feed_in_force(self, line: Line) -> float:
        if not self.modes.feed:
            raise line.fault("a feed move with no feed (F) in force")
        self._note_spindle(line)
        return self.modes.feed

    def _feed_move(self, block: Block, end: Point) -> frozenset[str]:
        feed, line = self._feed_in_force(block.line), block.line
        if self.modes.motion == FEED:
            self._add(Kind.LINE, end, _NOWHERE, 0.0, feed, line)
            return _AXES
        arc, plane = self._arc(block, end), self.modes.plane
        if plane is XY:
            self._add(Kind.ARC, end, arc.centre, arc.sweep, feed, line)
        else:
            self._in_chords(end, arc, feed, line)
        return plane.arc_words

    def _in_chords(self, end: Point, arc: Arc, feed: float, line: Line) -> None:
        """An arc outside the XY plane as straight moves."""
        if not self.arcs_in_chords:
            self.note(
                line.number,
                "arcs outside the XY plane (G18, G19) are judged as chords within "
                f"{TOLERANCES.arc_chord:g} mm, and every gap must be larger by as much",
            )
        before = len(self.rows)
        for place in chords(self.modes.plane, self._place, end, arc):
            self._add(Kind.LINE, place, _NOWHERE, 0.0, feed, line)
        self.arcs_in_chords += 1
        self.chords += len(self.rows) - before

    def _arc(self, block: Block, end: Point) -> Arc:
        """Centre and sweep of the arc to `end`, in the plane in force."""
        values, line, plane = block.values, block.line, self.modes.plane
        scale, inch = self.modes.unit.mm, self.modes.unit is Unit.INCH
        self._can_arc(block)
        start, goal = plane.flat(self._place), plane.flat(end)
        tolerance = TOLERANCES.arc_radius_inch * Unit.INCH.mm if inch else TOLERANCES.arc_radius_mm
        clockwise = self.modes.motion == CLOCKWISE
        try:
            if "R" in values:
                radius = values["R"] * scale
                arc = radius_format(start, goal, radius, clockwise=clockwise, tolerance=tolerance)
                self._note_radius(line, arc)
            else:
                first, second = plane.centre_words
                offset = (values.get(first, 0.0) * scale, values.get(second, 0.0) * scale)
                arc = centre_format(start, goal, offset, clockwise=clockwise, tolerance=tolerance)
        except ValueError as error:
            raise line.fault(str(error)) from None
        if abs(arc.sweep) < TINY_SWEEP:
            raise line.fault("an arc so short that some machines take it for a full turn")
        return arc

    def _can_arc(self, block: Block) -> None:
        """Refuse arcs whose words or whose start do not say where they run."""
        values, plane, place = block.values, self.modes.plane, self._place
        wrong = ""
        first, second = plane.centre_words
        by_centre = first in values or second in values
        if plane.words[0] not in values and plane.words[1] not in values:
            wrong = "without {0} or {1}"
        elif "R" in values and by_centre:
            wrong = "with both R and a centre ({2})"
        elif "R" not in values and not by_centre:
            wrong = "without a centre ({2}) or R"
        elif math.isnan(place[plane.first]) or math.isnan(place[plane.second]):
            wrong = "from an unknown place; give {0} and {1} before"
        elif plane.normal_word in values and math.isnan(place[plane.normal]):
            wrong = "with {3} from an unknown {3}; give {3} before"
        if wrong:
            name = "G2" if self.modes.motion == CLOCKWISE else "G3"
            centre = ", ".join(sorted(plane.centre_words))
            what = wrong.format(*sorted(plane.words), centre, plane.normal_word)
            raise block.line.fault(f"{name} {what}")

    def _add(
        self,
        kind: Kind,
        end: Point,
        centre: tuple[float, float],
        sweep: float,
        feed: float,
        line: Line,
    ) -> None:
        self._check_room(1, line)
        self.rows.add(kind, end, (centre, sweep), feed, line.number)

    def _check_room(self, moves: int, line: Line) -> None:
        if len(self.rows) + moves > MADE_LIMIT + line.number:
            raise line.fault(
                f"more than {MADE_LIMIT} moves beyond one a line, by repeats, pecks and arcs"
            )

    # Step 21: M0, M1, M2, M30.

    def _stop(self, code: int | None) -> None:
        if code in (0, 1):
            self.stops += 1
        elif code is not None:
            self.ended = True

    # Notes.

    def _note_assumed(self, line: Line) -> None:
        """At the first move: the modes that no word gave."""
        for group, name in _ASSUMED:
            if group not in self.modes.stated:
                self.note(line.number, f"no word gives the {group.value}: taken as {name}")
        if Group.UNITS not in self.modes.stated:
            name = "G21" if self.modes.unit is Unit.MM else "G20"
            self.note(
                line.number, f"no word gives the unit: taken as {name} ({self.modes.unit.value})"
            )
        self.first_unit = self.modes.unit

    def _note_spindle(self, line: Line) -> None:
        """Once each time: cutting with the spindle off, at no speed, or backwards."""
        if self.spindle_noted:
            return
        self.spindle_noted = True
        if self.modes.spindle == 4:
            self.note(line.number, "a feed move with the spindle turning backwards (M4)")
        elif self.modes.spindle == 5:
            self.note(line.number, "a feed move with the spindle off")
        elif not self.modes.rpm:
            self.note(line.number, "a feed move with no spindle speed (S) in force")

    def _note_radius(self, line: Line, arc: Arc) -> None:
        """The standard calls R bad near a half turn and worse near a full one (3.5.3.1)."""
        degrees = abs(math.degrees(arc.sweep))
        if 165.0 < degrees < 195.0 or degrees > 345.0:
            self.note(line.number, f"an arc of {degrees:.1f} degrees by R; its centre is uncertain")


def _left_over(letter: str) -> str:
    """Why a word that nothing on its line uses cannot be passed over."""
    if letter in "ABC":
        return f"{letter} turns an axis that this machine does not have"
    return f"{letter} means nothing to the other words of its line"
