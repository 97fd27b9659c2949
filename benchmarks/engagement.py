"""Named case "engagement": pockets cleared with a bounded engaged angle, beside plain passes.

Every figure but the planning time is measured on the emitted text by `tests/tools/engagement.py`,
a raster of its own. 6 mm cutter, bound 70 degrees; plain passes with the stepover that meets the
same angle along a straight front. Ideal: area over radius (1 - cos bound). Run:

    python benchmarks/engagement.py [--once]

`keepclear plan` and `preview` draw the path of a bounded cut with its engaged angle as its colour.
"""

from __future__ import annotations

import argparse
import math
import statistics
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))

from engagement import trace

from toolpath.drawing.outline import Loop, Region
from toolpath.drawing.shapes import rect
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
from toolpath.motion.clock import seconds
from toolpath.motion.moves import MoveTable
from toolpath.plan.pocket import plan_pocket
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.units import Unit

BOUND = 70.0
RADIUS = 3.0
FEED = 1200.0
ACCELERATION = 500.0
STEP = RADIUS * (1.0 - math.cos(math.radians(BOUND)))


def wavy(wide: float, high: float, waves: int, deep: float) -> Polygon:
    angle = np.linspace(0.0, 2.0 * np.pi, 60 * waves, endpoint=False)
    swell = 1.0 + deep * np.sin(waves * angle) + deep / 3.0 * np.sin(2 * waves * angle + 1.0)
    return Polygon(np.column_stack([wide * swell * np.cos(angle), high * swell * np.sin(angle)]))


def disc(x: float, y: float, radius: float) -> Polygon:
    return Point(x, y).buffer(radius, quad_segs=48)


def rounded(area: shapely.Geometry, radius: float) -> shapely.Geometry:
    return area.buffer(-radius, quad_segs=32).buffer(radius, quad_segs=32)


def outlines() -> dict[str, shapely.Geometry]:
    """Our own: straight and curved, with islands and without."""
    elbow = Polygon([(0, 0), (110, 0), (110, 40), (45, 40), (45, 90), (0, 90)])
    hexagon = Polygon(
        [(50 * math.cos(k * math.pi / 3), 50 * math.sin(k * math.pi / 3)) for k in range(6)]
    )
    lobes = box(0, 0, 50, 50) | box(80, 0, 130, 50) | box(49, 17, 81, 33)
    return {
        "rectangle": box(0, 0, 120, 80),
        "square": box(0, 0, 70, 70),
        "small rectangle": box(0, 0, 60, 40),
        "long": box(0, 0, 160, 45),
        "round corners": rounded(box(0, 0, 110, 70), 8.0),
        "disc": disc(0, 0, 40),
        "ellipse": shapely.affinity.scale(disc(0, 0, 40), 1.5, 0.8),
        "slot": LineString([(0, 0), (80, 0)]).buffer(17.0, quad_segs=48),
        "hexagon": hexagon,
        "triangle": Polygon([(0, 0), (100, 0), (40, 80)]),
        "elbow": elbow,
        "tee": box(0, 50, 120, 90) | box(42, 0, 78, 51),
        "cross": box(0, 40, 120, 80) | box(40, 0, 80, 120),
        "two rooms": lobes,
        "three waves": wavy(45, 45, 3, 0.2),
        "five waves": wavy(60, 42, 5, 0.12),
        "eleven waves": wavy(60, 50, 11, 0.06),
        "cog gap": disc(0, 0, 45) - disc(0, 0, 14),
        "one island": box(0, 0, 120, 80) - disc(55, 40, 12),
        "two islands": box(0, 0, 130, 80) - disc(38, 40, 11) - box(80, 28, 105, 52),
        "pebbles": wavy(70, 50, 7, 0.08) - disc(-30, 5, 9) - disc(25, -12, 7) - disc(20, 22, 8),
        "square pillar": disc(0, 0, 50) - box(-12, -12, 12, 12),
        "crescent": disc(0, 0, 50) - disc(28, 10, 34),
    }


def regions(area: shapely.Geometry) -> tuple[tuple[Region, ...], tuple[Region, ...]]:
    def region(loop: shapely.LinearRing) -> Region:
        return Region(outer=Loop.of_polygon(shapely.get_coordinates(loop)[:-1]))

    parts = list(shapely.get_parts(area))
    holes = [hole for part in parts for hole in part.interiors]
    return tuple(region(p.exterior) for p in parts), tuple(region(h) for h in holes)


