import re
from dataclasses import replace

import numpy as np
import pytest

from toolpath.check.frames import frame_of
from toolpath.check.gap import tool_of
from toolpath.check.obstacles import Obstacles
from toolpath.check.report import Code, Part
from toolpath.check.words import Scene, breach_findings, line_words, place_words, stretches
from toolpath.job.model import Box, Clamp, Cylinder, Nut, Shape, Shoe, Side, Sphere
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.units import Unit


def findings(kit, job, *lines, side=Side.FRONT, cutter=None):
    table = kit.read("F600", "G0 Z5", "G0 X0 Y0", *lines).moves
    table = table.take(table.known)
    obstacles, cutter = Obstacles.of(job, side), cutter or kit.cutter()
    scene = Scene(
        table=table,
        obstacles=obstacles,
        frame=frame_of(job, side),
        cutter=cutter,
        nut=job.machine.nut,
        unit=job.unit,
    )
    return breach_findings(scene, obstacles.breaches(table, tool_of(cutter, job.machine.nut)))


@pytest.fixture
def job(kit):
    # Top at -8, side at program x 48 to 72 about (60, 40); 1.02 mm are needed.
    return kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0)),))


@pytest.mark.parametrize(
    ("tip", "shown"), [(-7.0041, "0.99"), (-7.5, "0.50"), (-7.7501, "0.24"), (-7.9989, "0.00")]
)
def test_the_gap_left_is_rounded_down(kit, job, tip, shown):
    (finding,) = findings(kit, job, "G0 X60 Y40", f"G1 Z{tip}", "G0 Z5")
    # Tip over the flat top: the gap is 8 + tip.
    assert finding.gap == pytest.approx(8.0 + tip, abs=1e-6)
    assert f"come to {shown} mm of it" in finding.message


def test_the_gap_needed_is_rounded_up(kit):
    # 1.0011 and 0.02: 1.0211 mm.
    job = kit.job((kit.piece(Cylinder(diameter=24.0, height=6.0), clearance=1.0011),))
    (finding,) = findings(kit, job, "G0 X60 Y40", "G1 Z-7.5", "G0 Z5")
    assert finding.needed == pytest.approx(1.0211)
    assert "1.03 mm are needed" in finding.message


def test_a_touch_is_said_as_one(kit, job):
    (finding,) = findings(kit, job, "G0 X60 Y40", "G1 Z-9", "G0 Z5")
    assert finding.gap == 0.0
    assert '"cog": the flutes touch it, 1.02 mm are needed' in finding.message


def test_one_finding_a_piece_a_part_and_a_stretch(kit):
    pieces = tuple(
        kit.piece(Cylinder(diameter=12.0, height=6.0), at=(x, 60.0), name=name)
        for x, name in ((40.0, "cog"), (80.0, "stone"))
    )
    job = kit.job(pieces)
    once = ["G1 Z-7.5", "X30 Y40", "X26", "X70", "X30", "G0 Z5", "X0 Y0"]
    found = findings(kit, job, *once)
    assert sorted(f.piece for f in found) == ["cog", "stone"]
    # A lift that stays in the cut is no new stretch; one above the face is.
    inside = ["G1 Z-7.5", "X30 Y40", "G0 Z-6", "G1 Z-7.5", "X31", "G0 Z5"]
    assert len(findings(kit, job, *inside)) == 1
    assert len(findings(kit, job, *once, *once)) == 4
    # At X20 the thicker shank touches the cog's side (x 24) and is the worst of that move; over
    # the top it is the flutes: two parts in one stretch.
    stubby = kit.cutter(flute_length=4.0, reach=15.0, shank=8.0)
    both = ["G1 Z-13", "X20 Y40", "X0", "Z-1", "X30", "Z-7.5", "G0 Z5"]
    parts = findings(kit, kit.job(pieces[:1]), *both, cutter=stubby)
    assert sorted(f.part.value for f in parts) == ["flutes", "shank"]


