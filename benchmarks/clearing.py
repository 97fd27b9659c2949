"""The named case "clearing": what plain clearing costs, on the text of the programs.

    python benchmarks/clearing.py [--once] [--even]

Twenty-four pockets of one cutter, curved ones flattened to 0.005 mm as drawings bring them. Printed
for each: the length fed at a level, its ways in included, over area / stepover; the machine's time
at 500 mm/s2 over what area / stepover takes at the feed; lifts for each region and level; feed
moves shorter than 0.05 mm, and how many of them geometry demands: those that end in a corner of the
path, where nothing can be joined within its tolerance. For the curved ones also the lines of the
whole program, head, ways in and links included, over those of the same path with every chord of it
as a line of its own; and over those of the path round the exact curve, flattened afresh with as few
chords as 0.005 mm allows, which are much fewer than a path beside a flattened drawing has. With
`--even` the curves are sampled evenly instead of thinned.
"""

from __future__ import annotations

import argparse
import math
import statistics
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from leftover import cutter, job_of
from numpy.typing import NDArray

from toolpath.app.emit import emit
from toolpath.app.publish import fresh
from toolpath.drawing.outline import Err, Loop, Outline, Region, area_of
from toolpath.drawing.shapes import circle, rect, slot
from toolpath.job.model import Job
from toolpath.motion.clock import seconds
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan import curves
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.programs import unbroken_runs
from toolpath.rs274.read import read_program_file

FloatArray = NDArray[np.float64]

FLAT = 0.005
EXACT = 5e-5
SHORT = 0.05
CORNER = math.radians(30.0)


