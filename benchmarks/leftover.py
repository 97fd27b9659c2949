"""The named case "leftover": how much of what a second cutter is fed through is air.

    python benchmarks/leftover.py [--once] [--plain | --engage]

Pockets are planned and written as programs; the text is read again and replayed on a raster of
0.025 mm that knows nothing of the planner. A stretch of 0.2 mm of feed cuts if it takes any cell of
what stands. Printed for each outline and pair of cutters, in plain passes and with a bound on the
engaged angle: what of the feed length of the last cutter takes nothing, and its lifts.
"""

from __future__ import annotations

import argparse
import math
import statistics
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numba import njit
from numpy.typing import NDArray

from toolpath.app.emit import emit
from toolpath.app.publish import fresh
from toolpath.drawing.outline import Loop, Outline, Region
from toolpath.drawing.shapes import circle, rect, slot
from toolpath.job.model import (
    Blank,
    CheckRules,
    Cutter,
    Job,
    Machine,
    Pocket,
    Shape,
    Side,
    Zero,
)
from toolpath.motion.moves import Kind, MoveTable
from toolpath.plan.pocket import plan_pocket
from toolpath.plan.programs import unbroken_runs
from toolpath.rs274.read import read_program_file
from toolpath.units import Unit

FloatArray = NDArray[np.float64]