def job_of(area: shapely.Geometry, engage: float | None) -> tuple[Job, Pocket]:
    outer, islands = regions(area)
    cutter = Cutter(
        name="flat 6",
        shape=Shape.FLAT,
        diameter=2.0 * RADIUS,
        flutes=2,
        flute_length=20.0,
        shank=6.0,
        reach=45.0,
        rpm=16000.0,
        feed=FEED,
        plunge=300.0,
        ramp=math.radians(3.0),
        stepdown=3.0,
        stepover=STEP / (2.0 * RADIUS),
    )
    cut = Pocket(
        name="pocket",
        face=Side.FRONT,
        cutter=cutter,
        depth=3.0,
        outline=outer,
        islands=islands,
        engage=None if engage is None else math.radians(engage),
    )
    machine = Machine(
        travel=(900.0, 900.0, 90.0),
        feed_max=3000.0,
        spindle=(8000.0, 24000.0),
        safe_height=6.0,
        acceleration=ACCELERATION,
    )
    job = Job(
        file=Path("job.toml"),
        name="engagement",
        unit=Unit.MM,
        blank=Blank(outline=rect(-200, -200, 300, 300), thickness=42.0),
        zero=dict.fromkeys(Side, Zero.LOWER_LEFT),
        machine=machine,
        check=CheckRules(clearance=1.0),
        cutters={},
        pieces=(),
        clamps=(),
        cuts=(cut,),
    )
    return job, cut


@dataclass
class Figures:
    """Of one program."""

    within: float
    worst: float
    cutting: float
    whole: float
    time: float
    lifts: int
    uncut: float
    seconds: float


def measure(area: shapely.Geometry, engage: float | None) -> Figures:
    job, cut = job_of(area, engage)
    begun = time.process_time()
    parts = plan_pocket(job, cut)
    spent = time.process_time() - begun
    moves = tuple(move for part in parts for move in part.moves)
    spec = ProgramText(
        title=("engagement",),
        unit=Unit.MM,
        decimals=4,
        arcs=True,
        rpm=16000.0,
        spindle_wait=5.0,
        wait_in_ms=False,
        safe_height=6.0,
        sections=(Section(comment="pocket", moves=moves),),
    )
    met = trace(write_program(spec).text, RADIUS)
    ideal = area.area / STEP
    machine = job.machine
    taken = seconds(MoveTable.of(moves), rapid=machine.rapid, acceleration=ACCELERATION)
    return Figures(
        within=met.share_within(BOUND + 5.0),
        worst=met.worst,
        cutting=met.engaged_length / ideal,
        whole=met.feed_length / ideal,
        time=float(taken.sum()) / (ideal / FEED * 60.0),
        lifts=sum(part.lifts for part in parts),
        uncut=sum(part.uncut_area for part in parts),
        seconds=spent,
    )


def rows(names: list[str]) -> Iterator[tuple[Figures, Figures]]:
    every = outlines()
    head = "within within+5   worst cutting   whole    time lifts   uncut     cpu"
    print(f"{'':16}{'bounded':>70}   plain: within+5 worst cutting whole time")
    print(f"{'outline':16}{head[7:]:>70}")
    for name in names:
        ours, plain = measure(every[name], BOUND), measure(every[name], None)
        print(
            f"{name:16}{100 * ours.within:14.2f} % {ours.worst:7.0f} {ours.cutting:7.3f} "
            f"{ours.whole:7.3f} {ours.time:7.2f} {ours.lifts:5d} {ours.uncut:7.3f} "
            f"{ours.seconds:6.2f} s   {100 * plain.within:13.2f} % {plain.worst:5.0f} "
            f"{plain.cutting:7.3f} {plain.whole:6.3f} {plain.time:5.2f}",
            flush=True,
        )
        yield ours, plain


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--once", action="store_true", help="three outlines, for CI")
    given = parser.parse_args()
    names = ["small rectangle", "slot", "one island"] if given.once else list(outlines())
    print(f"engagement: bound {BOUND:g} degrees, step {STEP:.3f} mm, ratios to the ideal")
    measure(outlines()["small rectangle"], BOUND)  # compiles
    found = list(rows(names))
    for which, each in (("bounded", 0), ("plain", 1)):
        all_of = [pair[each] for pair in found]
        print(
            f"median, {which}: cutting {statistics.median(f.cutting for f in all_of):.3f}, whole "
            f"{statistics.median(f.whole for f in all_of):.3f}, time "
            f"{statistics.median(f.time for f in all_of):.2f}, worst within + 5 degrees "
            f"{100 * min(f.within for f in all_of):.2f} %, worst angle "
            f"{max(f.worst for f in all_of):.0f} degrees"
        )


if __name__ == "__main__":
    main()
