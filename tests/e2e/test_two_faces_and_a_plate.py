"""A tray with a cover for its back, from the command line: plates, pins, a measured blank."""

import json
from pathlib import Path

import numpy as np
import pytest
from independent import read

JOB = """
name = "tray"
units = "mm"
[blank]
outline = { rect = [0, 0, 140, 100] }
thickness = 20
thickness_within = 0.2
material = "casting resin"
[machine]
travel = [300, 200, 80]
feed_max = 2000
spindle = [8000, 24000]
safe_height = 5
[check]
clearance = 1.0
cell = 0.5
[pins]
cutter = "flat 3"
board = 4
[[cutter]]
name = "flat 3"
shape = "flat"
diameter = 3
flutes = 2
flute_length = 26
reach = 30
rpm = 18000
feed = 1000
plunge = 200
stepdown = 3
stepover = 0.4
[[piece]]
name = "pebble"
solid = { kind = "sphere", diameter = 8 }
at = [40, 50]
from_front = 4
[[cut]]
name = "dish"
face = "front"
do = "pocket"
outline = { rect = [90, 30, 120, 70], corner = 5 }
depth = 5
cutter = "flat 3"
[[cut]]
name = "box"
face = "back"
do = "pocket"
outline = { rect = [30, 35, 70, 65], corner = 4 }
ledge = { width = 8, depth = 3 }
depth = 6
cutter = "flat 3"
[[plate]]
for = "box"
cutter = "flat 3"
stock = { size = [90, 80], thickness = 3 }
screws = { diameter = 3.5, count = 4, pilot = "flat 3", depth = 5, edge = 3.5 }
"""
MEASURED = "measured = { size = [141, 99], thickness = 19.5 }\n"


@pytest.fixture(scope="module")
def planned(keepclear, tmp_path_factory):
    def run(text: str) -> tuple[Path, dict]:
        folder = tmp_path_factory.mktemp("tray")
        job = folder / "tray.toml"
        job.write_text(text)
        ran = keepclear("plan", job, "-o", folder / "out", "--no-pictures")
        assert ran.code == 0, ran.out + ran.err
        return folder, json.loads((folder / "out/plan.json").read_text())

    return run


@pytest.fixture(scope="module")
def plain(planned):
    return planned(JOB)


@pytest.fixture(scope="module")
def measured(planned):
    return planned(MEASURED + JOB)


def feeds(folder: Path, face: str) -> np.ndarray:
    paths = sorted((folder / "out/programs").glob(f"*-{face}-*.nc"))
    moves = [move for path in paths for move in read(path.read_text()) if not move.rapid]
    return np.concatenate([move.points for move in moves])


def test_a_plate_has_programs_that_the_check_takes(plain, keepclear) -> None:
    folder, data = plain
    assert [p["face"] for p in data["programs"]] == ["front", "back", "plate"]
    (plate,) = data["plates"]
    assert (plate["for"], plate["verdict"], plate["gap"]) == ("box", "clear", 0.25)
    assert [cut["face"] for cut in plate["cuts"]] == ["plate", "plate"]
    file = folder / "out/programs" / data["programs"][2]["file"]
    words = ("check", folder / "tray.toml", file, "--cutter", "flat 3", "--uncut", "--json")
    assert keepclear(*words, "--face", "plate").json["verdict"] == "clear"
    assert keepclear(*words, "--face", "plate", "--plate", "box").code == 0
    assert keepclear(*words, "--face", "plate", "--plate", "lid").code == 2
    assert keepclear(*words, "--face", "front", "--plate", "box").code == 2


def test_pins_and_mark_are_drilled_first(plain) -> None:
    _, data = plain
    assert [cut["name"] for cut in data["cuts"]][:3] == ["register pins", "odd mark", "dish"]
    # 20 + 0.2 and 4 into the board.
    assert data["cuts"][0]["floor"] == pytest.approx(24.2)


def test_programs_of_the_first_face_stay_when_the_blank_is_measured(plain, measured) -> None:
    (before, _), (after, data) = plain, measured
    name = "01-front-flat-3.nc"
    texts = [(folder / "out/programs" / name).read_bytes() for folder in (before, after)]
    assert texts[0] == texts[1]
    assert data["verdict"] == "clear"


def test_the_second_face_follows_the_blank_as_found(plain, measured) -> None:
    before, after = feeds(plain[0], "back"), feeds(measured[0], "back")
    # Seen from the back x' = width - x: one more millimetre of blank moves all by one. The lower
    # edge stays where the front has its zero (common practice, no source).
    assert after[:, 0].min() - before[:, 0].min() == pytest.approx(1.0, abs=1e-3)
    assert after[:, 1].min() - before[:, 1].min() == pytest.approx(0.0, abs=1e-3)
    assert after[:, 2].min() == before[:, 2].min() == -8.0


def test_a_measured_blank_that_is_too_thin_is_said(planned, keepclear, tmp_path) -> None:
    job = tmp_path / "tray.toml"
    job.write_text(MEASURED.replace("19.5", "10") + JOB)
    ran = keepclear("plan", job, "-o", tmp_path / "out")
    assert ran.code == 2
    assert "measured" in ran.err
