"""The exact judge against a slow twin that samples the cutter and knows solids by their own
distance formulas, in the blank frame."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from toolpath.check.gap import tool_of
from toolpath.check.judge import Best, Pairs, near_pairs, search_solids
from toolpath.check.obstacles import standing_at
from toolpath.check.replay import judge_program
from toolpath.check.report import Code, Part, Verdict
from toolpath.check.solids import _Row, columns
from toolpath.drawing.outline import Loop, Region
from toolpath.job.model import (
    Box,
    Cylinder,
    Drift,
    Nut,
    Pocket,
    Prism,
    Shape,
    Side,
    Sphere,
    TurnOver,
)

CUTTERS = {
    Shape.FLAT: {},
    Shape.BALL: {},
    Shape.BULL: {"corner_radius": 1.5},
    Shape.VEE: {"angle": math.radians(60.0), "tip_diameter": 0.4},
    Shape.DRILL: {"angle": math.radians(118.0)},
}
SHORT = {"flute_length": 12.0, "reach": 22.0, "shank": 4.0}


def section(cutter):
    """(k, 2) points r, z of the skin of the turning cutter with its nut, 0.3 mm apart."""
    r, low = cutter.diameter / 2, []
    if cutter.shape is Shape.FLAT:
        low = [(a, 0.0) for a in np.linspace(0, r, 12)]
    elif cutter.shape in (Shape.BALL, Shape.BULL):
        c = r if cutter.shape is Shape.BALL else cutter.corner_radius
        low = [(a, 0.0) for a in np.linspace(0, r - c, 8)]
        low += [(r - c + c * math.sin(a), c - c * math.cos(a)) for a in np.linspace(0, 1.5708, 30)]
    else:
        tip = cutter.tip_diameter / 2
        full = (r - tip) / math.tan(cutter.angle / 2)
        low = [(0.0, 0.0), *((tip + s * (r - tip), s * full) for s in np.linspace(0, 1, 30))]
    start = max(z for _, z in low)
    low += [(r, z) for z in np.linspace(start, cutter.flute_length, 40)]
    low += [(cutter.shank / 2, z) for z in np.arange(cutter.flute_length, cutter.reach, 0.3)]
    low += [(a, cutter.reach) for a in np.linspace(0, 11, 40)]
    low += [(11.0, cutter.reach + z) for z in np.arange(0, 18, 0.5)]
    return np.array(low)


def distance(piece, points, low, high):
    """Distance of points of the blank frame from a nominal solid standing between low and high."""
    off = points - np.array([*piece.at, (low + high) / 2])
    solid = piece.solid
    if isinstance(solid, Sphere):
        return np.maximum(np.linalg.norm(off, axis=-1) - solid.diameter / 2, 0)
    up = np.maximum(np.abs(off[..., 2]) - (high - low) / 2, 0)
    if isinstance(solid, Cylinder):
        out = np.maximum(np.hypot(off[..., 0], off[..., 1]) - solid.diameter / 2, 0)
        return np.hypot(out, up)
    c, s = math.cos(piece.turn), math.sin(piece.turn)
    across = np.abs(off[..., 0] * c + off[..., 1] * s) - solid.size[0] / 2
    along = np.abs(off[..., 1] * c - off[..., 0] * s) - solid.size[1] / 2
    return np.sqrt(np.maximum(across, 0) ** 2 + np.maximum(along, 0) ** 2 + up**2)


def standing(piece, thickness):
    solid = piece.solid
    height = (
        solid.size[2]
        if isinstance(solid, Box)
        else solid.height
        if isinstance(solid, Cylinder)
        else solid.diameter
    )
    if piece.measured_from is Side.FRONT:
        return -piece.depth - height, -piece.depth
    return -thickness + piece.depth, -thickness + piece.depth + height


def seen_from(side, turn_over, xyz):
    """A point of the blank frame in the program frame of the kit's blank (10, 20, 130, 100)."""
    x, y, z = xyz
    if side is Side.FRONT:
        return x - 10, y - 20, z
    if turn_over is TurnOver.LEFT_RIGHT:
        return 130 - x, y - 20, -40 - z
    return x - 10, 100 - y, -40 - z


