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


@pytest.mark.parametrize("row", VALUES["ridge"], ids=lambda row: f"R{row['radius']}-{row['step']}")
def test_ridges_of_a_ball(row) -> None:
    from toolpath.job.cusps import level_step
    from toolpath.job.model import Cutter, Shape

    ball = Cutter(
        name="ball", shape=Shape.BALL, diameter=2 * row["radius"], flutes=2, flute_length=20.0,
        shank=2 * row["radius"], reach=40.0, rpm=16000.0, feed=1200.0, plunge=300.0, ramp=0.05,
        stepdown=3.0, stepover=0.4,
    )  # fmt: skip
    assert level_step(ball, row["height"]) == pytest.approx(row["step"], abs=2e-6)


@pytest.mark.parametrize("row", VALUES["point"], ids=lambda row: f"{row['angle']} degrees")
def test_points_of_drills(row, tmp_path: Path) -> None:
    from toolpath.app.plan import plan

    job = tmp_path / "job.toml"
    drill = (
        f'[[cutter]]\nname = "drill"\nshape = "drill"\ndiameter = {row["diameter"]}\nflutes = 2\n'
        f"angle = {row['angle']}\nflute_length = 30\nreach = 38\nrpm = 9000\nfeed = 300\n"
        "plunge = 200\nstepdown = 3\nstepover = 0.4\n"
        '[[cut]]\nname = "hole"\nface = "front"\ndo = "drill"\nat = [[50, 50]]\n'
        f'diameter = {row["diameter"]}\ndepth = 8\ncutter = "drill"\n'
    )
    job.write_text(JOB.format(zero="lower-left", diameter=6.0) + drill)
    plan(job, tmp_path / "out", pictures=False)
    (program,) = (tmp_path / "out/programs").iterdir()
    lowest = min(float(move.points[:, 2].min()) for move in read(program.read_text()))
    assert lowest == pytest.approx(-8.0 - row["length"], abs=5e-5)  # four decimals


@pytest.mark.parametrize("row", VALUES["removal"], ids=lambda row: f"{row['rate']} cm3/min")
def test_removal_rates(row, tmp_path: Path) -> None:
    """Two passes past wooden blocks that differ in length by 40 mm: what the longer takes more, in
    the time that it takes longer."""
    taken, spent = [], []
    for long in (20.0, 60.0):
        block = (
            f'\n[[piece]]\nname = "block"\nsolid = {{ kind = "box", size = [{long}, 30, 10] }}\n'
            "at = [55, 40]\nfrom_front = 0\n"
            'rule = "may-cut"\nhardness = "wood"\n'
        )
        edge = -15.0 + row["wide"] - row["diameter"] / 2.0  # of the centre, beside the lower side
        begin, end = -long / 2 - 10, long / 2 + 10
        lines = ["G0 Z5", f"G0 X{begin} Y{edge}", f"G1 Z{-row['deep']} F300"]
        lines.append(f"G1 X{end} F{row['feed']}")
        report = judge(tmp_path, lines, diameter=row["diameter"], more=block)
        (cut,) = report.pieces_cut
        taken.append(cut.volume)
        spent.append(report.seconds)
    rate = (taken[1] - taken[0]) / (spent[1] - spent[0]) * 60.0 / 1000.0
    # What is taken of a piece is counted in small columns: to a hundredth or so of this width.
    assert rate == pytest.approx(row["rate"], rel=2e-2)
