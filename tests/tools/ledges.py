"""Ledges at random with plates for them, and what the emitted programs make of both.

What is measured comes from the text of the programs alone, through the second reader in
`independent.py`; areas, sweeps and distances are shapely's. The plate is laid in by hand as a
maker would: turned face up, its middle over the middle of the ledge.
"""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from independent import read, swept, to_blank
from shapely import affinity
from shapely.geometry import Polygon, box

from toolpath.blank.frames import Frame
from toolpath.drawing.outline import Err, Loop, Region
from toolpath.drawing.shapes import check_region, circle, rect, slot
from toolpath.errors import DrawingError, FaultsError
from toolpath.job.model import (
    Blank,
    CheckRules,
    Cutter,
    Drill,
    Job,
    Ledge,
    Machine,
    Plate,
    Pocket,
    Screws,
    Shape,
    Sheet,
    Side,
    Tabs,
    TurnOver,
    Zero,
)
from toolpath.plan.levels import clear_height
from toolpath.plan.plates import plate_jobs, with_plates
from toolpath.plan.programs import plan_cut, unbroken_runs
from toolpath.rs274.write import ProgramText, Section, write_program
from toolpath.units import Unit

BOX = (-10.0, 5.0, 130.0, 125.0)
THICKNESS = 42.0


def cutter(name, diameter, stepdown=6.0, shape=Shape.FLAT):
    return Cutter(
        name=name,
        shape=shape,
        diameter=diameter,
        flutes=2,
        flute_length=30.0,
        shank=diameter,
        reach=40.0,
        rpm=16000.0,
        feed=1200.0,
        plunge=300.0,
        ramp=math.radians(10.0),
        stepdown=stepdown,
        stepover=0.4,
    )


def polygon(corners):
    return Region(outer=Loop.of_polygon(np.asarray(corners, dtype=float)))


def lobes(rng):
    """Corners round a middle, joined by arcs that bulge out or in."""
    count = int(rng.integers(3, 8))
    angle = np.sort(rng.uniform(0, 2 * math.pi / count * 0.4, count)) + (
        np.arange(count) * 2 * math.pi / count
    )
    far = rng.uniform(28, 45, count)
    bulge = rng.uniform(-0.25, 0.5, count) * (rng.random(count) < 0.8)
    return Region(
        outer=Loop(points=np.column_stack([far * np.cos(angle), far * np.sin(angle), bulge]))
    )


def stepped(rng):
    """An L, T, U or cross, turned by any angle."""
    a, b, c, d = rng.uniform([55, 50, 20, 20], [75, 70, 28, 28])
    corners = [
        [(0, 0), (a, 0), (a, c), (d, c), (d, b), (0, b)],
        [(0, b - c), (a / 2 - d / 2, b - c), (a / 2 - d / 2, 0), (a / 2 + d / 2, 0),
         (a / 2 + d / 2, b - c), (a, b - c), (a, b), (0, b)],
        [(0, 0), (a, 0), (a, b), (a - d, b), (a - d, c), (d, c), (d, b * 0.8), (0, b * 0.8)],
        [(d, 0), (2 * d, 0), (2 * d, d), (3 * d, d), (3 * d, 2 * d), (2 * d, 2 * d),
         (2 * d, 3 * d), (d, 3 * d), (d, 2 * d), (0, 2 * d), (0, d), (d, d)],
    ][int(rng.integers(4))]  # fmt: skip
    turned = affinity.rotate(Polygon(corners), rng.uniform(0, 360), origin=(0, 0))
    return polygon(np.array(turned.exterior.coords)[:-1])


def star(rng):
    count = int(rng.integers(5, 12))
    angle = (np.arange(count) + rng.uniform(-0.2, 0.2, count)) * 2 * math.pi / count
    far = rng.uniform(22, 45, count)
    return polygon(np.column_stack([far * np.cos(angle), far * np.sin(angle)]))


def plain(rng):
    a, b = rng.uniform([40, 35], [90, 80])
    return [
        rect(0, 0, a, b, corner=rng.choice([0.0, 2.0, 5.0, 12.0])),
        circle(0, 0, a / 2),
        slot(0, 0, a / 2, b / 3, 36.0),
        Region(outer=rect(0, 0, a, b).outer.reversed()),
    ][int(rng.integers(4))]


KINDS = (lobes, stepped, star, plain)


def moved(region, dx, dy):
    points = region.outer.points.copy()
    points[:, :2] += (dx, dy)
    return Region(outer=Loop(points=points))