def sampled(cutter, side, piece, tips):
    """Least sampled distance, tips (k, 3) in the blank frame: it is never below the truth."""
    skin = section(cutter)
    angle = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    up = 1.0 if side is Side.FRONT else -1.0
    ring = np.stack(
        [
            np.outer(skin[:, 0], np.cos(angle)),
            np.outer(skin[:, 0], np.sin(angle)),
            np.repeat(up * skin[:, 1:], len(angle), axis=1),
        ],
        axis=-1,
    ).reshape(-1, 3)
    low, high = standing(piece, 40.0)
    return min(float(distance(piece, ring + tip, low, high).min()) for tip in tips)


def random_piece(kit, rng):
    solids = [
        Box(size=tuple(rng.uniform(4, 20, 3))),
        Cylinder(diameter=rng.uniform(4, 20), height=rng.uniform(3, 15)),
        Sphere(diameter=rng.uniform(4, 18)),
    ]
    return kit.piece(
        solids[rng.integers(3)],
        turn=rng.uniform(-3, 3),
        measured_from=[Side.FRONT, Side.BACK][rng.integers(2)],
        depth=rng.uniform(4, 15),
    )


def random_move(rng, side, turn_over):
    """Two lines of a program and the tips (k, 3) of its second, in the blank frame."""
    first = np.array([70.0, 60.0, -20.0]) + rng.uniform(-1, 1, 3) * [11, 11, 16]
    kind = rng.integers(3)
    start = seen_from(side, turn_over, first)
    if kind == 0:
        last = first + rng.uniform(-1, 1, 3) * [15, 15, 8]
        t = np.linspace(0, 1, 40)[:, None]
        end, tips = seen_from(side, turn_over, last), first + (last - first) * t
        word = "G1 X{:.4f} Y{:.4f} Z{:.4f}".format(*end)
    elif kind == 1:
        last = first + rng.uniform(-1, 1, 3) * [8, 8, 4]
        corners = np.stack(np.meshgrid(*[np.linspace(0, 1, 4)] * 3), -1).reshape(-1, 3)
        end, tips = seen_from(side, turn_over, last), first + (last - first) * corners
        word = "G0 X{:.4f} Y{:.4f} Z{:.4f}".format(*end)
    else:
        # In the program frame, counter-clockwise; seen through the blank it may run the other way.
        radius, angle, sweep = rng.uniform(2, 12), rng.uniform(0, 6.28), rng.uniform(0.5, 5.5)
        drop = rng.uniform(-5, 5)
        centre = np.array(start[:2]) - radius * np.array([math.cos(angle), math.sin(angle)])
        a = angle + sweep * np.linspace(0, 1, 60)
        program = np.column_stack(
            [
                centre[0] + radius * np.cos(a),
                centre[1] + radius * np.sin(a),
                start[2] + drop * np.linspace(0, 1, 60),
            ]
        )
        i, j = centre - np.array(start[:2])
        word = "G3 X{:.4f} Y{:.4f} Z{:.4f}".format(*program[-1]) + f" I{i:.4f} J{j:.4f}"
        # Both turnings are their own inverse up to the shifts of the kit's blank.
        tips = np.array([from_program(side, turn_over, p) for p in program])
    return ["F600", "G1 X{:.4f} Y{:.4f} Z{:.4f}".format(*start), word], tips


def from_program(side, turn_over, xyz):
    x, y, z = xyz
    if side is Side.FRONT:
        return x + 10, y + 20, z
    if turn_over is TurnOver.LEFT_RIGHT:
        return 130 - x, y + 20, -40 - z
    return x + 10, 100 - y, -40 - z


