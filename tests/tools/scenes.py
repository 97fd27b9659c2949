"""A made-up wall clock cast over pebbles, brass cogs and driftwood, planned by hand."""

import itertools
import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from toolpath.check.report import Closest, Code, Finding, Part, PieceCut, Report, Verdict
from toolpath.drawing.shapes import circle, rect
from toolpath.job.model import (
    Blank,
    Box,
    CheckRules,
    Clamp,
    Cut,
    Cutter,
    Cylinder,
    Drift,
    Drill,
    Hardness,
    Heights,
    Job,
    Ledge,
    Machine,
    Mesh,
    Piece,
    Pins,
    Plate,
    Pocket,
    Prism,
    Profile,
    ProfileSide,
    Rule,
    Screws,
    Shape,
    Sheet,
    Side,
    Sphere,
    Tabs,
    TurnOver,
    Warned,
    Zero,
)
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.plan.result import PlannedCut
from toolpath.show.scene import CutView, ProgramView, Scene
from toolpath.units import Unit

FLAT = Cutter(
    name="flat 6",
    shape=Shape.FLAT,
    diameter=6,
    flutes=2,
    flute_length=25,
    shank=6,
    reach=38,
    rpm=16000,
    feed=1200,
    plunge=300,
    ramp=math.radians(3),
    stepdown=3,
    stepover=0.4,
)
BALL = replace(FLAT, name="ball 8", shape=Shape.BALL, diameter=8, shank=8)
DRILL = replace(
    FLAT,
    name="drill 8",
    shape=Shape.DRILL,
    diameter=8,
    shank=8,
    angle=math.radians(118),
    flute_length=45,
    reach=55,
    rpm=9000,
)


def lump(size: tuple[float, float, float]) -> Mesh:
    """A driftwood-like mesh: a ball stretched, with knobs."""
    import trimesh

    ball = trimesh.creation.icosphere(subdivisions=3)
    v = np.array(ball.vertices)
    v = v * (1 + 0.12 * np.sin(5 * v[:, :1] + 2 * v[:, 1:2])) * (np.array(size) / 2)
    return Mesh(file=Path("driftwood.stl"), vertices=v, triangles=np.array(ball.faces, np.int64))


PIECES = (
    Piece(
        name="pebble 3",
        solid=Sphere(diameter=22),
        at=(70, 60),
        measured_from=Side.FRONT,
        depth=13.54,
        clearance=1.0,
        drift=Drift(side=1.0, rise=0.5),
    ),
    Piece(
        name="brass cog",
        solid=Cylinder(diameter=36, height=6),
        at=(300, 200),
        measured_from=Side.FRONT,
        depth=8,
        clearance=1.5,
        drift=Drift(side=0.5),
        hardness=Hardness.METAL,
    ),
    Piece(
        name="brass plate",
        solid=Box(size=(60, 20, 5)),
        at=(200, 45),
        turn=math.radians(25),
        measured_from=Side.BACK,
        depth=10,
        clearance=1.5,
        drift=Drift(side=0.5, rise=0.5, turn=math.radians(4)),
        hardness=Hardness.METAL,
    ),
    Piece(
        name="driftwood",
        solid=lump((110, 34, 20)),
        at=(110, 205),
        turn=math.radians(-20),
        measured_from=Side.FRONT,
        depth=9,
        clearance=1.0,
        drift=Drift(side=1.0, rise=1.0, turn=math.radians(2)),
        hardness=Hardness.WOOD,
    ),
)


def walk(points: list[tuple[float, float, float]], kind: Kind = Kind.LINE) -> list[Move]:
    feed = 0.0 if kind is Kind.RAPID else 1200.0
    return [Move(kind=kind, start=a, end=b, feed=feed) for a, b in itertools.pairwise(points)]


def pocket_moves(x0, y0, x1, y1, floor, radius=3.0, step=2.4, start=(0.0, 0.0)):
    """Rectangles from the middle outwards, at two levels; a ramp in, a rapid to and from."""
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    reach_x, reach_y = (x1 - x0) / 2 - radius, (y1 - y0) / 2 - radius
    rings = max(1, math.ceil(min(reach_x, reach_y) / step))
    here = (mx, my, 6.0)
    moves = walk([(*start, 6.0), here, (mx, my, 1.0)], Kind.RAPID)
    at = (mx, my, 1.0)
    for level in (-floor / 2, -floor):
        for ring in range(rings):
            share = (ring + 1) / rings
            dx = reach_x - min(reach_x, reach_y) * (1 - share)
            dy = reach_y - min(reach_x, reach_y) * (1 - share)
            corners = [
                (mx - dx, my - dy),
                (mx + dx, my - dy),
                (mx + dx, my + dy),
                (mx - dx, my + dy),
            ]
            loop = [(x, y, level) for x, y in [*corners, corners[0]]]
            moves += walk([at, *loop])
            at = loop[-1]
    moves += walk([at, (*at[:2], 6.0)], Kind.RAPID)
    return moves


