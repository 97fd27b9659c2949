"""The rows of shared/check-values.toml, run through the whole program."""

import tomllib
from pathlib import Path

import pytest
import shapely
from independent import read, swept

ROOT = Path(__file__).parents[2]
VALUES = tomllib.loads((ROOT / "shared/check-values.toml").read_text())

JOB = """
name = "values"
units = "mm"
[blank]
outline = {{ rect = [-20, -20, 130, 100] }}
thickness = 40
material = "casting resin"
[face.front]
zero = "{zero}"
[machine]
travel = [400, 400, 120]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 0.5
[[cutter]]
name = "flat"
shape = "flat"
diameter = {diameter}
flutes = 1
flute_length = 30
reach = 38
rpm = 14000
feed = 1400
plunge = 300
stepdown = 3
stepover = 0.4
"""


def judge(tmp_path: Path, lines: list[str], diameter: float = 6.0, more: str = ""):
    from toolpath.app.check import Run, check

    job, program = tmp_path / "job.toml", tmp_path / "program.nc"
    # The blank is drawn so that the centre of its box is at (55, 40).
    job.write_text(JOB.format(zero="centre", diameter=diameter) + more)
    program.write_text("\n".join(["G17 G21 G90 G94", *lines, "M2"]) + "\n")
    return check(job, Run(face="front", cutter="flat", program=program)).report


@pytest.mark.parametrize("row", VALUES["contour"], ids=lambda row: row["source"][:28])
def test_published_contours(row, tmp_path: Path) -> None:
    x, y = row["start"]
    head = ["G0 Z5", f"G0 X{x} Y{y}", "G1 Z0 F100"]
    report = judge(tmp_path, [*head, *row["lines"]])
    assert report.feed_length == pytest.approx(row["length"] + 5, abs=1e-6)
    moves = read("\n".join([*head, *row["lines"]]))
    path = shapely.Polygon([p for move in moves[1:] for p in move.points[:, :2]])
    assert path.area == pytest.approx(row["area"], rel=2e-4)


@pytest.mark.parametrize("row", VALUES["arc"], ids=lambda row: row["line"])
def test_lengths_of_arcs(row, tmp_path: Path) -> None:
    x, y, z = row["start"]
    report = judge(tmp_path, ["G0 Z5", f"G0 X{x} Y{y}", f"G0 Z{z}", f"{row['line']} F100"])
    assert report.feed_length == pytest.approx(row["length"], abs=1e-6)
    assert report.arcs == 1


@pytest.mark.parametrize("row", VALUES["opening"], ids=lambda row: row["outline"])
def test_what_a_cutter_reaches(row, tmp_path: Path) -> None:
    from toolpath.app.plan import plan

    job = tmp_path / "job.toml"
    cut = f'\n[[cut]]\nname = "p"\nface = "front"\ndo = "pocket"\noutline = {row["outline"]}\n'
    head = JOB.format(zero="lower-left", diameter=row["cutter"])
    job.write_text(f'{head}{cut}depth = 6\ncutter = "flat"\n')
    done = plan(job, tmp_path / "out", pictures=False)
    (program,) = (tmp_path / "out/programs").iterdir()
    area = swept(read(program.read_text()), row["cutter"] / 2, below=-6).area
    assert area == pytest.approx(row["area"], rel=2e-4)
    assert done.payload["cuts"][0]["uncut_area_mm2"] <= 1e-4 * row["area"]


@pytest.mark.parametrize("row", VALUES["gap"], ids=lambda row: row["source"][:50])
def test_gaps_to_a_sphere(row, tmp_path: Path) -> None:
    sphere = row["sphere"]
    piece = (
        f'\n[[piece]]\nname = "ball"\nsolid = {{ kind = "sphere", '
        f"diameter = {sphere['diameter']} }}"
        f"\nat = {sphere['at']}\nfrom_front = {sphere['from_front']}\n"
    )
    x, y, z = row["tip"]
    x, y = x - 55, y - 40
    # Down beside the ball and no further: the end of the move is its nearest point.
    report = judge(tmp_path, ["G0 Z9", f"G0 X{x} Y{y}", f"G1 Z{z} F100"], more=piece)
    assert report.closest is not None
    assert report.closest.gap == pytest.approx(row["gap"], abs=2e-3)