def anywhere(kit, cutter):
    """A cut right through the whole blank, so that only the pieces can refuse."""
    return Pocket(
        name="all of it",
        face=Side.FRONT,
        cutter=cutter,
        depth=40.5,
        through=True,
        outline=(kit.rectangle(-1000.0, -1000.0, 1000.0, 1000.0),),
    )


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("turn_over", list(TurnOver))
def test_verdicts_against_the_slow_twin(kit, side, turn_over):
    rng = np.random.default_rng(sum(map(ord, turn_over.value + side.value)))
    refused = clear = 0
    shapes = list(CUTTERS)
    for number in range(30):
        piece = random_piece(kit, rng)
        shape = shapes[number % len(shapes)]
        cutter = kit.cutter(shape=shape, **SHORT, **CUTTERS[shape])
        lines, tips = random_move(rng, side, turn_over)
        job = kit.job((piece,), turn_over=turn_over, cutter=cutter, cuts=(anywhere(kit, cutter),))
        program = kit.read(*lines)
        report = judge_program(job, side=side, cutter=cutter, program=program, stock=None).report
        gap, need = sampled(cutter, side, piece, tips), job.need(piece)
        if gap < need:
            assert report.verdict is Verdict.REFUSED
            refused += 1
        if report.verdict is Verdict.REFUSED:
            assert gap <= need + 0.02 + 0.6  # samples lie up to 1.4 mm apart on the nut
            assert any(f.code is Code.PIECE and f.piece == "cog" for f in report.findings)
        else:
            clear += 1
        assert report.closest is not None
        assert report.closest.gap <= gap + 0.002  # numbers in the text have four decimals
        assert report.closest.gap >= gap - 0.6
    assert min(refused, clear) >= 5


@pytest.mark.parametrize(("offset", "verdict"), [(0.003, Verdict.CLEAR), (-0.003, Verdict.REFUSED)])
@pytest.mark.parametrize("drift", [0.0, 0.8])
def test_the_band_beside_and_above_simple_solids(kit, offset, verdict, drift):
    # Box 20 x 10 x 6 at (70, 60): its side is at y = 65, its top at -8; flat cutter radius 3,
    # clearance 1 + path error 0.02, both grown by the drift. Program zero is (10, 20).
    piece = kit.piece(Box(size=(20.0, 10.0, 6.0)), drift=Drift(side=drift, rise=drift))
    beside = 65.0 + drift + 3.0 + 1.02 + offset - 20.0
    above = -8.0 + drift + 1.02 + offset
    for lines in (
        ["G0 X30 Y60 Z5", "F300", f"G1 Y{beside:.4f}", "Z-10", "X90"],
        ["G0 X30 Y40 Z5", "F300", f"G1 Z{above:.4f}", "X90"],
        ["G0 X30 Y60 Z5", f"G0 Y{beside:.4f}", "Z-10", "X90"],
    ):
        job = kit.job((piece,))
        report = judge_program(
            job, side=Side.FRONT, cutter=kit.cutter(), program=kit.read(*lines), stock=None
        ).report
        assert report.verdict is verdict


@pytest.mark.parametrize("z", [-8.5, -12.0])
def test_without_any_clearance_a_piece_is_still_not_entered(kit, z):
    # Found by the proof: a gap of 0 was no less than a need of 0, so cutting into it was clear.
    for solid in (Box(size=(20.0, 10.0, 6.0)), Cylinder(diameter=20.0, height=6.0)):
        job = kit.job((kit.piece(solid, clearance=0.0),), path_error=0.0)
        for depth, verdict in ((z, Verdict.REFUSED), (-7.99, Verdict.CLEAR)):
            program = kit.read("F600", "G0 Z5", "G0 X60 Y40", f"G1 Z{depth}", "G1 X64")
            report = judge_program(
                job, side=Side.FRONT, cutter=kit.cutter(), program=program, stock=None
            ).report
            assert report.verdict is verdict


