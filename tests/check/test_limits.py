import math
from dataclasses import replace

import numpy as np
import pytest

from toolpath.check.limits import SPINDLE_OFF, notes, straight_plunges, travel_findings
from toolpath.check.report import Code
from toolpath.job.model import Drill, Shape, Side
from toolpath.motion.moves import Kind, Move, MoveTable
from toolpath.rs274.read import read_program
from toolpath.units import Unit


def words(kit, job, *lines):
    found = notes(job, kit.cutter(), kit.read(*lines))
    assert not any(f.refuses for f in found)
    return [(f.line, f.message) for f in found]


@pytest.mark.parametrize(
    ("axis", "low", "travel"), [("X", -300.0, 600.0), ("Y", -399.0, 400.0), ("Z", -80.0, 90.0)]
)
def test_travel_is_the_span_on_each_axis(kit, axis, low, travel):
    def found(span):
        program = kit.read("F600", "G0 X0 Y0 Z5", f"G1 {axis}{low}", f"G1 {axis}{low + span:.4f}")
        return travel_findings(kit.job(), program.moves)

    assert found(travel) == []
    (over,) = found(travel + 0.01)
    assert over.code is Code.TRAVEL
    assert over.refuses
    assert over.message.startswith(f"{axis} goes from {low:g}")
    assert f"travels {travel:g} mm" in over.message


def test_travel_counts_arcs_by_their_extremes_and_passes_over_the_unknown(kit):
    # A half circle of radius 201 about Y0: its ends are 402 apart in x, its top 201 in y;
    # standing on end its ends share x while it spans 402 in y > 400.
    program = kit.read("F600", "G0 Z5", "G0 X0 Y-201", "G3 X0 Y201 I0 J201")
    (over,) = travel_findings(kit.job(), program.moves)
    assert over.message.startswith("Y")
    # Ends within 300 of each other, the far side of the circle is not.
    turned = kit.read("F600", "G0 Z5", "G0 X-201 Y0", "G2 X-201 Y0 I301 J0")
    assert [f.message[0] for f in travel_findings(kit.job(), turned.moves)] == ["X", "Y"]


def test_feeds_over_a_limit_are_counted_once(kit):
    job = kit.job()
    inside = words(kit, job, "F1200", "G0 X0 Y0 Z5", "G1 X9", "G1 X1")
    assert inside == []
    (over,) = words(kit, job, "F1201", "G0 X0 Y0 Z5", "G1 X9", "F1500 X1", "F100 X2")
    assert over[0] == 5
    assert "2 moves feed faster than the feed of cutter" in over[1]
    assert "up to 1500 mm/min, limit 1200" in over[1]
    # A cutter whose chip is kept may be fed faster, but not faster than the machine.
    kept = replace(kit.cutter(), chip=0.04)
    for feed, count in (("F2999", 0), ("F3001", 1)):
        found = notes(job, kept, kit.read(feed, "G0 X0 Y0 Z5", "G1 X9"))
        assert len(found) == count
    both = words(kit, job, "F3001", "G0 X0 Y0 Z5", "G1 X9")
    assert ["machine's greatest" in text for _, text in both] == [False, True]


@pytest.mark.parametrize(
    ("rpm", "part"),
    [
        (16000, ""),
        (8000, "the job has 16000"),
        (24000, "the job has 16000"),
        (7999, "the machine has 8000 to 24000"),
        (24001, "the machine has 8000 to 24000"),
    ],
)
def test_spindle_speeds(kit, rpm, part):
    found = words(kit, kit.job(), f"S{rpm}", "G0 X0 Y0 Z5")
    assert len(found) == bool(part)
    assert not part or (found[0][0] == 3 and part in found[0][1])


def test_depth_into_the_spoilboard(kit):
    # 40 thick, 0.3 uncertain, 0.5 of spoilboard: 40.8 is allowed. At 41 the tip may be 0.7 in.
    job = kit.job(within=0.3)
    assert words(kit, job, "F600", "G0 X0 Y0 Z5", "G1 Z-40.8") == []
    assert words(kit, job, "F600", "G0 X0 Y0 Z5", "G0 Z-41") == []
    (deep,) = words(kit, job, "F600", "G0 X0 Y0 Z5", "G1 Z-40.9", "G1 Z-41", "G1 Z-2")
    assert deep[0] == 6
    # The blank may be as thin as 39.7: 41 - 39.7 = 1.3.
    assert "41 mm deep: the tip goes up to 1.3 mm into" in deep[1]


