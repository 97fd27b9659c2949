"""Drilling cycles G81, G82 and G83 taken apart into moves (NISTIR 6556, 3.5.16).

Heights lie along the axis square to the selected plane. Where the report leaves open how far G83
stops above the last bottom, it is taken as not at all: the column it passes is the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from toolpath.motion.moves import Kind, Point
from toolpath.rs274.codes import Block, whole
from toolpath.rs274.modes import Modes, Sticky

SIMPLE, WAITING, PECKING = 810, 820, 830
"""Ten times G81, G82, G83."""

CYCLES = frozenset((SIMPLE, WAITING, PECKING))

_EXTRA = {WAITING: "P", PECKING: "Q"}
_WORDS = {"P": "the wait at the bottom", "Q": "the depth of a peck", "R": "the height to clear"}
_NOISE = 1e-9
"""Heights nearer than this, mm, are one: what sums of pecks lose."""

Step = tuple[Kind, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilling:
    """What a line with a cycle asks for: heights and places in mm, `used` letters."""

    modes: Modes
    start: Point
    first: tuple[float, float]
    stride: tuple[float, float]
    repeats: int
    clear: float
    bottom: float
    sticky: Sticky
    used: frozenset[str]

    @property
    def least_moves(self) -> int:
        """No more moves than `steps` gives, so that endless ones are refused before any is made."""
        peck = self.sticky.peck
        pecks = max(0, int(min((self.clear - self.bottom) / peck, 1e9)) - 2) if peck else 0
        return self.repeats * (3 * pecks + 2)

    def steps(self) -> Iterator[Step]:
        """The moves, made as they are asked for."""
        plane = self.modes.plane
        level, (a, b) = self.start[plane.normal], plane.flat(self.start)
        if level < self.clear:
            level = self.clear
            yield Kind.RAPID, plane.place((a, b), level)
        back = level if self.modes.to_start else self.clear
        for number in range(self.repeats):
            at = (self.first[0] + number * self.stride[0], self.first[1] + number * self.stride[1])
            if at != (a, b):
                yield Kind.RAPID, plane.place(at, level)
            if level != self.clear:
                yield Kind.RAPID, plane.place(at, self.clear)
            for kind, height in self._hole(back):
                yield kind, plane.place(at, height)
            level, (a, b) = back, at

    def _hole(self, back: float) -> Iterator[tuple[Kind, float]]:
        """Down from the height to clear and back out: kinds and heights."""
        level, peck = self.clear, self.sticky.peck
        while peck and level - peck > self.bottom + _NOISE:
            level -= peck
            yield from ((Kind.LINE, level), (Kind.RAPID, back), (Kind.RAPID, level))
        yield Kind.LINE, self.bottom
        yield Kind.RAPID, back


def drilling(block: Block, start: Point, modes: Modes) -> Drilling:
    """What the cycle in force asks for on a line.

    Raises
    ------
    ProgramError
        For words that are missing or out of range, and where the start does not say where it goes.
    """
    plane, scale, values = modes.plane, modes.unit.mm, block.values
    level, here = start[plane.normal], plane.flat(start)
    if math.isnan(level):
        axis = plane.normal_word
        raise block.line.fault(f"{_name(modes)} from an unknown {axis}; give {axis} before")
    sticky = _sticky(block, modes)
    one, other = (values[word] * scale if word in values else None for word in plane.words)
    if modes.absolute:
        stride = (0.0, 0.0)
        first = (here[0] if one is None else one, here[1] if other is None else other)
        clear, bottom = sticky.clear, sticky.bottom
    else:
        stride = (one or 0.0, other or 0.0)
        first = (here[0] + stride[0], here[1] + stride[1])
        clear = level + sticky.clear
        bottom = clear + sticky.bottom
    _can_drill(block, modes, first, (clear, bottom))
    return Drilling(
        modes=modes,
        start=start,
        first=first,
        stride=stride,
        repeats=_repeats(block),
        clear=clear,
        bottom=bottom,
        sticky=sticky,
        used=frozenset(("X", "Y", "Z", "R", "L", _EXTRA.get(sticky.motion, "R"))),
    )


def _name(modes: Modes) -> str:
    return f"G{(modes.motion or 0) // 10}"


def _can_drill(
    block: Block, modes: Modes, first: tuple[float, float], heights: tuple[float, float]
) -> None:
    plane = modes.plane
    for word, value in zip(plane.words, first, strict=True):
        if math.isnan(value):
            raise block.line.fault(f"{_name(modes)} at an unknown {word}; give {word} before")
    clear, bottom = heights
    if clear < bottom:
        raise block.line.fault(
            f"{_name(modes)} clears at {clear:.4f} mm, below its bottom at {bottom:.4f} mm"
        )


def _sticky(block: Block, modes: Modes) -> Sticky:
    """The words that hold from line to line: those given, others as the line before had them."""
    motion = modes.motion or 0
    kept = modes.sticky if modes.sticky and modes.sticky.motion == motion else None
    values, scale, normal = block.values, modes.unit.mm, modes.plane.normal_word
    extra = _EXTRA.get(motion)
    for letter in ("R", normal, *([extra] if extra else [])):
        if letter not in values and kept is None:
            what = _WORDS.get(letter, "the bottom")
            raise block.line.fault(f"{_name(modes)} without {letter}, {what}")
    peck = values["Q"] * scale if extra == "Q" and "Q" in values else kept.peck if kept else 0.0
    wait = values["P"] if extra == "P" and "P" in values else kept.wait if kept else 0.0
    if extra == "Q" and not peck > 0.0:
        raise block.line.fault("Q, the depth of a peck, must be more than 0")
    if wait < 0.0:
        raise block.line.fault(f"P{wait:g}: a wait cannot be negative")
    return Sticky(
        motion=motion,
        clear=values["R"] * scale if "R" in values or kept is None else kept.clear,
        bottom=values[normal] * scale if normal in values or kept is None else kept.bottom,
        peck=peck,
        wait=wait,
        low=not modes.to_start or (kept is not None and kept.low),
    )


def _repeats(block: Block) -> int:
    repeats = whole(block.line, "L", block.values.get("L", 1.0))
    if repeats == 0:
        raise block.line.fault("L0: a cycle runs once at least")
    return repeats
