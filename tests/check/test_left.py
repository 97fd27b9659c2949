"""What is left in cavities. Figures of corners and channels are elementary: a disc of radius r in a
square corner leaves (1 - pi / 4) r^2, in which a disc of diameter 2 r (3 - 2 sqrt 2) fits."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from toolpath.app.plan import plan
from toolpath.check.left import Why, left_in
from toolpath.check.replay import judge_program
from toolpath.check.stock import Stock
from toolpath.job.model import Clamp, Nut, Pocket, Shape, Side

JOB = """
name = "left"
units = "mm"
[blank]
outline = {{ rect = [0, 0, 90, 70] }}
thickness = 30
material = "casting resin"
[machine]
travel = [600, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
{cutters}
{more}
[[cut]]
name = "cavity"
face = "{face}"
do = "pocket"
outline = {outline}
depth = 6
cutter = "flat 6"
{cut}
"""
CUTTER = """
[[cutter]]
name = "flat {d}"
shape = "flat"
diameter = {d}
flutes = 2
flute_length = 12
reach = 20
rpm = 16000
feed = 1200
plunge = 300
stepdown = 3
stepover = 0.4
"""
SQUARE = "{ rect = [20, 20, 60, 50] }"


def left(tmp_path: Path, outline=SQUARE, more="", cut="", face="front", cutters=(6, 2)):
    """What a plan tells of the one cut of a job."""
    job = tmp_path / "job.toml"
    tools = "".join(CUTTER.format(d=d) for d in cutters)
    job.write_text(JOB.format(cutters=tools, more=more, outline=outline, cut=cut, face=face))
    done = plan(job, tmp_path / "out", pictures=False)
    assert done.clear
    return done.payload["cuts"][0]["left"]


@pytest.mark.parametrize("face", ["front", "back"])
def test_the_corners_of_a_rectangle(tmp_path, face) -> None:
    spots = left(tmp_path, face=face)
    assert len(spots) == 4
    inset = 3.0 * (3.0 - 2.0 * math.sqrt(2.0))
    middles = {(x, y) for x in (20 + inset, 60 - inset) for y in (20 + inset, 50 - inset)}
    for spot in spots:
        assert spot["why"] == "corner" and spot["height"] == pytest.approx(6.0, abs=1e-3)
        assert spot["area_mm2"] == pytest.approx((1 - math.pi / 4) * 9.0, abs=0.04)
        assert spot["width"] == pytest.approx(2 * inset, abs=0.01)
        # A thinner disc leaves a part that goes with the square of its radius: 9/10 are gone at
        # r sqrt(1 / 10), a little earlier as the hairs of the tips are not counted.
        assert spot["diameter"] == pytest.approx(6.0 * math.sqrt(0.1), abs=0.06)
        assert spot["cutter"] == ""
        near = min(middles, key=lambda m: math.dist(m, spot["at"]))
        assert math.dist(near, spot["at"]) < 0.02
        middles.remove(near)


def test_a_job_that_has_the_cutter_names_it(tmp_path) -> None:
    spots = left(tmp_path, cutters=(6, 1.5))
    assert {spot["cutter"] for spot in spots} == {"flat 1.5"}


def test_a_channel(tmp_path) -> None:
    corners = "[10, 20], [50, 20], [50, 28], [70, 28], [70, 32], [50, 32], [50, 50], [10, 50]"
    shape = f"{{ polygon = [{corners}] }}"
    spots = left(tmp_path, shape)
    (channel,) = [spot for spot in spots if spot["why"] == "channel"]
    assert channel["area_mm2"] == pytest.approx(80.0, abs=3.0)  # and a little of its mouth
    assert channel["width"] == pytest.approx(4.0, abs=0.3)
    assert channel["diameter"] == pytest.approx(4.0, abs=0.02)
    assert channel["cutter"] == "flat 2"


def test_what_a_finer_cutter_takes_is_not_left(tmp_path) -> None:
    left(tmp_path)
    job = (tmp_path / "job.toml").read_text()
    both = job.replace('cutter = "flat 6"', 'cutter = ["flat 6", "flat 2"]')
    (tmp_path / "job.toml").write_text(both)
    finer = plan(tmp_path / "job.toml", tmp_path / "out", pictures=False).payload["cuts"][0]["left"]
    assert [spot["area_mm2"] for spot in finer] == pytest.approx([1 - math.pi / 4] * 4, abs=0.03)


PEBBLE = """
[[piece]]
name = "pebble"
solid = { kind = "cylinder", diameter = 10, height = 6 }
at = [40, 35]
from_front = 4
"""


def test_a_pillar_names_its_piece(tmp_path) -> None:
    spots = left(tmp_path, more=PEBBLE, cut='if_blocked = "pillar"')
    (pillar,) = [spot for spot in spots if spot["why"] == "piece"]
    assert pillar["of"] == "pebble" and pillar["diameter"] is None
    # Clearance 1 and path error 0.02 round it, and at most 0.3 more (docs/job-file.md).
    assert math.pi * 6.02**2 <= pillar["area_mm2"] <= math.pi * 6.32**2
    assert math.dist(pillar["at"], (40, 35)) < 0.1


def test_a_pillar_in_a_pocket_with_a_ledge_is_told_once(tmp_path) -> None:
    ledge = "ledge = { outline = { rect = [10, 10, 70, 60] }, depth = 3 }"
    spots = left(tmp_path, more=PEBBLE, cut=f'if_blocked = "pillar"\n{ledge}')
    assert [spot["of"] for spot in spots if spot["why"] == "piece"] == ["pebble"]


def test_a_floor_that_rises_stands_as_high_as_it_must(tmp_path) -> None:
    spots = left(tmp_path, more=PEBBLE, cut='if_blocked = "rise"')
    (risen,) = [spot for spot in spots if spot["why"] == "piece"]
    # Its top is 4 deep and 1.02 is kept: 3.02 of 6 stand at least, 0.3 more at most.
    assert 3.02 - 0.05 <= risen["height"] <= 3.32


def test_a_refused_cut_is_not_listed(tmp_path) -> None:
    job = tmp_path / "job.toml"
    tools = CUTTER.format(d=6)
    job.write_text(JOB.format(cutters=tools, more=PEBBLE, outline=SQUARE, cut="", face="front"))
    done = plan(job, tmp_path / "out", pictures=False)
    assert not done.clear
    assert all(spot["why"] in ("corner", "piece") for spot in done.payload["cuts"][0]["left"])


def test_islands_are_not_left(tmp_path) -> None:
    spots = left(tmp_path, cut="islands = [{ rect = [30, 30, 40, 36] }]")
    assert [spot["why"] for spot in spots] == ["corner"] * 4
    assert sum(spot["area_mm2"] for spot in spots) < 10.0


def test_a_ledge_has_corners_of_its_own(tmp_path) -> None:
    ledge = "ledge = { outline = { rect = [10, 10, 70, 60] }, depth = 3 }"
    spots = left(tmp_path, cut=ledge)
    assert [spot["why"] for spot in spots] == ["corner"] * 8
    # What stands in the pocket's comes up to its ledge, what stands on that to the face.
    assert [spot["height"] for spot in spots] == pytest.approx([3.0] * 8, abs=1e-3)
    for spot in spots:
        assert spot["area_mm2"] == pytest.approx((1 - math.pi / 4) * 9.0, abs=0.04)
    assert [spot["at"][0] < 20 or spot["at"][0] > 60 for spot in spots] == [False] * 4 + [True] * 4


def test_a_piece_deep_below_is_no_reason(tmp_path) -> None:
    deep = PEBBLE.replace("at = [40, 35]", "at = [22, 22]").replace(
        "from_front = 4", "from_front = 12"
    )
    assert [spot["why"] for spot in left(tmp_path, more=deep)] == ["corner"] * 4


def test_the_largest_comes_first(tmp_path) -> None:
    corners = "[10, 20], [50, 20], [50, 28], [70, 28], [70, 32], [50, 32], [50, 50], [10, 50]"
    areas = [spot["area_mm2"] for spot in left(tmp_path, f"{{ polygon = [{corners}] }}")]
    assert areas[0] > 70.0 and areas == sorted(areas, reverse=True)


ARM = (
    "{ polygon = [[20, 20], [60, 20], [60, 33], [70, 33], [70, 37], [60, 37], [60, 50], [20, 50]] }"
)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({}, "flat 3"),
        # Too short for a floor 6 deep, not flat, or wider than the arm by half a millimetre.
        ({"reach = 20": "reach = 5", "flute_length = 12": "flute_length = 4"}, "flat 2"),
        ({'shape = "flat"': 'shape = "ball"'}, "flat 2"),
        ({"diameter = 3": "diameter = 4.5"}, "flat 2"),
    ],
)
def test_the_widest_flat_cutter_that_gets_down_is_named(tmp_path, change, named) -> None:
    third = CUTTER.format(d=3)
    for old, new in change.items():
        assert old in third
        third = third.replace(old, new)
    spots = left(tmp_path, ARM, more=third)
    (arm,) = [spot for spot in spots if spot["why"] == "channel"]
    assert arm["cutter"] == named


def by_hand(kit, to, *, depth=6.0, clamps=(), shape=Shape.FLAT):
    """Spots of a pocket from 40, 40 to 80, 60 that a program of our own, in passes 2 mm apart,
    clears as far as an x, and down to a depth; the blank's corner is at 10, 20."""
    cut = Pocket(
        name="cavity",
        face=Side.FRONT,
        cutter=kit.cutter(shape=shape),
        depth=6.0,
        outline=(kit.rectangle(40.0, 40.0, 80.0, 60.0),),
    )
    job = kit.job(clamps=clamps, cuts=(cut,))
    job = replace(job, machine=replace(job.machine, nut=Nut(diameter=20.0)))
    lines = ["F600", "G0 X33 Y23 Z5", f"G1 Z-{depth}"]
    for i, y in enumerate((23.0, 25.0, 27.0, 29.0, 31.0, 33.0, 35.0, 37.0)):
        lines += [f"G1 Y{y}", f"G1 X{to - 13.0 if i % 2 == 0 else 33.0}"]
    program = kit.read(*lines, "G0 Z5")
    judged = judge_program(
        job, side=Side.FRONT, cutter=cut.cutter, program=program, stock=Stock.fresh(job)
    )
    return left_in(job, cut, judged.stock)


def block(kit, x, face=Side.FRONT):
    return Clamp(
        name="clamp 1", face=face, outline=(kit.rectangle(x, 42.0, x + 9.0, 58.0),), height=9.0
    )


@pytest.mark.parametrize(
    ("x", "face", "why"),
    [
        (85.0, Side.FRONT, Why.CLAMP),
        # A nut of 20 keeps the middle of the cutter 10 + 1 + 0.02 off, its rim 3 nearer: 14.02.
        (94.0, Side.FRONT, Why.CLAMP),
        (94.1, Side.FRONT, Why.STANDING),
        (85.0, Side.BACK, Why.STANDING),
    ],
)
def test_what_a_program_leaves_beside_a_clamp_names_it(kit, x, face, why) -> None:
    spots = by_hand(kit, 76.0, clamps=(block(kit, x, face),))
    assert spots[0].why is why and spots[0].of == ("clamp 1" if why is Why.CLAMP else "")
    # 4 mm of 20, and what the last quarter turns leave of squares of 3 mm.
    assert spots[0].area == pytest.approx(4.0 * 20.0 + 2 * (1 - math.pi / 4) * 9.0, abs=4.0)
    assert spots[0].width == pytest.approx(4.0, abs=0.4) and spots[0].diameter is None


def test_a_floor_that_is_left_a_millimetre_high_stands(kit) -> None:
    (whole,) = by_hand(kit, 80.0, depth=5.0)
    assert whole.why is Why.STANDING
    assert whole.area == pytest.approx(800.0, abs=1.0)
    corners = by_hand(kit, 80.0)
    assert [spot.why for spot in corners] == [Why.CORNER] * len(corners)


def test_ridges_of_a_ball_nose_are_not_left(kit) -> None:
    # 2.4 mm apart they are 3 - sqrt(3^2 - 1.2^2) = 0.25 mm high; these are 2 mm apart. Higher than
    # that and 0.05 stands what is further than u from the rectangle of 34 by 14 of the middle.
    (rim,) = by_hand(kit, 80.0, shape=Shape.BALL)
    u = math.sqrt(9.0 - (math.sqrt(9.0 - 1.2**2) - 0.05) ** 2)
    assert rim.area == pytest.approx(800.0 - (34.0 * 14.0 + 96.0 * u + math.pi * u**2), abs=0.5)