def test_straight_plunges_only_go_down_below_the_face(kit):
    rows = [
        ((0, 0, 5), (0, 0, 1)),  # ends above
        ((0, 0, 1), (0, 0, -1)),  # a plunge
        ((0, 0, -1), (1, 0, -2)),  # a ramp
        ((1, 0, -2), (1, 0, -1)),  # up
    ]
    table = MoveTable.of([Move(kind=Kind.LINE, start=a, end=b, feed=100.0) for a, b in rows])
    assert straight_plunges(table, kit.cutter()).tolist() == [1]
    drill = kit.cutter(shape=Shape.DRILL, angle=math.radians(118.0))
    assert straight_plunges(table, drill).size == 0
    rapid = MoveTable.of([Move(kind=Kind.RAPID, start=rows[1][0], end=rows[1][1])])
    assert np.size(straight_plunges(rapid, kit.cutter())) == 0


def test_a_rehearsal_in_the_air_needs_no_spindle(kit):
    def said(z):
        lines = ["G21 G17 G90 G94 G54", "G0 Z6", "G0 X5 Y5", f"G1 Z{z} F600", "G1 X50", "M2", ""]
        found = notes(kit.job(), kit.cutter(), read_program("\n".join(lines), unit=Unit.MM))
        return [f.message for f in found]

    assert said(0.001) == []
    assert said(0.0) == said(-1.0) == [SPINDLE_OFF]


@pytest.mark.parametrize(("x", "depth", "noted"), [(40, 48, 0), (40, 49, 1), (44, 48, 1)])
def test_holes_for_pins_may_go_into_the_spoilboard(kit, x, depth, noted):
    # The hole is at the blank's 50, 60: program 40, 40. Its own depth, 48, is declared.
    hole = Drill(
        name="register pins",
        face=Side.FRONT,
        cutter=kit.cutter(),
        depth=48.0,
        through=True,
        at=((50.0, 60.0),),
        peck=5.0,
        diameter=6.0,
        pins=True,
    )
    program = kit.read("F300", f"G0 X{x} Y40 Z5", f"G1 Z-{depth}", "G0 Z5")
    job = kit.job(cuts=(hole,))
    assert len(notes(job, kit.cutter(), program, Side.FRONT)) == noted
    assert len(notes(job, kit.cutter(), program, Side.BACK)) == 1
    plain = kit.job(cuts=(replace(hole, pins=False),))
    assert len(notes(plain, kit.cutter(), program, Side.FRONT)) == 1


def test_rapids_lower_than_the_safe_height_are_noted(kit):
    # The shop's safe height is 6 mm; below the face it is the stock that is asked.
    job = kit.job()
    low = ["F300", "G0 X10 Y10 Z6", "G1 Z-2", "G1 X20", "G0 Z4", "G0 X40", "G1 Z-2", "G0 Z6"]
    (found,) = [text for _, text in words(kit, job, *low) if "the face at heights" in text]
    assert found.startswith("1 rapid crosses the face at heights down to 4 mm")
    high = [row.replace("Z4", "Z6") for row in low]
    assert not [text for _, text in words(kit, job, *high) if "the face at heights" in text]


@pytest.mark.parametrize(
    ("x", "noted"), [(-4.0, True), (-2.0, False), (60.0, False), (124.0, True)]
)
def test_a_program_that_cuts_beside_the_blank_is_noted(kit, x, noted):
    # The blank is 120 wide from X 0 on, the cutter 6: it reaches the blank from 3 beside it.
    program = kit.read("F600", "S16000 M3", "G0 Z5", f"G0 X{x} Y30", "G1 Z-2", "G1 Y40")
    found = [each.message for each in notes(kit.job(), kit.cutter(), program, Side.FRONT)]
    assert any("comes over the blank" in each for each in found) is noted
    above = kit.read("F600", "S16000 M3", "G0 Z5", f"G0 X{x} Y30", "G1 Z1", "G1 Y40")
    assert not any(
        "comes over" in f.message for f in notes(kit.job(), kit.cutter(), above, Side.FRONT)
    )
