"""Random programs near a place of a job, as text."""

import math

import numpy as np

from proof.nouns import Job
from proof.ways import from_page


class Writer:
    """Text in the unit and the modes at hand; it knows where the tip is by the written numbers."""

    def __init__(self, rng, job: Job, units: str) -> None:
        self.rng, self.units = rng, units
        self.unit = {"mm": 1.0, "in": 25.4}[units]
        self.decimals = int(rng.choice([3, 4, 4, 5])) + (1 if units == "in" else 0)
        self.floor = -(job.thickness - job.within) + 0.3
        self.increments = False
        self.place = np.full(3, np.nan)
        code = {"mm": "G21", "in": "G20"}[units]
        self.lines = [f"{code} G17 G90 G94 G54", "S12000 M3", f"F{self.number(600.0)}"]

    def number(self, value: float) -> str:
        return f"{value / self.unit:.{self.decimals}f}"

    def rounded(self, value: float) -> float:
        return float(self.number(value)) * self.unit

    def words(self, goal, axes: str) -> str:
        """Axis words to a goal (3,); afterwards the tip is where they say."""
        found = []
        for axis in axes:
            i = "XYZ".index(axis)
            step = goal[i] - self.place[i] if self.increments else goal[i]
            found.append(f"{axis}{self.number(step)}")
            base = self.place[i] if self.increments else 0.0
            self.place[i] = base + self.rounded(step)
        return " ".join(found)

    def go(self, code: str, goal, axes: str = "XYZ", more: str = "") -> None:
        self.lines.append(f"{code} {self.words(goal, axes)} {more}".strip())

    def text(self) -> str:
        return "\n".join([*self.lines, "M5", "M2", ""])


def _line(rng, w: Writer) -> None:
    axes = str(rng.choice(["X", "Y", "Z", "XY", "XYZ", "XZ"]))
    goal = w.place + rng.uniform(-12.0, 12.0, 3) * [1.0, 1.0, 0.3]
    goal[2] = max(goal[2], w.floor)
    w.go("G1", goal, axes)


def _arc(rng, w: Writer) -> None:
    """In XY, by centre or by radius, with or without a fall."""
    radius, first = float(rng.uniform(0.8, 14.0)), float(rng.uniform(0.0, math.tau))
    clockwise, full = bool(rng.random() < 0.5), bool(rng.random() < 0.25)
    sweep = math.tau if full else float(rng.uniform(0.2, 6.0))
    by_radius = not full and rng.random() < 0.3
    if by_radius:
        sweep = min(sweep, 2.8)
    offset = np.array([w.rounded(-radius * math.cos(first)), w.rounded(-radius * math.sin(first))])
    start = w.place.copy()
    last = math.atan2(*-offset[::-1]) + (-sweep if clockwise else sweep)
    goal = start.copy()
    if not full:
        goal[:2] = (
            start[:2] + offset + math.hypot(*offset) * np.array([math.cos(last), math.sin(last)])
        )
    axes = "XY"
    if rng.random() < 0.5:
        goal[2], axes = max(start[2] + rng.uniform(-3.0, 3.0), w.floor), "XYZ"
    code = "G2" if clockwise else "G3"
    if by_radius:
        w.go(code, goal, axes, f"R{w.number(radius)}")
    else:
        w.go(code, goal, axes, f"I{w.number(offset[0])} J{w.number(offset[1])}")


def _upright_arc(rng, w: Writer) -> None:
    """In ZX or YZ: a bow up from where the tip is."""
    plane, letters, axes = [(18, "KI", "ZX"), (19, "JK", "YZ")][rng.integers(2)]
    one, two = ("XYZ".index(axis) for axis in axes)
    half = float(rng.uniform(1.0, 6.0))
    level = two if plane == 18 else one
    goal = w.place.copy()
    goal[level] += 2.0 * w.rounded(half)
    offset = dict.fromkeys(letters, 0.0)
    offset["I" if plane == 18 else "J"] = half
    # From one end of a level chord over the top to the other: which way depends on the plane.
    code = "G3" if plane == 19 else "G2"
    code = (
        {"G3": "G2", "G2": "G3"}[code]
        if rng.random() < 0.3 and w.place[2] > w.floor + half
        else code
    )
    more = " ".join(f"{letter}{w.number(value)}" for letter, value in sorted(offset.items()))
    w.lines.append(f"G{plane}")
    w.go(code, goal, axes, more)
    w.lines.append("G17")


def _cycle(rng, w: Writer) -> None:
    clear, bottom = w.place[2] + 1.0, max(w.place[2] - rng.uniform(0.5, 4.0), w.floor)
    goal = w.place + np.append(rng.uniform(-5.0, 5.0, 2), 0.0)
    code = str(rng.choice(["G81", "G82 P0.5", "G83 Q1"]))
    w.lines.append(
        f"G99 {code} X{w.number(goal[0])} Y{w.number(goal[1])} Z{w.number(bottom)} "
        f"R{w.number(clear)}"
    )
    w.lines.append("G80")
    w.place = np.array([w.rounded(goal[0]), w.rounded(goal[1]), w.rounded(clear)])


def _rapid(rng, w: Writer) -> None:
    axes = str(rng.choice(["X", "Y", "Z", "XY", "XYZ"]))
    goal = w.place + rng.uniform(-10.0, 10.0, 3) * [1.0, 1.0, 0.3]
    goal[2] = max(goal[2], w.floor)
    w.go("G0", goal, axes)


MOVES = {"line": _line, "arc": _arc, "rapid": _rapid, "upright arc": _upright_arc, "cycle": _cycle}
SHARES = {"line": 0.42, "arc": 0.42, "rapid": 0.16}
RARE = 0.03
"""Share of programs with an arc in another plane, and of those with a canned cycle."""


def random_program(rng, job: Job, anchor: np.ndarray) -> str:
    """Down to a place (blank frame), a few moves from there, up again."""
    other = {"mm": "in", "in": "mm"}[job.units]
    w = Writer(rng, job, other if rng.random() < 0.15 else job.units)
    goal = from_page(job, anchor[None])[0]
    goal[2] = max(goal[2], w.floor)
    top = np.array([goal[0], goal[1], 25.0])
    w.go("G0", top, "Z")
    w.go("G0", top, "XY")
    w.go("G1" if rng.random() < 0.8 else "G0", goal, "Z")
    kinds = list(rng.choice(list(SHARES), size=rng.integers(1, 5), p=list(SHARES.values())))
    for odd in ("upright arc", "cycle"):
        if rng.random() < RARE:
            kinds.append(odd)
    for kind in kinds:
        if kind == "line" and rng.random() < 0.15 and not w.increments:
            w.increments = True
            w.lines.append("G91")
        elif w.increments and (kind == "cycle" or rng.random() < 0.6):
            w.increments = False
            w.lines.append("G90")
        MOVES[kind](rng, w)
    if w.increments:
        w.lines.append("G90")
        w.increments = False
    w.go("G0", top, "Z")
    return w.text()