def circle_moves(x, y, radius, floor, start=(0.0, 0.0)):
    moves = walk([(*start, 6.0), (x + radius, y, 6.0), (x + radius, y, 1.0)], Kind.RAPID)
    at = (x + radius, y, 1.0)
    for level in (-floor / 2, -floor):
        down = (x + radius, y, level)
        for end in (down, down):
            moves.append(
                Move(kind=Kind.ARC, start=at, end=end, centre=(x, y), sweep=2 * math.pi, feed=1200)
            )
            at = end
    return moves + walk([at, (*at[:2], 6.0)], Kind.RAPID)


def drill_moves(places, floor, start=(0.0, 0.0)):
    moves, here = [], (*start, 6.0)
    for x, y in places:
        moves += walk([here, (x, y, 6.0), (x, y, 1.0)], Kind.RAPID)
        moves += walk([(x, y, 1.0), (x, y, -floor)])
        moves += walk([(x, y, -floor), (x, y, 6.0)], Kind.RAPID)
        here = (x, y, 6.0)
    return moves


def planned(cut: Cut, moves: list[Move], floor: float) -> PlannedCut:
    return PlannedCut(
        cut=cut,
        cutter=cut.cutter,
        moves=tuple(moves),
        floor=floor,
        reachable_area=100.0,
        uncut_area=0.0,
        lifts=1,
    )


def report(verdict: Verdict, closest: Closest | None, findings=()) -> Report:
    return Report(
        verdict=verdict,
        findings=tuple(findings),
        closest=closest,
        closest_by_line={},
        bounds=((5.0, 6.0, -20.0), (120.0, 90.0, -0.5)),
        feed_length=1000.0,
        rapid_length=300.0,
        arcs=4,
        moves=40,
        seconds=125.0,
        pieces_checked=4,
    )


def near(piece: str, gap: float, at, part=Part.FLUTES) -> Closest:
    return Closest(piece=piece, gap=gap, at=at, at_program=at, line=12, part=part)


@dataclass(frozen=True)
class Made:
    cut: Cut
    moves: list[Move]
    closest: Closest | None = None
    findings: tuple[Finding, ...] = ()
    refusal: str = ""
    seconds: float = 61.0


def program(number: int, made: list[Made], first: int) -> ProgramView:
    face, cutter = made[0].cut.face, made[0].cut.cutter
    views = []
    for offset, one in enumerate(made):
        stopped = bool(one.refusal) or any(f.refuses for f in one.findings)
        views.append(
            CutView(
                number=first + offset,
                planned=planned(one.cut, one.moves, one.cut.depth),
                moves=MoveTable.of(one.moves),
                verdict=Verdict.REFUSED if stopped else Verdict.CLEAR,
                closest=one.closest,
                findings=one.findings,
                seconds=one.seconds,
                refusal=one.refusal,
            )
        )
    stopped = any(v.verdict is Verdict.REFUSED for v in views)
    verdict = Verdict.REFUSED if stopped else Verdict.CLEAR
    gaps = [v.closest for v in views if v.closest]
    nearest = min(gaps, key=lambda c: c.gap, default=None)
    findings = [f for v in views for f in v.findings]
    name = f"{number:02d}-{face.value}-{cutter.name.replace(' ', '-')}.nc"
    return ProgramView(
        file=name,
        face=face,
        cutter=cutter,
        cuts=tuple(views),
        lines=220,
        seconds=sum(v.seconds for v in views),
        report=report(verdict, nearest, findings),
    )


def job_of(cuts, **changes) -> Job:
    front_clamp = Clamp(
        name="clamp 1", face=Side.FRONT, outline=(rect(-20, 100, 8, 130),), height=18
    )
    back_clamp = Clamp(
        name="clamp 2", face=Side.BACK, outline=(rect(385, 120, 415, 150),), height=18
    )
    job = Job(
        file=Path("clock.toml"),
        name="wall clock",
        unit=Unit.MM,
        blank=Blank(
            outline=rect(0, 0, 400, 280, 20),
            thickness=42,
            material="casting resin",
            thickness_within=0.2,
        ),
        zero={Side.FRONT: Zero.LOWER_LEFT, Side.BACK: Zero.LOWER_LEFT},
        machine=Machine(travel=(600, 400, 90), feed_max=3000, spindle=(8000, 24000), safe_height=6),
        check=CheckRules(clearance=1.0),
        cutters={c.name: c for c in (FLAT, BALL, DRILL)},
        pieces=PIECES,
        clamps=(front_clamp, back_clamp),
        cuts=tuple(cuts),
        warnings=(Warned(where='piece[4] "driftwood"', message="comes within 3 mm of an edge"),),
    )
    return replace(job, **changes)