def outline_at_random(rng, kind):
    """An outline in the blank, its middle near that of the blank."""
    while True:
        region = kind(rng)
        try:
            check_region(region)
        except DrawingError:
            continue
        x0, y0, x1, y1 = region.polygon(0.01, Err.OUTWARD).bounds
        if max(x1 - x0, y1 - y0) < 100:
            spot = rng.uniform([55, 60], [65, 70])
            return moved(region, spot[0] - (x0 + x1) / 2, spot[1] - (y0 + y1) / 2)


def cavity_in(outline, width):
    """The largest part of the outline moved in by the width of a ledge; None if there is none."""
    parts = shapely.get_parts(outline.polygon(0.01, Err.INWARD).buffer(-width))
    roomy = [part.simplify(0.02) for part in parts if not part.buffer(-4.0).is_empty]
    if not roomy:
        return None
    largest = max(roomy, key=lambda part: part.area)
    return polygon(np.array(largest.exterior.coords)[:-1])


def job_at_random(seed):
    """A job with one plate, taken from its seed alone."""
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    while True:
        outline = outline_at_random(rng, kind)
        inner = cavity_in(outline, rng.uniform(7.5, 10.0))
        if inner is not None:
            break
    large, small = rng.choice([6.0, 4.0, 3.175]), rng.choice([3.0, 2.0, 1.5])
    sizes = [large] if rng.random() < 0.5 else [large, small]
    tools = [cutter(f"flat {size:g}", float(size)) for size in sizes]
    gap = float(rng.choice([0.13, 0.25, 0.4]))
    thick = float(rng.choice([2.7, 3.0, 3.3]))
    cut = Pocket(
        name="cavity",
        face=Side.FRONT if rng.random() < 0.4 else Side.BACK,
        cutter=tools[0],
        smaller=tuple(tools[1:]),
        depth=8.0,
        outline=(inner,),
        ledge=Ledge(outline=(outline,), depth=3.0),
    )
    screws = Screws(
        diameter=2.5,
        pilot=cutter("pilot", 2.0, shape=Shape.FLAT),
        depth=8.0,
        edge=2.5,
        slack=0.4,
        count=int(rng.integers(1, 7)),
        hole=cutter("hole", 2.0),
    )
    skin = rng.random() < 0.3
    plate = Plate(
        cut=cut,
        gap=gap,
        cutter=cutter("plate", float(rng.choice([6.0, 4.0, 3.175, 2.0])), stepdown=4.0),
        sheet=Sheet(size=(140.0, 140.0), thickness=thick),
        tabs=None if skin else Tabs(count=3, width=5.0, height=1.0),
        skin=0.3 if skin else 0.0,
        screws=screws,
    )
    zeros = list(Zero)
    return Job(
        file=Path("job.toml"),
        name="wall clock",
        unit=Unit.MM,
        blank=Blank(
            outline=rect(*BOX),
            thickness=THICKNESS,
            turn_over=list(TurnOver)[int(rng.integers(2))],
        ),
        zero={side: zeros[int(rng.integers(len(zeros)))] for side in Side},
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
        plates=(plate,),
    )


def programs(job, cut):
    """(radius, text) of each program of a cut."""
    frame = Frame.of(job, cut.face)
    found = []
    for run in unbroken_runs(plan_cut(job, cut)):
        text = ProgramText(
            title=("wall clock",),
            unit=job.unit,
            decimals=job.machine.decimals,
            arcs=True,
            rpm=run.cutter.rpm,
            spindle_wait=5.0,
            wait_in_ms=False,
            safe_height=clear_height(job, cut.face),
            sections=tuple(
                Section(comment=part.cut.name, moves=frame.to_program(part.moves))
                for part in run.cuts
            ),
        )
        found.append((run.cutter.radius, write_program(text).text))
    return found


def seen_in_blank(job, cut, geometry):
    """A geometry of a program of the main job in the blank frame."""

    def turn(xy):
        spots = np.column_stack([xy, np.zeros(len(xy))])
        zero = job.zero[cut.face].value
        turning = job.blank.turn_over.value
        return to_blank(spots, cut.face.value, turning, zero, BOX, THICKNESS)[:, :2]

    return shapely.transform(geometry, turn)


def filled(area):
    largest = max(shapely.get_parts(area), key=lambda part: part.area)
    return Polygon(largest.exterior).simplify(1e-4)


def cut_ledge(job):
    """Everything inside the real edge of the ledge, from its programs; blank frame."""
    cut = job.plates[0].cut
    areas = [swept(read(text), radius, -cut.ledge.depth) for radius, text in programs(job, cut)]
    return seen_in_blank(job, cut, filled(shapely.union_all(areas)))