def test_an_arc_round_a_cylinder_is_held_to_its_gap(kit):
    # Radius 12 + 3 + 1.02 round the middle, full circle as two halves: just clear; a hair less
    # is refused although its chords would be no nearer.
    piece = kit.piece(Cylinder(diameter=24.0, height=6.0))
    for extra, verdict in ((0.003, Verdict.CLEAR), (-0.003, Verdict.REFUSED)):
        r = 12.0 + 3.0 + 1.02 + extra
        program = kit.read(
            f"G0 X{60 + r:.4f} Y40 Z5",
            "G1 Z-10 F300",
            f"G3 X{60 - r:.4f} Y40 I{-r:.4f} J0",
            f"G3 X{60 + r:.4f} Y40 I{r:.4f} J0",
        )
        report = judge_program(
            kit.job((piece,)), side=Side.FRONT, cutter=kit.cutter(), program=program, stock=None
        ).report
        assert report.verdict is verdict


@pytest.mark.parametrize(("x", "verdict"), [(55.0, Verdict.CLEAR), (64.0, Verdict.REFUSED)])
def test_a_lip_beside_the_nearest_flank_is_seen(kit, x, verdict):
    # A plate of 60 by 20 whose right half is 0.5 wider. Where the move has its middle the flank
    # is 1.12 away, and the move goes level with it and back; the lip begins at x 60, 0.62 away.
    corners = [(0, 0), (60, 0), (60, 20.5), (30, 20.5), (30, 20), (0, 20)]
    plate = Prism(outline=(Region(outer=Loop.of_polygon(corners)),), height=10.0)
    job = kit.job((kit.piece(plate),))  # program frame: x 30 to 90, y 29.75 to 49.75 and 50.25
    program = kit.read("F300", "G0 X32 Y53.87 Z5", "G1 Z-10", f"G1 X{x}", "X32", "G0 Z5")
    report = judge_program(
        job, side=Side.FRONT, cutter=kit.cutter(), program=program, stock=None
    ).report
    assert report.verdict is verdict
    gaps = [f.gap for f in report.findings if f.code is Code.PIECE]
    assert gaps == ([] if verdict is Verdict.CLEAR else pytest.approx([0.62], abs=0.1))


@pytest.mark.parametrize("past", [37.123456, 41.777777, 52.020202])
@pytest.mark.parametrize("short", [1e-11, 1e-12])
def test_what_is_short_by_less_than_any_look_tells_is_found(kit, past, short):
    # A cutter of radius 3 goes straight past a cylinder of radius 10 at 1 mm: its gap is short of
    # 1 + 1e-11 over 0.00003 mm of its way only, much less than the judge tells apart.
    cylinder = columns([_Row(owner=0, x=past, y=14.0, pad=10.0, z0=-20.0, z1=-5.0)])
    table = kit.read("F300", "G0 X0 Y0 Z-10", "G1 X100").moves.take(np.array([1]))
    pairs = Pairs(row=np.zeros(1, int), solid=np.zeros(1, int), group=np.zeros(1, int))
    tool = tool_of(kit.cutter(), kit.job().machine.nut)
    best = Best.of(np.array([1.0 + short]))
    search_solids(table, tool, cylinder, pairs, best)
    assert best.found[0]
    assert best.tip[0] == pytest.approx((past, 0.0, -10.0), abs=0.3)


def test_a_rapid_may_wander_into_a_piece_that_its_line_passes_by(kit):
    # From (40, 20) to (80, 60), both at -10: the line passes the ball at (80, 20)'s corner far
    # off, the box of the rapid holds it.
    piece = kit.piece(Sphere(diameter=6.0), at=(90.0, 40.0))
    lines = ["G0 X40 Y20 Z5", "F300", "G1 Z-10", "G0 X80 Y60"]
    cutter = kit.cutter(diameter=3.0, shank=3.0)
    job = kit.job((piece,), cutter=cutter)
    judged = judge_program(
        job, side=Side.FRONT, cutter=cutter, program=kit.read(*lines), stock=None
    )
    assert judged.report.verdict is Verdict.REFUSED
    lines[-1] = "G1 X80 Y60"
    judged = judge_program(
        job, side=Side.FRONT, cutter=cutter, program=kit.read(*lines), stock=None
    )
    assert judged.report.verdict is Verdict.CLEAR


