"""Both faces and both turnings, proved in the blank frame from the emitted text alone.

The frames are the contract's; the areas are shapely's.
"""

import itertools
from pathlib import Path

import numpy as np
import pytest
import shapely
from independent import read, swept, to_blank
from shapely.geometry import LineString, Point, box
from shapely.ops import unary_union

BOX = (-10.0, 5.0, 110.0, 85.0)
THICKNESS = 25.0
RADIUS = 3.0
# An L that no turn or mirror maps onto itself, away from the middle of the blank.
ELL = [(5.0, 20.0), (45.0, 20.0), (45.0, 40.0), (25.0, 40.0), (25.0, 70.0), (5.0, 70.0)]

JOB = """
name = "turning"
units = "mm"
[blank]
outline = {{ rect = [-10, 5, 110, 85] }}
thickness = 25
material = "casting resin"
turn_over = "{turning}"
[face.front]
zero = "{zero}"
[face.back]
zero = "{zero}"
[machine]
travel = [400, 400, 90]
feed_max = 3000
spindle = [8000, 24000]
safe_height = 6
[check]
clearance = 1.0
[[cutter]]
name = "flat 6"
shape = "flat"
diameter = 6
flutes = 1
flute_length = 20
reach = 30
rpm = 14000
feed = 1400
plunge = 300
stepdown = 3
stepover = 0.4
[[piece]]
name = "stone"
solid = {{ kind = "box", size = [16, 10, 6] }}
at = [{x}, {y}]
from_front = 9
turn = 25
[[cut]]
name = "ell"
face = "{face}"
do = "pocket"
outline = {{ polygon = [[5, 20], [45, 20], [45, 40], [25, 40], [25, 70], [5, 70]] }}
depth = {depth}
cutter = "flat 6"
"""

TURNINGS = ("left-right", "top-bottom")
ZEROS = ("lower-left", "lower-right", "upper-left", "upper-right", "centre")


@pytest.mark.parametrize(
    ("face", "turning", "zero"),
    [
        *[("front", "left-right", zero) for zero in ZEROS],
        *[("back", turning, zero) for turning, zero in itertools.product(TURNINGS, ZEROS)],
    ],
)
def test_a_pocket_lies_where_it_was_drawn(
    face: str, turning: str, zero: str, tmp_path: Path
) -> None:
    from toolpath.app.plan import plan

    text = JOB.format(face=face, turning=turning, zero=zero, depth=5, x=75, y=60)
    job = tmp_path / "job.toml"
    job.write_text(text)
    done = plan(job, tmp_path / "out", pictures=False)
    assert done.clear
    (program,) = (tmp_path / "out" / "programs").iterdir()
    moves = read(program.read_text())
    cut = []
    for move in moves:
        points = to_blank(move.points, face, turning, zero, BOX, THICKNESS)
        depth = -points[:, 2] if face == "front" else THICKNESS + points[:, 2]
        if not move.rapid and depth.min() > 5 - 1e-6:
            xy = points[:, :2]
            still = np.ptp(xy, axis=0).max() < 1e-9
            shape = Point(xy[0]) if still else LineString(xy)
            cut.append(shape.buffer(RADIUS, quad_segs=64))
    area = unary_union(cut)
    wanted = shapely.Polygon(ELL)
    reach = wanted.buffer(-RADIUS).buffer(RADIUS, quad_segs=64)
    assert shapely.difference(area, wanted.buffer(0.003)).area < 1e-9  # overcut
    assert reach.difference(area).area <= 1e-4 * reach.area  # uncut


@pytest.mark.parametrize("turning", TURNINGS)
@pytest.mark.parametrize("face", ["front", "back"])
def test_a_pocket_over_a_piece_is_refused_and_beside_it_is_not(
    face: str, turning: str, tmp_path: Path
) -> None:
    from toolpath.app.plan import plan

    # 9 to 15 below the front, so 10 to 16 below the back; 1.02 mm must stay.
    clear = {"front": 7.97, "back": 8.97}[face]
    for depth, x, verdict in ((clear, 30, True), (clear + 0.1, 30, False), (18, 75, True)):
        text = JOB.format(face=face, turning=turning, zero="centre", depth=depth, x=x, y=30)
        job = tmp_path / "job.toml"
        job.write_text(text)
        done = plan(job, tmp_path / "out", pictures=False)
        assert done.clear is verdict, (depth, x)
        assert (tmp_path / "out" / "programs").exists() is verdict
        (cut,) = done.payload["cuts"]
        assert cut["closest"]["piece"] == "stone"
        if x == 30:
            top = {"front": -9.0, "back": -15.0}[face]
            assert cut["closest"]["gap"] == pytest.approx(
                abs(top) - depth if face == "front" else 10 - depth, abs=1e-3
            )
        else:
            gap = 75 - 45 - 0.0  # far: the exact gap is measured below
            assert cut["closest"]["gap"] < gap


def test_gap_of_a_back_pocket_beside_a_piece(tmp_path: Path) -> None:
    """The gap beside a turned box, from shapely's own distance in the blank frame."""
    from toolpath.app.plan import plan

    text = JOB.format(face="back", turning="left-right", zero="centre", depth=18, x=58, y=30)
    job = tmp_path / "job.toml"
    job.write_text(text)
    done = plan(job, tmp_path / "out", pictures=False)
    (cut,) = done.payload["cuts"]
    stone = shapely.affinity.rotate(box(50, 25, 66, 35), 25, origin=(58, 30))
    wanted = shapely.Polygon(ELL)
    reach = wanted.buffer(-RADIUS).buffer(RADIUS, quad_segs=64)
    assert cut["closest"]["gap"] == pytest.approx(reach.distance(stone), abs=0.004)
    (program,) = (tmp_path / "out" / "programs").iterdir()
    area = swept(read(program.read_text()), RADIUS, below=-18)
    assert area.area == pytest.approx(reach.area, rel=2e-4)