def holes_of(job, cut):
    """(n, 2) middles of the holes of a drill cut, program frame."""
    below = []
    for _, text in programs(job, cut):
        below += [move.points for move in read(text) if move.points[-1, 2] < -0.5]
    parts = [shapely.linestrings(points[:, :2]).buffer(0.01) for points in below]
    found = shapely.get_parts(shapely.union_all(parts)).tolist()
    boxes = np.array([part.bounds for part in found])
    return (boxes[:, :2] + boxes[:, 2:]) / 2.0


def cut_plate(job):
    """The plate that stays of its sheet, holes filled, from its programs; sheet frame."""
    sheet = box(0, 0, *shapely.get_coordinates(job.blank.outline.polygon(1, Err.INWARD)).max(0))
    outline = job.cuts[-1]
    areas = [swept(read(text), radius, -0.1) for radius, text in programs(job, outline)]
    rest = shapely.get_parts(sheet.difference(shapely.union_all(areas))).tolist()
    inside = [part for part in rest if part.distance(sheet.exterior) > 1.0]
    return filled(shapely.MultiPolygon(inside))


def laid_in(main, ledge, geometry, plate):
    """What lies on the sheet, laid into the ledge: turned as the face is seen, middle on middle."""
    face, turning = main.plates[0].cut.face, main.blank.turn_over
    back = face is Side.BACK
    x = -1.0 if back and turning is TurnOver.LEFT_RIGHT else 1.0
    y = -1.0 if back and turning is TurnOver.TOP_BOTTOM else 1.0
    turned = affinity.scale(plate, x, y, origin=(0, 0))
    (ax, ay, bx, by), (cx, cy, dx, dy) = ledge.bounds, turned.bounds
    shift = ((ax + bx - cx - dx) / 2, (ay + by - cy - dy) / 2)
    return affinity.translate(affinity.scale(geometry, x, y, origin=(0, 0)), *shift)


@dataclass(frozen=True, kw_only=True)
class Fit:
    """How a plate lies in its ledge, mm."""

    least: float
    """The gap from the plate's edge to the ledge's, at its least and most …"""
    most: float
    back: float
    """… and the most from the ledge's edge to the plate's."""
    overlap: float
    """mm² of the plate outside the ledge."""
    screws: float
    """The farthest that a hole of the plate is from its pilot."""
    sharper: float
    """How much of the plate's corners stands outside discs of the ledge's cutter less the gap."""
    rounded: int
    """How many places of the ledge were rounded."""

    def good(self, gap):
        even = gap - 0.02 <= self.least and max(self.most, self.back) <= gap + 0.02
        return even and self.overlap == 0.0 and self.screws <= 0.01 and self.sharper <= 0.01


def dense(polygon, step=0.2):
    return shapely.points(shapely.get_coordinates(polygon.exterior.segmentize(step)))


def distances(line, points):
    shapely.prepare(line)
    return shapely.distance(line, points)


def fit_of(job):
    """Both programs emitted, read and laid together.

    Raises FaultsError where the job cannot have a plate.
    """
    main = with_plates(job)
    plate = main.plates[0]
    derived = plate_jobs(job)[0]
    ledge = cut_ledge(main)
    sheet = cut_plate(derived)
    laid = laid_in(main, ledge, sheet, sheet)
    out = distances(ledge.exterior, dense(laid))
    back = distances(laid.exterior, dense(ledge))
    radius = min(each.radius for each in plate.cut.cutters) - plate.gap - 0.02
    blunt = laid.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)
    return Fit(
        least=float(out.min()),
        most=float(out.max()),
        back=float(back.max()),
        overlap=float(laid.difference(ledge).area),
        screws=_off(main, derived, ledge, sheet),
        sharper=float(distances(blunt, dense(laid)).max()),
        rounded=len(main.warnings),
    )


def _off(main, derived, ledge, sheet):
    (drilled,) = (cut for cut in main.cuts if isinstance(cut, Drill))
    spots = shapely.points(holes_of(main, drilled))
    pilots = [seen_in_blank(main, drilled, spot) for spot in spots]
    holes = [
        laid_in(main, ledge, spot, sheet)
        for spot in shapely.points(holes_of(derived, derived.cuts[0]))
    ]
    assert len(pilots) == len(holes) == main.plates[0].screws.count
    return max(min(hole.distance(pilot) for pilot in pilots) for hole in holes)


def with_possible_screws(job):
    """The job with fewer screws, where there is no room for all of them."""
    plate = job.plates[0]
    for count in range(plate.screws.count, 0, -1):
        fewer = replace(plate, screws=replace(plate.screws, count=count))
        tried = replace(job, plates=(fewer,))
        try:
            with_plates(tried)
        except FaultsError as error:
            if "no room for" not in str(error):
                raise
            continue
        return tried
    return job