CELL = 0.025
STEP = 0.2
DEPTH = 6.0
BOUND = 70.0
PAIRS = ((10.0, 4.0), (6.0, 3.0), (6.0, 2.0), (6.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Outline, diameters of the cutters, what is left for the finish, and the bound in degrees."""

    outline: str
    pair: tuple[float, float]
    finish: float
    engage: float | None


def wavy(waves: int, swell: float) -> Region:
    angle = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    size = 1.0 + swell * np.sin(waves * angle)
    corners = np.column_stack([40 + 34 * size * np.cos(angle), 30 + 24 * size * np.sin(angle)])
    return Region(outer=Loop.of_polygon(corners))


def star(points: int) -> Region:
    angle = np.arange(2 * points) * math.pi / points
    size = np.where(np.arange(2 * points) % 2 == 0, 34.0, 20.0)
    corners = np.column_stack([40 + size * np.cos(angle), 35 + size * np.sin(angle)])
    return Region(outer=Loop.of_polygon(corners))


OUTLINES: dict[str, tuple[Outline, Outline]] = {
    "rectangle": ((rect(0, 0, 80, 50),), ()),
    "arm": ((rect(0, 0, 60, 40), rect(59, 18, 80, 22.5)), ()),
    "room beyond": ((rect(0, 0, 40, 40), rect(39, 18, 51, 23.5), rect(50, 0, 80, 40)), ()),
    "islands": ((rect(0, 0, 80, 50),), (rect(20, 12, 40, 30), circle(60, 25, 8))),
    "wavy": ((wavy(7, 0.08),), ()),
    "star": ((star(5),), ()),
    "slots": (
        (rect(0, 0, 80, 30), *(slot(10 + 15 * i, 29, 10 + 15 * i, 45, 5) for i in range(5))),
        (),
    ),
}


def cutter(diameter: float) -> Cutter:
    return Cutter(
        name=f"flat {diameter:g}",
        shape=Shape.FLAT,
        diameter=diameter,
        flutes=2,
        flute_length=20.0,
        shank=diameter,
        reach=30.0,
        rpm=16000.0,
        feed=1200.0,
        plunge=300.0,
        ramp=math.radians(3.0),
        stepdown=diameter / 2.0,
        stepover=0.4,
    )


def job_of(
    outlines: tuple[Outline, Outline],
    cutters: tuple[Cutter, ...],
    finish: float = 0.0,
    engage: float | None = None,
) -> Job:
    (outline, islands), (large, *smaller) = outlines, cutters
    cut = Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=large,
        smaller=tuple(smaller),
        depth=DEPTH,
        outline=outline,
        islands=islands,
        finish=finish,
        engage=None if engage is None else math.radians(engage),
    )
    return Job(
        file=Path("job.toml"),
        name="wall clock",
        unit=Unit.MM,
        blank=Blank(outline=rect(-10, -10, 100, 90), thickness=42.0),
        zero=dict.fromkeys(Side, Zero.LOWER_LEFT),
        machine=Machine(
            travel=(600.0, 400.0, 90.0),
            feed_max=3000.0,
            spindle=(8000.0, 24000.0),
            safe_height=6.0,
        ),
        check=CheckRules(clearance=1.0),
        cutters={},
        pieces=(),
        clamps=(),
        cuts=(cut,),
    )


@njit(cache=False)  # type: ignore[untyped-decorator]
def take(z: FloatArray, spots: FloatArray, radius: float) -> bool:
    """A flat tip at places (n, 3) over a raster whose corner is the zero; whether it took any."""
    took = False
    reach = int(radius / CELL) + 2
    for i in range(len(spots)):
        x, y, low = spots[i]
        column, row = int(x / CELL), int(y / CELL)
        for r in range(max(0, row - reach), min(z.shape[0], row + reach + 1)):
            up = (r + 0.5) * CELL - y
            for c in range(max(0, column - reach), min(z.shape[1], column + reach + 1)):
                across = (c + 0.5) * CELL - x
                if z[r, c] > low + 1e-4 and up * up + across * across <= radius * radius:
                    z[r, c] = low
                    took = True
    return took


def fresh_block(job: Job) -> FloatArray:
    """The blank as a raster of heights; the zero of the front is its lower left corner."""
    columns, rows = np.ceil(np.ptp(job.blank.outline.outer.points[:, :2], axis=0) / CELL)
    return np.zeros((int(rows), int(columns)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """Feed lengths of a program, mm, and how often it went up to where rapids cross."""

    cutting: float
    air: float
    lifts: int

    @property
    def share(self) -> float:
        whole = self.cutting + self.air
        return self.air / whole if whole else 0.0


def replay(block: FloatArray, moves: MoveTable, radius: float) -> Fed:
    spent = {True: 0.0, False: 0.0}
    lengths = moves.lengths()
    for row in np.flatnonzero((moves.kind != Kind.RAPID) & moves.known).tolist():
        count = max(1, math.ceil(lengths[row] / STEP))
        for i in range(count):
            spot = moves.at(np.array([row]), np.array([(i + 1) / count]))
            spent[bool(take(block, spot, radius))] += lengths[row] / count
    up = moves.known & (moves.kind == Kind.RAPID)
    lifts = int((up & (moves.end[:, 2] > 0.0) & (moves.start[:, 2] <= 0.0)).sum())
    return Fed(cutting=spent[True], air=spent[False], lifts=lifts)


def fed(job: Job) -> Iterator[tuple[float, Fed]]:
    """Diameter and feed lengths of each program of a job, in order, as its text says."""
    parts = [part for cut in job.cuts for part in plan_pocket(job, cut)]  # type: ignore[arg-type]
    block = fresh_block(job)
    with tempfile.TemporaryDirectory() as folder, fresh(Path(folder) / "out") as made:
        for number, plan in enumerate(unbroken_runs(parts), 1):
            path = emit(job, plan, number, made, plate=False).path
            moves = read_program_file(path, unit=job.unit).moves
            yield plan.cutter.diameter, replay(block, moves, plan.cutter.radius)


def cases(names: Iterable[str], bounds: tuple[float | None, ...]) -> Iterator[Case]:
    for name, engage, pair, finish in product(names, bounds, PAIRS, (0.0, 0.3)):
        yield Case(outline=name, pair=pair, finish=finish, engage=engage)


def show(case: Case) -> float | None:
    """The share of air of the last cutter; None where the first leaves nothing to it."""
    large, small = case.pair
    cutters = (cutter(large), cutter(small))
    done = list(fed(job_of(OUTLINES[case.outline], cutters, case.finish, case.engage)))
    if len(done) < 2:
        return None
    _, last = done[-1]
    bound = "" if case.engage is None else f", engage {case.engage:g}"
    print(
        f"  {case.outline:12} {large:3g} then {small:g}, finish {case.finish:3g}{bound}: "
        f"air {last.share:5.1%} of {last.cutting + last.air:7.1f} mm, {last.lifts} lifts; "
        f"lifts of the first: {done[0][1].lifts}",
        flush=True,
    )
    return last.share


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="one outline only, for CI")
    parser.add_argument("--outline", choices=sorted(OUTLINES), help="this one only")
    parser.add_argument("--plain", action="store_true", help="without engage only")
    parser.add_argument("--engage", action="store_true", help="with engage only")
    given = parser.parse_args()
    names = [given.outline] if given.outline else list(OUTLINES)[: 1 if given.once else None]
    bounds: tuple[float | None, ...] = (None, BOUND)
    if given.plain or given.engage:
        bounds = (BOUND,) if given.engage else (None,)
    print('case "leftover": feed of the second cutter that takes nothing')
    shares: dict[float | None, list[float]] = {bound: [] for bound in bounds}
    for case in cases(names, bounds):
        if given.once and (case.pair[0], case.finish) != (10.0, 0.0):
            continue
        share = show(case)
        if share is not None:
            shares[case.engage].append(share)
    for bound, found in shares.items():
        what = "plain passes" if bound is None else f"engage {bound:g}"
        print(f"  {what}: median {statistics.median(found):.1%}, most {max(found):.1%}")


if __name__ == "__main__":
    main()
