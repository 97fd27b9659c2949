"""Habits of small controllers that the standard has not and that are read, since they hide nothing.

None of them is in NISTIR 6556; all are common practice, no source. Each is noted.
"""

from __future__ import annotations

from enum import Enum


class Habit(Enum):
    """A habit, by what is said of it."""

    SEMICOLON = "a semicolon, which the standard has not: read as a comment"
    LONG_LABEL = "a line number of more than 5 digits, the most in the standard: passed over"
    FIRST_FENCE = "a % at the start and none at the end: passed over, as M2 or M30 ends the program"
    LAST_FENCE = "a % at the end and none at the start: read as the end of the program"
    ARC_CENTRES = "G91.1 read: arc centres from the arc's start, as ever"
    CHANGE_WITHOUT_TOOL = "M6 with no cutter chosen (T): read as no change"
    SAME_TOOL = "M6 with the cutter that is in already: read as no change"
    OVERRIDES_OFF = "M49 takes the feed override away from whoever stands at the machine"
    BLOCK_DELETE = "a line with /, which a switch may skip: it runs or not with the same moves"


class Habits:
    """Which habits were met: the first line of each and how often."""

    def __init__(self) -> None:
        self._met: dict[Habit, tuple[int, int]] = {}

    def meet(self, habit: Habit, line: int) -> None:
        """Count one use."""
        first, count = self._met.get(habit, (line, 0))
        self._met[habit] = (first, count + 1)

    def told(self) -> list[tuple[int, str]]:
        """A line and a message for each habit."""
        return [
            (first, habit.value if count == 1 else f"{habit.value} ({count} times)")
            for habit, (first, count) in self._met.items()
        ]