def clock(*, refused: bool = False, **changes) -> Scene:
    """Front: a dial recess and a round for the hands; back: a movement pocket, holes, outline."""
    common = {"face": Side.FRONT, "cutter": FLAT}
    recess = Pocket(name="dial recess", depth=12, outline=(rect(30, 30, 130, 110),), **common)
    ring = Pocket(name="hands", depth=6, outline=(circle(200, 140, 30),), **common)
    back = {"face": Side.BACK}
    movement = Pocket(
        name="movement", depth=24, outline=(rect(165, 105, 235, 175, 8),), cutter=BALL, **back
    )
    holes = Drill(
        name="spindle hole",
        depth=42.7,
        through=True,
        at=((200, 140),),
        peck=8,
        diameter=DRILL.diameter,
        cutter=DRILL,
        **back,
    )
    keyhole = Pocket(
        name="hanger", depth=9, outline=(rect(60, 225, 140, 250),), cutter=BALL, **back
    )
    rim = Profile(
        name="edge groove",
        depth=5,
        outline=(circle(200, 140, 110),),
        side=ProfileSide.CENTRE,
        cutter=BALL,
        **back,
    )
    bad = Finding(
        code=Code.PIECE,
        message='flutes come 0.2 mm near "pebble 3", 1.02 mm needed',
        line=88,
        piece="pebble 3",
        part=Part.FLUTES,
        at=(70.0, 60.0, -12.8),
        at_program=(70.0, 60.0, -12.8),
        gap=0.2,
        needed=1.02,
        mend="stay above 11.98 mm here, or move the outline 12 mm to the right",
        clear_depth=11.98,
    )
    front = [
        Made(
            recess if not refused else replace(recess, depth=12.8),
            pocket_moves(30, 30, 130, 110, 12.8 if refused else 12),
            near("pebble 3", 0.2 if refused else 1.04, (70.0, 60.0, -12.8 if refused else -12.0)),
            (bad,) if refused else (),
        ),
        Made(
            ring,
            [m for r in range(27, 0, -4) for m in circle_moves(200, 140, r, 6, (33, 33))],
            near("brass cog", 63.2, (222, 155, -6)),
        ),
    ]
    wrong = "no room for a helix or a ramp: the widest place is 7.2 mm, a helix needs 9.6 mm"
    work = [
        Made(
            movement,
            pocket_moves(165, 105, 235, 175, 24, 4),
            near("brass plate", 46.4, (195.0, 109.0, -18.0)),
        ),
        Made(
            keyhole,
            [] if refused else pocket_moves(60, 225, 140, 250, 9, 4),
            None if refused else near("driftwood", 6.2, (100.0, 229.0, -33.0)),
            refusal=wrong if refused else "",
        ),
        Made(
            rim,
            circle_moves(200, 140, 110, 5),
            near("brass plate", 4.5, (185.0, 31.04, -37.0)),
        ),
    ]
    bore = [
        Made(holes, drill_moves([(200, 140)], 42.7), near("brass plate", 80.0, (200, 140, 0.7)))
    ]
    job = job_of([m.cut for m in (*front, *work, *bore)], **changes)
    programs = (program(1, front, 1), program(2, work, 3), program(3, bore, 6))
    verdict = Verdict.REFUSED if refused else Verdict.CLEAR
    return Scene(job=job, programs=programs, verdict=verdict)


def turned(over: TurnOver) -> dict:
    blank = Blank(outline=rect(0, 0, 400, 280, 20), thickness=42, turn_over=over)
    return {"blank": blank}


