"""What is left in cavities. Figures of corners and channels are elementary: a disc of radius r in a
square corner leaves (1 - pi / 4) r^2, in which a disc of diameter 2 r (3 - 2 sqrt 2) fits."""

import math
from pathlib import Path

import pytest

from toolpath.app.plan import plan

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