def test_each_finding_is_its_worst_place_and_the_worst_come_first(kit, job):
    lines = []
    for tip in (-7.2, -7.6, -7.4):  # three stretches, the middle one the worst
        lines += ["G0 X60 Y40", f"G1 Z{tip + 0.1}", "X61", f"G1 Z{tip}", "X60", "G0 Z5", "X0"]
    found = findings(kit, job, *lines)
    assert [f.gap for f in found] == pytest.approx([0.4, 0.6, 0.8], abs=0.002)
    # Line 6 is the first of `lines` and each stretch has seven.
    assert [(f.line - 6) // 7 for f in found] == [1, 2, 0]
    span = re.search(r"lines (\d+) to (\d+)$", found[0].message)
    assert span
    assert int(span[1]) <= found[0].line <= int(span[2])


def test_clamps_rapids_and_thin_air_are_said(kit):
    clamp = Clamp(
        name="clamp 1", face=Side.FRONT, outline=(kit.circle(70.0, 60.0, 6.0),), height=15.0
    )
    job = kit.job(clamps=(clamp,))
    (finding,) = findings(kit, job, "G0 X60 Y20", "G0 Y60", "G0 Z20")
    assert finding.code is Code.CLAMP
    assert finding.message.startswith('clamp "clamp 1": the flutes of a rapid touch it')
    assert "5 mm above the face" in finding.message
    assert finding.mend.endswith("move the clamp")


def test_no_mend_is_named_for_the_shank_but_a_longer_cutter(kit):
    job = kit.job((kit.piece(Box(size=(20.0, 20.0, 6.0)), depth=2.0),))
    stubby = kit.cutter(flute_length=4.0, reach=9.0, shank=8.0)
    found = findings(kit, job, "G0 X45.5", "G1 Z-10", "G1 Y40", "G0 Z5", cutter=stubby)
    shank = next(f for f in found if f.part is Part.SHANK)
    assert "sticks out further" in shank.mend
    assert "follow this path" not in shank.mend


def test_place_words_follow_the_unit():
    at, tip = np.array([25.4, 50.8, -3.0]), np.array([12.7, -0.0, -2.54])
    mm = place_words(at, tip, Unit.MM)
    assert mm == "at x 25.40, y 50.80, depth 2.54 mm (program X12.700 Y0.000 Z-2.540)"
    inch = place_words(at, tip, Unit.INCH)
    assert "x 1.000, y 2.000" in inch
    assert "(program X0.5000 Y0.0000 Z-0.1000)" in inch


def test_line_words():
    assert [line_words(0, 0), line_words(4, 4), line_words(4, 9)] == [
        "",
        ", line 4",
        ", lines 4 to 9",
    ]


def test_a_stretch_begins_with_a_rapid_from_above_the_face():
    def move(kind, low, high):
        return Move(kind=kind, start=(0, 0, low), end=(0, 0, high))

    table = MoveTable.of(
        [
            move(Kind.LINE, 5, -1),
            move(Kind.RAPID, -1, 5),
            move(Kind.RAPID, 5, 5),
            move(Kind.LINE, 5, -1),
            move(Kind.RAPID, -1, -0.5),
            move(Kind.RAPID, 0, 5),
        ]
    )
    assert np.diff(stretches(table)).tolist() == [0, 1, 0, 0, 0]


@pytest.mark.parametrize(("x", "refused"), [(3.5, False), (3.3, True)])
def test_a_round_over_passes_over_a_ball_in_its_hollow(kit, x, refused):
    # Radius 5 about (6, 0) from the axis; the ball of 2 has its middle level with the tip. With
    # its middle x from the axis, 6 - x from the curve's own: 5 - (6 - x) - 1 are left, which is
    # 1.5 and 1.3; 1.4 are needed. A flat cutter would go through it.
    piece = kit.piece(Sphere(diameter=2.0), clearance=1.38)
    job = kit.job((piece,))
    cutter = kit.cutter(shape=Shape.ROUND_OVER, diameter=12.0, edge_radius=5.0)
    lines = (f"G0 X{60 - x} Y20", "G1 Z-9", f"Y60 X{60 - x}", "G0 Z5")
    found = findings(kit, job, *lines, cutter=cutter)
    assert [f.part for f in found] == [Part.FLUTES] * refused
    assert not refused or found[0].gap == pytest.approx(1.3, abs=0.011)
    assert findings(kit, job, *lines, cutter=kit.cutter(diameter=12.0))[0].gap == 0.0


def test_a_dust_shoe_is_kept_from_clamps_and_named(kit):
    clamp = Clamp(name="clamp 1", face=Side.FRONT, height=18.0, outline=(
        kit.rectangle(100.0, 20.0, 130.0, 100.0),
    ))  # fmt: skip
    job = kit.job((), clamps=(clamp,))
    shoe = Shoe(diameter=80.0, drop=4.0)
    with_shoe = replace(job, machine=replace(job.machine, nut=Nut(shoe=shoe)))
    # Tip at -17.5, edge of the shoe 36 above it: 0.5 over the clamp, whose side the nut and the
    # shank are 30 from; 1.02 are needed.
    lines = ("G0 X60 Y40", "G1 Z-17.5", "G0 Z5")
    assert findings(kit, job, *lines) == []
    (finding,) = findings(kit, with_shoe, *lines)
    assert (finding.part, finding.code) == (Part.SHOE, Code.CLAMP)
    assert finding.gap == pytest.approx(0.5)
    assert "raise the dust shoe" in finding.mend
    assert 'clamp "clamp 1": the dust shoe comes to 0.50 mm of it' in finding.message
    higher = replace(job, machine=replace(job.machine, nut=Nut(shoe=replace(shoe, drop=3.4))))
    assert findings(kit, higher, *lines) == []