def crowded() -> Scene:
    """A blank of 320 x 320 with 16 pebbles and cogs, and one pocket in the middle."""
    pieces = []
    for k in range(16):
        x, y = 45 + 76 * (k % 4) + 9 * (k // 4 % 2), 40 + 78 * (k // 4) + 5 * (k % 3)
        solid = Sphere(diameter=24 + k % 5) if k % 2 else Cylinder(diameter=30 + k % 7, height=8)
        pieces.append(
            Piece(
                name=f"{'pebble' if k % 2 else 'brass cog'} {k + 1}",
                solid=solid,
                at=(x, y),
                measured_from=Side.FRONT,
                depth=6.0 + 1.3 * k,
                clearance=1.0,
                drift=Drift(side=1.0),
            )
        )
    cut = Pocket(
        name="dial", face=Side.FRONT, cutter=FLAT, depth=5, outline=(circle(160, 160, 120),)
    )
    moves = [m for r in range(3, 118, 8) for m in circle_moves(160, 160, r, 5)]
    made = [Made(cut, moves, near("brass cog 1", 2.0, (62.0, 60.0, -5.0)))]
    job = job_of(
        [cut], blank=Blank(outline=rect(0, 0, 320, 320), thickness=42), pieces=tuple(pieces)
    )
    return Scene(job=job, programs=(program(1, made, 1),), verdict=Verdict.CLEAR)


def shell() -> Heights:
    """Measured tops over 40 x 30 mm, 5 to 7 mm above a flat foot."""
    x, y = np.meshgrid(np.arange(0.0, 41.0, 4.0), np.arange(0.0, 31.0, 3.0))
    z = 6.0 + np.sin(x / 4.0) * np.cos(y / 5.0)
    corner = np.add.outer(np.arange(10) * 11, np.arange(10)).ravel()
    triangles = [np.column_stack([corner + d for d in t]) for t in ((0, 1, 11), (1, 12, 11))]
    points = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    return Heights(file=Path("shell.csv"), points=points, triangles=np.concatenate(triangles))


SHELL = Piece(
    name="shell",
    solid=shell(),
    at=(330, 90),
    turn=0.4,
    measured_from=Side.BACK,
    depth=6,
    clearance=1,
    drift=Drift(side=1, turn=0.05),
)
STAR = Piece(
    name="star",
    solid=Prism(outline=(rect(0, 0, 30, 12),), height=7),
    at=(250, 245),
    turn=math.pi / 2,
    measured_from=Side.FRONT,
    depth=6,
    clearance=1,
    rule=Rule.MAY_CUT,
    hardness=Hardness.METAL,
)


def whole() -> Scene:
    """The clock with a ledge and its plate, pins, a piece that may be cut, a dial, a clamp on the
    zero of the front."""
    scene = clock()
    view = scene.programs[1].cuts[0]
    ledge = Ledge(outline=(rect(155, 95, 245, 185, 10),), depth=3)
    assert isinstance(view.planned.cut, Pocket)
    cut = replace(view.planned.cut, ledge=ledge)
    star = PieceCut(
        piece="star", volume=120.3, share=0.21, low=(240, 240, -13), high=(255, 250, -9)
    )
    view = replace(view, planned=replace(view.planned, cut=cut), pieces_cut=(star,))
    second = replace(scene.programs[1], cuts=(view, *scene.programs[1].cuts[1:]), code="K7Q2")
    pilots = Drill(
        name="pilots",
        face=Side.BACK,
        cutter=DRILL,
        depth=11,
        at=((160, 100), (240, 180)),
        peck=2,
        diameter=8,
    )
    cuts = [cut if c.name == cut.name else c for c in scene.job.cuts]
    job = replace(
        scene.job,
        cuts=(*cuts, pilots),
        pieces=(*scene.job.pieces, SHELL, STAR),
        pins=Pins(diameter=6, at=((200, 12), (200, 268)), mark=(30, 12)),
        machine=replace(scene.job.machine, dial=(10000, 14500, 18000), spindle_wait=None),
        clamps=(
            *scene.job.clamps,
            Clamp(name="clamp 3", face=Side.FRONT, outline=(rect(-15, -15, 20, 14),), height=12),
        ),
    )
    programs = (scene.programs[0], second, scene.programs[2])
    return replace(scene, job=job, programs=programs, plates=(_plate_scene(cut),))


def _plate_scene(cut: Pocket) -> Scene:
    at = ((160.0, 100.0), (240.0, 180.0))
    screws = Screws(diameter=3, pilot=DRILL, depth=8, edge=2.5, slack=0.4, at=at)
    plate = Plate(
        cut=cut,
        gap=0.25,
        cutter=FLAT,
        sheet=Sheet(size=(120, 120), thickness=3.1),
        tabs=Tabs(count=3, width=4, height=1),
        screws=screws,
    )
    common = {"face": Side.FRONT, "cutter": FLAT, "depth": 3.6, "through": True}
    edge = Profile(
        name="edge", outline=(rect(10, 10, 99.5, 99.5, 9.75),), side=ProfileSide.OUTER, **common
    )
    holes = Drill(name="holes", at=((15, 15), (95, 95)), peck=2, diameter=3.4, **common)
    blank = Blank(outline=rect(0, 0, 120, 120), thickness=3.1)
    job = job_of([holes, edge], blank=blank, pieces=(), clamps=())
    made = [
        Made(holes, drill_moves(holes.at, 3.6)),
        Made(edge, pocket_moves(7, 7, 102.5, 102.5, 3.6)),
    ]
    run = replace(program(1, made, 1), file="07-plate-flat-6.nc", code="P1P1")
    return Scene(job=job, programs=(run,), verdict=Verdict.CLEAR, plate=plate)