def flattened(point: FloatArray, off: float = FLAT) -> Region:
    """A smooth closed curve, thinned so that no chord is more than so much off."""
    line = shapely.simplify(shapely.linestrings(np.vstack([point, point[:1]])), off)
    return Region(outer=Loop.of_polygon(shapely.get_coordinates(line)[:-1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A closed curve that swells so many times on its way round."""

    wide: float
    high: float
    waves: int
    swell: float
    turn: float = 0.0

    def places(self, count: int) -> FloatArray:
        angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
        size = 1.0 + self.swell * np.sin(self.waves * angle + self.turn)
        x, y = 40 + self.wide * size * np.cos(angle), 35 + self.high * size * np.sin(angle)
        return np.column_stack([x, y])

    def region(self, off: float = FLAT) -> Region:
        return flattened(self.places(20_000), off)

    def sampled(self) -> Region:
        """At even angles, as few as keep every chord within `FLAT`."""
        for count in range(64, 2000, 32):
            twice = self.places(2 * count)
            points, middles = twice[::2], shapely.points(twice[1::2])
            chords = shapely.linestrings(np.stack([points, np.roll(points, -1, axis=0)], axis=1))
            if shapely.distance(chords, middles).max() <= FLAT:
                break
        return Region(outer=Loop.of_polygon(points))


def wave(wide: float, high: float, waves: int, swell: float, turn: float = 0.0) -> Wave:
    return Wave(wide=wide, high=high, waves=waves, swell=swell, turn=turn)


def polygon(*corners: tuple[float, float]) -> Region:
    return Region(outer=Loop.of_polygon(np.array(corners, dtype=float)))


HEXAGON = [(40 + 30 * math.cos(a), 35 + 30 * math.sin(a)) for a in np.arange(6) * math.pi / 3]
STRAIGHT: dict[str, tuple[Outline, Outline]] = {
    "square": ((rect(0, 0, 60, 60),), ()),
    "strip": ((rect(0, 0, 80, 15),), ()),
    "wide": ((rect(0, 0, 80, 60),), ()),
    "L": ((polygon((0, 0), (60, 0), (60, 20), (25, 20), (25, 50), (0, 50)),), ()),
    "T": ((rect(0, 40, 80, 60), rect(28, 0, 52, 41)), ()),
    "triangle": ((polygon((0, 0), (80, 0), (40, 60)),), ()),
    "hexagon": ((polygon(*HEXAGON),), ()),
    "two islands": ((rect(0, 0, 80, 50),), (circle(25, 25, 8), rect(50, 15, 65, 35))),
    "ring": ((rect(0, 0, 70, 70),), (rect(20, 20, 50, 50),)),
    "dumbbell": ((rect(0, 0, 30, 40), rect(50, 0, 80, 40), rect(29, 13, 51, 27)), ()),
    "slot": ((slot(10, 20, 70, 20, 14),), ()),
    "round corners": ((rect(0, 0, 70, 50, 8),), ()),
}
CURVED: dict[str, tuple[Wave, Outline | Wave]] = {
    "circle": (wave(30, 30, 1, 0.0), ()),
    "ellipse": (wave(38, 22, 1, 0.0), ()),
    "egg": (wave(32, 26, 1, 0.15), ()),
    "trefoil": (wave(28, 28, 3, 0.15), ()),
    "four leaves": (wave(28, 28, 4, 0.12), ()),
    "five leaves": (wave(30, 28, 5, 0.1), ()),
    "seven leaves": (wave(32, 28, 7, 0.06), ()),
    "bean": (wave(34, 24, 2, 0.2, 0.7), ()),
    "pebble": (wave(30, 25, 3, 0.06, 1.1), ()),
    "round a disc": (wave(34, 30, 5, 0.05), (circle(40, 35, 10),)),
    "round a pebble": (wave(36, 32, 3, 0.05), wave(9, 7, 3, 0.1)),
    "long egg": (wave(38, 14, 1, 0.1), ()),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    length: float
    time: float
    lifts: float
    lines: int
    short: int
    corner: int
    """Of the short moves, those between corners."""


def curved(name: str, region: Callable[[Wave], Region] = Wave.region) -> tuple[Outline, Outline]:
    """Outline and islands, their waves flattened."""
    outer, inner = CURVED[name]
    return (region(outer),), (region(inner),) if isinstance(inner, Wave) else inner


def fewest(points: FloatArray) -> FloatArray:
    """The points (n, 2) of a line that are left where chords are as long as `FLAT` allows."""
    kept, here = [0], 0
    while here < len(points) - 1:
        good, bad = here + 1, len(points)
        while bad - good > 1:
            end = min((good + bad) // 2, 2 * good - here)
            chord = shapely.linestrings(points[[here, end]])
            off = shapely.distance(chord, shapely.points(points[here : end + 1]))
            good, bad = (end, bad) if off.max() <= FLAT else (good, end)
        kept.append(here := good)
    return points[kept]


@contextmanager
def without_fit(*, afresh: bool = False) -> Iterator[None]:
    """Every chord as a line of its own; or as few as there need be."""
    before = curves.fit_arcs

    def chords(points: FloatArray, *, closed: bool, tolerance: float) -> FloatArray:
        points = fewest(points) if afresh else points
        return np.column_stack([points, np.zeros(len(points))])

    curves.fit_arcs = chords
    try:
        yield
    finally:
        curves.fit_arcs = before


def cost_of(job: Job) -> Cost:
    (cut,) = job.cuts
    parts = plan_pocket(job, cut)  # type: ignore[arg-type]
    with tempfile.TemporaryDirectory() as folder, fresh(Path(folder) / "out") as made:
        (plan,) = unbroken_runs(parts)
        path = emit(job, plan, 1, made, plate=False).path
        program = read_program_file(path, unit=job.unit)
    moves: MoveTable = program.moves
    fed = (moves.kind != Kind.RAPID) & moves.known
    lengths = moves.lengths()
    levels = math.ceil(cut.depth / cut.cutter.stepdown)
    area = area_of(cut.outline, 1e-3, Err.INWARD)
    area = area.difference(area_of(cut.islands, 1e-3, Err.OUTWARD)) if cut.islands else area
    plain = area.area / (cut.cutter.stepover * cut.cutter.diameter)
    up = moves.known & ~fed & (moves.end[:, 2] > 0.0) & (moves.start[:, 2] <= 0.0)
    regions = len(getattr(area.buffer(-cut.cutter.radius), "geoms", [area]))
    taken = seconds(moves, rapid=job.machine.rapid, acceleration=job.machine.acceleration)
    return Cost(
        time=float(taken.sum()) / levels / (plain / cut.cutter.feed * 60.0),
        length=float(lengths[fed & (moves.end[:, 2] < 0.0)].sum()) / levels / plain,
        lifts=float(up.sum()) / levels / regions,
        lines=program.lines,
        short=int((fed & (lengths < SHORT)).sum()),
        corner=int((fed & (lengths < SHORT) & in_corners(moves)).sum()),
    )


def in_corners(moves: MoveTable) -> NDArray[np.bool_]:
    """(n,) whether a move begins or ends where the path turns by more than `CORNER`."""
    ends = [headings(moves, at) for at in (0.0, 1.0)]
    turn = np.abs(np.angle(np.exp(1j * (ends[0][1:] - ends[1][:-1]))))
    sharp = np.concatenate([[True], turn > CORNER, [True]])
    return np.asarray(sharp[:-1] | sharp[1:], dtype=np.bool_)


def headings(moves: MoveTable, at: float) -> FloatArray:
    """(n,) which way each move heads in plan at a share of it, radians."""
    place = moves.end if at else moves.start
    spoke = place[:, :2] - moves.centre
    ahead = moves.end[:, :2] - moves.start[:, :2]
    round_way = np.arctan2(spoke[:, 1], spoke[:, 0]) + np.sign(moves.sweep) * np.pi / 2.0
    straight = np.arctan2(ahead[:, 1], ahead[:, 0])
    return np.asarray(np.where(moves.kind == Kind.ARC, round_way, straight), dtype=np.float64)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="two outlines only, for CI")
    parser.add_argument("--even", action="store_true", help="curves sampled evenly")
    given = parser.parse_args()
    once, region = given.once, Wave.sampled if given.even else Wave.region
    print('case "clearing": flat 6, stepover 0.4, levels of 3 mm to a depth of 6 mm')
    costs, ratios = [], []
    every = dict(list(STRAIGHT.items())[: 1 if once else None])
    every |= {name: curved(name, region) for name in list(CURVED)[: 1 if once else None]}
    for name, (outline, islands) in every.items():
        job = job_of((outline, islands), (cutter(6.0),))
        cost = cost_of(job)
        costs.append(cost)
        words = ""
        if name in CURVED:
            exact = job_of(curved(name, lambda wave: wave.region(EXACT)), (cutter(6.0),))
            with without_fit():
                ratios.append(cost.lines / cost_of(job).lines)
            with without_fit(afresh=True):
                afresh = cost_of(exact).lines / cost.lines
            words = f", lines 1/{1.0 / ratios[-1]:.1f}, flattened afresh 1/{afresh:.1f}"
        print(
            f"  {name:15} length {cost.length:5.3f}, time {cost.time:5.3f}, "
            f"lifts {cost.lifts:4.2f}, {cost.short} short ({cost.corner} in corners) of "
            f"{cost.lines} lines{words}"
        )
    print(
        f"  median length {statistics.median(c.length for c in costs):.3f}, median time "
        f"{statistics.median(c.time for c in costs):.3f}, most lifts "
        f"{max(c.lifts for c in costs):.2f}, lines at most 1/{1.0 / max(ratios):.1f}, "
        f"{sum(c.short for c in costs)} moves under {SHORT} mm, "
        f"{sum(c.corner for c in costs)} of them in corners"
    )


if __name__ == "__main__":
    main()
