"""How long a job takes: for each cutter, and as a whole with what is done by hand between.

Cutting times are those of the machine clock on the moves read back, with the waits of the
programs. What is done by hand is an allowance, not measured.
"""

from __future__ import annotations

from dataclasses import dataclass

from toolpath.show.scene import Scene
from toolpath.show.words import duration

PAUSE = 10.0
"""Seconds until a program that stops for the spindle (M0) is let go on (common practice, no
source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Seconds of a whole job. `cutters` in the order of first use; each program begins with a
    cutter put in and touched off, which takes `change`; `pauses` are stops for the spindle."""

    cutters: tuple[tuple[str, float], ...]
    programs: int
    change: float
    pauses: float

    @property
    def running(self) -> float:
        """All programs."""
        return sum(seconds for _, seconds in self.cutters)

    @property
    def changes(self) -> float:
        """All cutters put in."""
        return self.programs * self.change

    @property
    def whole(self) -> float:
        """All of it."""
        return self.running + self.changes + self.pauses


def times_of(scene: Scene) -> Times:
    """The times of a job and its plates."""
    machine = scene.job.machine
    cutters: dict[str, float] = {}
    programs = [program for each in scene.every for program in each.programs]
    for program in programs:
        name = program.cutter.name
        cutters[name] = cutters.get(name, 0.0) + program.seconds
    stops = len(programs) if machine.spindle_wait is None else 0
    return Times(
        cutters=tuple(cutters.items()),
        programs=len(programs),
        change=machine.change,
        pauses=stops * PAUSE,
    )


def time_words(times: Times) -> tuple[str, str]:
    """Time by cutter, and the whole, in words."""
    each = "; ".join(f"{name}: {duration(seconds)}" for name, seconds in times.cutters)
    count = "1 cutter" if times.programs == 1 else f"{times.programs} cutters"
    hands = f"{count} put in and touched off, {duration(times.change)} each"
    if times.pauses:
        hands += f", and {duration(times.pauses)} of stops for the spindle"
    return each, f"{duration(times.whole)} in all, with {hands}"
