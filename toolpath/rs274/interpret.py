"""The reader's machine: modes, position and spindle, changed line by line.

Every step of a line is taken in the order of NISTIR 6556, table 8. The machine has its own
code; it shares nothing with the writer but nouns.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from toolpath.motion.moves import Kind, MoveTable, Point
from toolpath.rs274.arcs import Arc, centre_format, radius_format
from toolpath.rs274.codes import Block, Group, whole
from toolpath.rs274.program import ProgramNote, SpeedWord
from toolpath.rs274.words import Line
from toolpath.tolerances import TOLERANCES
from toolpath.units import Unit

RAPID, FEED, CLOCKWISE, COUNTER, CANCEL = 0, 10, 20, 30, 800
"""Motion codes times ten: G0, G1, G2, G3, G80."""

TINY_SWEEP = 1e-5
"""Arcs of less (radians) are taken for full turns by some machines: they cannot be
judged."""

_NOWHERE = (math.nan, math.nan)
_ASSUMED = (
    (Group.PLANE, "G17 (XY plane)"),
    (Group.DISTANCE, "G90 (absolute)"),
    (Group.FEED_MODE, "G94 (feed per minute)"),
    (Group.ZERO, "G54 (first zero)"),
)

_UNIT_NAMES = {Unit.MM: "millimetres (G21)", Unit.INCH: "inches (G20)"}


class Machine:
    """What is in force while a program runs. `run` one line after the other until `ended`."""

    def __init__(self, *, unit: Unit, wait_in_ms: bool = False) -> None:
        self.unit = unit
        self.first_unit = unit
        self.notes: list[ProgramNote] = []
        self.speeds: list[SpeedWord] = []
        self.dwell_seconds = 0.0
        self.stops = 0
        self.ended = False
        self._wait_unit = 0.001 if wait_in_ms else 1.0
        self._stated: set[Group] = set()
        self._place: Point = (math.nan, math.nan, math.nan)
        self._absolute = True
        self._motion: int | None = None
        self._feed: float | None = None
        self._rpm: float | None = None
        self._spindle = 5
        self._spindle_noted = False
        self._tool: int | None = None
        self._rows: list[tuple[int, Point, Point, tuple[float, float], float, float, int]] = []

    def run(self, block: Block) -> None:
        """Carry out one line in the order of table 8, then see that no word was left over."""
        values, g, m, line = block.values, block.g, block.m, block.line
        self._words_first(line, values)
        if m:
            self._switches(line, m)
        used = {"F", "S", "T"}
        if g:
            if g.get(Group.ACTION) is not None:
                self._dwell(line, values)
                used.add("P")
            self._modes(line, g)
        used |= self._move(block)
        for letter in values:
            if letter not in used:
                raise line.fault(_left_over(letter))
        if m:
            self._stop(m.get(Group.STOPPING))

    def table(self) -> MoveTable:
        """All moves so far."""
        columns = list(zip(*self._rows, strict=True)) or [()] * 7
        kind, start, end, centre, sweep, feed, line = columns
        return MoveTable(
            kind=np.array(kind, dtype=np.int8),
            start=np.array(start, dtype=np.float64).reshape(-1, 3),
            end=np.array(end, dtype=np.float64).reshape(-1, 3),
            centre=np.array(centre, dtype=np.float64).reshape(-1, 2),
            sweep=np.array(sweep, dtype=np.float64),
            feed=np.array(feed, dtype=np.float64),
            line=np.array(line, dtype=np.int64),
        )

    def note(self, line: int, message: str) -> None:
        """Keep a note."""
        self.notes.append(ProgramNote(line=line, message=message))

    # Steps 3 to 5: F, S, T.

    def _words_first(self, line: Line, values: Mapping[str, float]) -> None:
        if "F" in values:
            if values["F"] < 0:
                raise line.fault(f"F{values['F']:g}: a feed cannot be negative")
            self._feed = values["F"] * self.unit.mm
        if "S" in values:
            if values["S"] < 0:
                raise line.fault(f"S{values['S']:g}: a speed cannot be negative")
            self._rpm = values["S"]
            self._spindle_noted = False
            self.speeds.append(SpeedWord(line=line.number, rpm=values["S"]))
        if "T" in values:
            self._select(line, whole(line, "T", values["T"]))

    def _select(self, line: Line, tool: int) -> None:
        if self._tool is not None and tool != self._tool:
            raise line.fault(
                f"T{tool}: a second cutter in mid-program (T{self._tool} before); "
                "a program is judged with one cutter"
            )
        self._tool = tool

    # Steps 6 to 9: M6, spindle; coolant and overrides move nothing.

    def _switches(self, line: Line, m: Mapping[Group, int]) -> None:
        if Group.CHANGE in m:
            if self._rows:
                raise line.fault(
                    "M6 after motion: a second cutter in mid-program; "
                    "a program is judged with one cutter"
                )
            self._spindle = 5
        if Group.SPINDLE in m:
            self._spindle = m[Group.SPINDLE]
            self._spindle_noted = False

    # Step 10: G4.

    def _dwell(self, line: Line, values: Mapping[str, float]) -> None:
        if "P" not in values:
            raise line.fault("G4 without P, the time to wait")
        if values["P"] < 0:
            raise line.fault(f"P{values['P']:g}: a wait cannot be negative")
        self.dwell_seconds += values["P"] * self._wait_unit

    # Steps 11 to 18: modes.

    def _modes(self, line: Line, g: Mapping[Group, int]) -> None:
        if Group.UNITS in g:
            self._set_unit(line, Unit.INCH if g[Group.UNITS] == 200 else Unit.MM)
        if Group.ARC_CENTRES in g:
            self.note(line.number, "G91.1 read: arc centres from the arc's start, as ever")
        if Group.DISTANCE in g:
            self._absolute = g[Group.DISTANCE] == 900
        self._stated.update(g)

    def _set_unit(self, line: Line, unit: Unit) -> None:
        """Change the unit. A feed given before any unit was in force is one in the new unit;
        later on a feed stays what it is in mm/min, since table 8 sets it before the unit."""
        in_force = Group.UNITS in self._stated or bool(self._rows)
        if in_force and unit is not self.unit:
            self.note(line.number, f"the unit changes to {unit.value} in mid-program")
        elif unit is not self.unit:
            here, there = _UNIT_NAMES[unit], _UNIT_NAMES[self.unit]
            self.note(line.number, f"the program is in {here}, the job in {there}: is that meant?")
            if self._feed is not None:
                self._feed *= unit.mm / self.unit.mm
        self.unit = unit

    # Step 20: motion.

    def _move(self, block: Block) -> set[str]:
        """Carry out the motion of a line, if any; the letters it used."""
        asked = block.g.get(Group.MOTION)
        if asked is not None:
            self._motion = asked
        axes = [axis for axis in "XYZ" if axis in block.values]
        if not axes:
            if asked is not None and asked != CANCEL:
                raise block.line.fault(f"G{asked // 10} without X, Y or Z")
            return set()
        if self._motion is None:
            raise block.line.fault(f"{axes[0]} with no motion (G0, G1, G2, G3) in force")
        if self._motion == CANCEL:
            raise block.line.fault(f"{axes[0]} while G80 is in force, which cancels motion")
        if not self._rows:
            self._note_assumed(block.line)
        end = self._target(block)
        if self._motion == RAPID:
            self._add(Kind.RAPID, end, _NOWHERE, 0.0, 0.0, block.line)
            return {"X", "Y", "Z"}
        return self._feed_move(block, end)

    def _target(self, block: Block) -> Point:
        """Where the line goes: words given, other axes as they are."""
        scale, values = self.unit.mm, block.values
        end = list(self._place)
        for index, axis in enumerate("XYZ"):
            if axis in values:
                step = values[axis] * scale
                if not self._absolute:
                    if math.isnan(end[index]):
                        raise block.line.fault(
                            f"{axis} as an increment (G91) from an unknown place; "
                            f"give {axis} once with G90 before"
                        )
                    step += end[index]
                end[index] = step
        return (end[0], end[1], end[2])

    def _feed_move(self, block: Block, end: Point) -> set[str]:
        if not self._feed:
            raise block.line.fault("a feed move with no feed (F) in force")
        self._note_spindle(block.line)
        if self._motion == FEED:
            self._add(Kind.LINE, end, _NOWHERE, 0.0, self._feed, block.line)
            return {"X", "Y", "Z"}
        arc = self._arc(block, end)
        self._add(Kind.ARC, end, arc.centre, arc.sweep, self._feed, block.line)
        return {"X", "Y", "Z", "I", "J", "R"}

    def _arc(self, block: Block, end: Point) -> Arc:
        """Centre and sweep of the arc to `end`."""
        values, line, scale = block.values, block.line, self.unit.mm
        self._can_arc(block)
        start, goal = self._place[:2], end[:2]
        tolerance = (
            TOLERANCES.arc_radius_mm
            if self.unit is Unit.MM
            else TOLERANCES.arc_radius_inch * Unit.INCH.mm
        )
        clockwise = self._motion == CLOCKWISE
        try:
            if "R" in values:
                radius = values["R"] * scale
                arc = radius_format(start, goal, radius, clockwise=clockwise, tolerance=tolerance)
                self._note_radius(line, arc)
            else:
                offset = (values.get("I", 0.0) * scale, values.get("J", 0.0) * scale)
                arc = centre_format(start, goal, offset, clockwise=clockwise, tolerance=tolerance)
        except ValueError as error:
            raise line.fault(str(error)) from None
        if abs(arc.sweep) < TINY_SWEEP:
            raise line.fault("an arc so short that some machines take it for a full turn")
        return arc

    def _can_arc(self, block: Block) -> None:
        """Refuse arcs whose words or whose start do not say where they run."""
        values, line = block.values, block.line
        name = "G2" if self._motion == CLOCKWISE else "G3"
        if "X" not in values and "Y" not in values:
            raise line.fault(f"{name} without X or Y")
        by_centre = "I" in values or "J" in values
        if "R" in values and by_centre:
            raise line.fault(f"{name} with both R and a centre (I, J)")
        if "R" not in values and not by_centre:
            raise line.fault(f"{name} without a centre (I, J) or R")
        if math.isnan(self._place[0]) or math.isnan(self._place[1]):
            raise line.fault(f"{name} from an unknown place; give X and Y before")
        if "Z" in values and math.isnan(self._place[2]):
            raise line.fault(f"{name} with Z from an unknown height; give Z before")

    def _add(
        self,
        kind: Kind,
        end: Point,
        centre: tuple[float, float],
        sweep: float,
        feed: float,
        line: Line,
    ) -> None:
        self._rows.append((kind, self._place, end, centre, sweep, feed, line.number))
        self._place = end

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
            if group not in self._stated:
                self.note(line.number, f"no word gives the {group.value}: taken as {name}")
        if Group.UNITS not in self._stated:
            name = "G21" if self.unit is Unit.MM else "G20"
            self.note(line.number, f"no word gives the unit: taken as {name} ({self.unit.value})")
        self.first_unit = self.unit

    def _note_spindle(self, line: Line) -> None:
        """Once each time: cutting with the spindle off, at no speed, or backwards."""
        if self._spindle_noted:
            return
        self._spindle_noted = True
        if self._spindle == 4:
            self.note(line.number, "a feed move with the spindle turning backwards (M4)")
        elif self._spindle == 5:
            self.note(line.number, "a feed move with the spindle off")
        elif not self._rpm:
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
