"""A small reader of programs, from NISTIR 6556's words: text to ways of the tip.

It is lenient: what the check refuses to read it need not refuse.
"""

import math
import re
from dataclasses import dataclass

import numpy as np

LINE, ARC, RAPID = 0, 1, 2
AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""First and second axis of a plane, and the one across (NISTIR 6556, 3.5.3)."""
OFFSETS = "IJK"


class UnreadError(Exception):
    """The text means nothing to this reader."""


@dataclass(frozen=True)
class Way:
    """From `a` to `b` (3,), mm; arcs turn about `centre` (two axes of `plane`) by `sweep`."""

    kind: int
    a: np.ndarray
    b: np.ndarray
    centre: tuple[float, float] = (0.0, 0.0)
    sweep: float = 0.0
    plane: int = 17


def read(text: str, units: str) -> list[Way]:
    """The ways between places known on every axis; a rapid to the first such place stands there."""
    return _Machine(25.4 if units == "in" else 1.0).run(text)


class _Machine:
    def __init__(self, unit: float) -> None:
        self.unit, self.place, self.ways = unit, np.full(3, np.nan), []
        self.mode, self.plane, self.absolute, self.back = None, 17, True, 98
        self.sticky: dict[str, float] = {}

    def run(self, text: str) -> list[Way]:
        for raw in text.splitlines():
            line = re.sub(r"\(.*?\)", "", raw).split(";")[0].replace(" ", "").upper()
            if line in ("", "%"):
                continue
            words = re.findall(r"([A-Z])([-+]?(?:\d+\.?\d*|\.\d+))", line)
            if "".join(a + b for a, b in words) != line:
                raise UnreadError(raw)
            if self._line([(a, float(b)) for a, b in words]):
                break
        return self.ways

    def _line(self, words) -> bool:
        ms = [value for letter, value in words if letter == "M"]
        values = {letter: value for letter, value in words if letter not in "GMN"}
        motion = None
        for code in [value for letter, value in words if letter == "G"]:
            if code in (0, 1, 2, 3, 73, 80, 81, 82, 83):
                motion = self.mode = int(code)
            elif code in (17, 18, 19):
                self.plane = int(code)
            elif code in (20, 21):
                self.unit = 25.4 if code == 20 else 1.0
            elif code in (90, 91):
                self.absolute = code == 90
            elif code in (98, 99):
                self.back = int(code)
            elif code not in (4, 40, 49, 54, 61, 61.1, 64, 91.1, 94):
                raise UnreadError(f"G{code}")
        if motion is not None:
            self.sticky = {}
        if any(axis in values for axis in "XYZ"):
            self._move(values)
        return bool({2, 30} & set(ms))

    def _target(self, values) -> np.ndarray:
        goal = self.place.copy()
        for index, axis in enumerate("XYZ"):
            if axis in values:
                step = values[axis] * self.unit
                goal[index] = step if self.absolute else goal[index] + step
        return goal

    def _move(self, values) -> None:
        if self.mode is None or self.mode == 80:
            raise UnreadError("no motion")
        if self.mode > 3:
            self._cycle(values)
            return
        goal = self._target(values)
        if self.mode in (2, 3):
            self._arc(goal, values)
        else:
            self._add(RAPID if self.mode == 0 else LINE, goal)

    def _add(self, kind: int, goal: np.ndarray, **more) -> None:
        if np.isfinite(goal).all():
            start = self.place if np.isfinite(self.place).all() else goal
            self.ways.append(Way(kind, start.copy(), goal.copy(), **more))
        self.place = goal.copy()

    def _arc(self, goal: np.ndarray, values) -> None:
        one, two, _ = AXES[self.plane]
        a, b = self.place[[one, two]], goal[[one, two]]
        if not np.isfinite([*self.place, *goal]).all():
            raise UnreadError("an arc from nowhere")
        clockwise = self.mode == 2
        if "R" in values:
            centre = _by_radius(a, b, values["R"] * self.unit, clockwise)
        else:
            given = [values.get(OFFSETS[axis], 0.0) * self.unit for axis in (one, two)]
            centre = a + np.array(given)
        turned = math.atan2(*(b - centre)[::-1]) - math.atan2(*(a - centre)[::-1])
        turned = -((-turned) % math.tau) if clockwise else turned % math.tau
        if abs(turned) * math.hypot(*(a - centre)) < 1e-6 or math.hypot(*(b - a)) < 1e-7:
            turned = -math.tau if clockwise else math.tau
        self._add(ARC, goal, centre=tuple(centre), sweep=turned, plane=self.plane)

    def _cycle(self, values) -> None:
        """G81, G82, G83, G73 along the axis across the plane (NISTIR 6556, 3.5.16): pecks stay in
        the hole. In steps R counts from where the tip is, and the bottom from there."""
        across = AXES[self.plane][2]
        depth = "XYZ"[across]
        self.sticky.update({k: values[k] for k in (depth, "R") if k in values})
        clear, bottom = self.sticky["R"] * self.unit, self.sticky[depth] * self.unit
        old = self.place[across]
        if not self.absolute:
            clear += old
            bottom += clear
        if old < clear:
            self._along(across, clear, RAPID)
        over = self._target({k: v for k, v in values.items() if k != depth})
        over[across] = self.place[across]
        self._add(RAPID, over)
        self._along(across, clear, RAPID)
        self._along(across, bottom, LINE)
        self._along(across, max(old, clear) if self.back == 98 else clear, RAPID)

    def _along(self, axis: int, to: float, kind: int) -> None:
        goal = self.place.copy()
        goal[axis] = to
        self._add(kind, goal)


def _by_radius(a: np.ndarray, b: np.ndarray, radius: float, clockwise: bool) -> np.ndarray:
    chord = b - a
    length = math.hypot(*chord)
    if length == 0.0:
        raise UnreadError("a full turn by R")
    aside = math.sqrt(max(radius * radius - length * length / 4.0, 0.0)) / length
    left = np.array([-chord[1], chord[0]]) * aside
    return (a + b) / 2.0 + (-left if clockwise == (radius > 0.0) else left)
