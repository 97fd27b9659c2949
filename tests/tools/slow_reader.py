"""A slow reader of plain RS-274, written from the words of NISTIR 6556 alone.

It shares no code with toolpath and judges nothing: it takes for granted that a program is right.
Arcs are turned by complex numbers in the plane that is square to their axis.
"""

import cmath
import math
import re
from dataclasses import dataclass, field


@dataclass
class Path:
    """A straight move, or an arc of `turn` radians about `centre` in the axes `flat`."""

    line: int
    rapid: bool
    start: list
    end: list
    flat: tuple = ()
    centre: complex = 0j
    turn: float = 0.0

    def at(self, t):
        place = [a + (b - a) * t for a, b in zip(self.start, self.end, strict=True)]
        if self.flat:
            i, j = self.flat
            arm = complex(self.start[i], self.start[j]) - self.centre
            size = abs(complex(self.end[i], self.end[j]) - self.centre) / abs(arm)
            arm *= (1 + (size - 1) * t) * cmath.exp(1j * self.turn * t)
            place[i], place[j] = (self.centre + arm).real, (self.centre + arm).imag
        return place


@dataclass
class State:
    at: list = field(default_factory=lambda: [math.nan] * 3)
    scale: float = 1.0
    relative: bool = False
    # 3.5.3: in each plane the first axis turns into the second, seen from the third's positive end
    plane: tuple = (0, 1, 2)
    motion: float = 0
    low: bool = False
    kept: dict = field(default_factory=dict)
    paths: list = field(default_factory=list)
    line: int = 0

    def go(self, end, *, rapid, **arc):
        self.paths.append(Path(self.line, rapid, list(self.at), list(end), **arc))
        self.at = list(end)


def slow_read(text):
    """All paths of a program up to M2."""
    state = State()
    for number, line in enumerate(text.splitlines(), 1):
        bare = re.sub(r"\(.*?\)|\s", "", line).upper()
        words = [(w[0], float(w[1:])) for w in re.findall(r"[A-Z][^A-Z]+", bare)]
        state.line = number
        _line(state, [v for c, v in words if c == "G"], {c: v for c, v in words if c not in "GMN"})
        if ("M", 2.0) in words:
            break
    return state.paths


def _line(state, codes, words):
    # Table 8: plane, unit, distance mode, return of cycles, then the motion.
    planes = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
    for code in codes:
        state.plane = planes.get(code, state.plane)
        state.scale = {20: 25.4, 21: 1.0}.get(code, state.scale)
        state.relative = {90: False, 91: True}.get(code, state.relative)
        state.low = {98: False, 99: True}.get(code, state.low)
        state.motion = code if code in (0, 1, 2, 3, 80, 81, 82, 83) else state.motion
    if not {"X", "Y", "Z"} & set(words):
        return
    if state.motion > 80:
        _cycle(state, words)
        return
    end = list(state.at)
    for i, axis in enumerate("XYZ"):
        if axis in words:
            end[i] = words[axis] * state.scale + (state.at[i] if state.relative else 0)
    if state.motion in (0, 1):
        state.go(end, rapid=state.motion == 0)
    else:
        _arc(state, words, end)


def _arc(state, words, end):
    i, j, _ = state.plane
    a, b = complex(state.at[i], state.at[j]), complex(end[i], end[j])
    if "R" in words:
        # 3.5.3.1: the centre lies on the middle line of the chord; R > 0 takes the short way.
        size = abs(words["R"]) * state.scale
        aside = math.sqrt(max(size**2 - abs(b - a) ** 2 / 4, 0)) * 1j * (b - a) / abs(b - a)
        centre = (a + b) / 2 + (aside if (state.motion == 3) == (words["R"] > 0) else -aside)
    else:
        offset = [words.get("IJK"[axis], 0) * state.scale for axis in (i, j)]
        centre = a + complex(*offset)
    turn = cmath.phase((b - centre) / (a - centre)) % (2 * math.pi)
    if abs(a - b) < 1e-7:
        turn = 2 * math.pi
    elif state.motion == 2:
        turn -= 2 * math.pi
    turn = -abs(turn) if state.motion == 2 else abs(turn)
    state.go(end, rapid=False, flat=(i, j), centre=centre, turn=turn)


def _cycle(state, words):
    """3.5.16: preliminary motion, then for each repeat over, down to R, the hole, and back."""
    i, j, k = state.plane
    scaled = {c: v * state.scale for c, v in words.items() if c not in "LP"}
    state.kept |= scaled
    old, place = state.at[k], list(state.at)
    clear = state.kept["R"] + (old if state.relative else 0)
    bottom = state.kept["XYZ"[k]] + (clear if state.relative else 0)
    place[k] = max(old, clear)
    if old < clear:
        state.go(place, rapid=True)
    back = clear if state.low else place[k]
    for _ in range(int(words.get("L", 1))):
        for axis in (i, j):
            step = scaled.get("XYZ"[axis])
            if step is not None:
                place[axis] = step + (place[axis] if state.relative else 0)
        state.go(place, rapid=True)
        place[k] = clear
        state.go(place, rapid=True)
        pecks = 1
        if state.motion == 83:
            pecks = max(1, math.ceil((clear - bottom) / state.kept["Q"] - 1e-9))
        for peck in range(1, pecks + 1):
            place[k] = bottom if peck == pecks else clear - peck * state.kept["Q"]
            state.go(place, rapid=False)
            if peck < pecks:
                low, place[k] = place[k], back
                state.go(place, rapid=True)
                place[k] = low
                state.go(place, rapid=True)
        place[k] = back
        state.go(place, rapid=True)