def test_the_nut_and_the_shank_are_named(kit):
    cutter = kit.cutter(diameter=3.0, shank=8.0, flute_length=10.0, reach=20.0)
    piece = kit.piece(Cylinder(diameter=4.0, height=6.0), depth=1.0)
    job = kit.job((piece,), cutter=cutter)
    for x, z, part in ((66.0, -14.0, Part.SHANK), (70.0, -22.5, Part.NUT)):
        program = kit.read("F300", f"G0 X{x} Y40 Z30", f"G1 Z{z}")
        report = judge_program(
            job, side=Side.FRONT, cutter=cutter, program=program, stock=None
        ).report
        assert [f.part for f in report.findings if f.code is Code.PIECE] == [part]


def test_a_clamp_is_never_entered(kit):
    from toolpath.job.model import Clamp

    clamp = Clamp(
        name="clamp 1",
        face=Side.BACK,
        outline=(kit.rectangle(0.0, 50.0, 20.0, 70.0),),
        height=18.0,
    )
    job = kit.job((), clamps=(clamp,))
    # Seen from the back the clamp stands at x' 110..130, y' 30..50; the nut is 22 wide and 40 up.
    over = ["F300", "G0 X90 Y40 Z19.5", "G1 X115"]
    beside = ["F300", "G0 X90 Y40 Z5", "G1 X105.9", "Z-2"]
    into = ["F300", "G0 X90 Y40 Z5", "G1 X106.1", "Z-2"]
    deep = ["F300", "G0 X90 Y40 Z5", "G1 X100 Z-22.5"]
    for lines, verdict in (
        (over, Verdict.CLEAR),
        (beside, Verdict.CLEAR),
        (into, Verdict.REFUSED),
        (deep, Verdict.REFUSED),
    ):
        program = kit.read(*lines)
        report = judge_program(
            job, side=Side.BACK, cutter=kit.cutter(), program=program, stock=None
        ).report
        assert report.verdict is verdict, lines
    front = judge_program(
        job, side=Side.FRONT, cutter=kit.cutter(), program=kit.read(*into), stock=None
    )
    assert front.report.verdict is Verdict.CLEAR


def test_pairs_that_are_near_are_those_of_looking_at_every_pair(kit):
    """Against shapely's distance of each move's box in plan from each solid's."""
    chance, tool = np.random.default_rng(5), tool_of(kit.cutter(), Nut())
    for count, solids in ((0, 4), (1, 3), (64, 40), (65, 40), (700, 60)):
        places = np.cumsum(chance.normal(0.0, 4.0, (count + 1, 3)), axis=0)
        moves = replace(standing_at(places[:-1]), end=places[1:])
        low = chance.normal(0.0, 60.0, (solids, 3))
        high = low + chance.random((solids, 3)) * 20.0
        within = chance.random(solids) * 5.0
        within[::7], within[::11] = -np.inf, np.inf
        ends = np.sort(np.stack([places[:-1], places[1:]]), axis=0)
        apart = shapely.distance(
            shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])[:, None],
            shapely.box(ends[0, :, 0], ends[0, :, 1], ends[1, :, 0], ends[1, :, 1]),
        )
        near = (apart - tool.radius < within[:, None]) & (
            ends[0, :, 2] - high[:, 2, None] < within[:, None]
        )
        row, number = near_pairs(moves, (low, high), tool, within)
        assert (np.stack([number, row]) == np.nonzero(near)).all()
