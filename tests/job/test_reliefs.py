"""Maps of reliefs: what they say, and what is wrong with bad ones."""

import math
import re

import numpy as np
import pytest
import trimesh
from PIL import Image

CUT = """
[[cut]]
name = "dial"
face = "front"
do = "relief"
map = { file = "dial.png", size = [60, 40], at = [100, 75], low = 4, high = 0 }
cutter = "flat 6"
"""
MAP = 'map = { file = "dial.png", size = [60, 40], at = [100, 75], low = 4, high = 0 }'


@pytest.fixture
def ramp(tmp_path):
    """A 16-bit ramp from black at the left to white at the right; its file and how to read."""
    grey = np.tile(np.linspace(0, 65535, 601).astype(np.uint16), (5, 1))
    Image.fromarray(grey).save(tmp_path / "dial.png")
    return tmp_path


def relief(read, clock, *edits):
    text = clock + CUT
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    return read(text)


def test_low_and_high_are_depths_of_black_and_white(ramp, read, clock):
    cut = relief(read, clock).cuts[-1]
    assert cut.depth == pytest.approx(4.0)
    at = cut.ground.heights(np.array([[70.0, 75], [100, 75], [130, 75]]))
    assert at == pytest.approx([-4, -2, 0], abs=1e-4)
    other = relief(read, clock, ("low = 4, high = 0", "low = 1, high = 3")).cuts[-1]
    assert other.ground.heights(np.array([[70.0, 75], [130, 75]])) == pytest.approx([-1, -3])


def test_a_depth_ends_the_floor_and_a_turn_turns_it(ramp, read, clock):
    cut = relief(read, clock, ('do = "relief"', 'do = "relief"\ndepth = 2.5')).cuts[-1]
    assert cut.depth == 2.5
    assert cut.ground.z.min() == -2.5
    turned = relief(read, clock, ("at = [100, 75]", "at = [100, 75], turn = 90")).cuts[-1]
    assert turned.ground.heights(np.array([[100.0, 45], [100, 105]])) == pytest.approx(
        [-4, 0], abs=1e-4
    )


def test_terraces_are_told_and_smoothed_by_less_than_half_of_one(ramp, read, clock):
    steps = np.tile(np.linspace(0, 255, 601).astype(np.uint8), (9, 1))
    Image.fromarray(steps).save(ramp / "dial.png")
    job = relief(read, clock)
    told = [w.message for w in job.warnings if "terraces" in w.message]
    assert told and "256 different values" in told[0] and "0.016 mm" in told[0]
    smooth = relief(read, clock, ("high = 0 }", "high = 0, smooth = 1 }"))
    assert not [w for w in smooth.warnings if "terraces" in w.message]
    rough, even = job.cuts[-1].ground.z, smooth.cuts[-1].ground.z
    assert np.abs(rough - even).max() <= 4 / 255 / 2 + 1e-9
    bend = [np.abs(np.diff(z[4, 20:-20], n=2)).max() for z in (rough, even)]
    assert bend[1] < bend[0] / 3


def test_a_mesh_is_seen_from_the_face(ramp, read, clock):
    trimesh.creation.icosphere(subdivisions=4, radius=10).export(ramp / "ball.stl")
    mesh = 'map = { file = "ball.stl", unit = "mm", at = [100, 75], high = 1 }'
    cut = relief(read, clock, (MAP, mesh + "\ndepth = 6")).cuts[-1]
    heights = cut.ground.heights(np.array([[100.0, 75], [103, 75], [109.9, 75], [109.5, 84]]))
    expected = [-1, -11 + math.sqrt(91), -6, -6]
    assert heights == pytest.approx(expected, abs=0.02)


FAULTS = [
    ("low = 4, high = 0", "low = 2, high = 2", "map: high: 2 mm must differ from low"),
    (
        "low = 4, high = 0",
        "low = 60, high = 0",
        "map: dial.png: its deepest place, 60 mm, is deeper than",
    ),
    ("low = 4, high = 0", "low = -4, high = 0", "map: low: -4 mm must be at least 0 mm"),
    ("low = 4, ", "", "map: low: missing"),
    ("size = [60, 40]", "size = [600, 40]", "map: reaches 200 mm past the left edge"),
    ('"dial.png"', '"dial.gif"', 'map: file: "dial.gif" is no map'),
    ('"dial.png"', '"missing.png"', 'map: file: "missing.png" cannot be found'),
    ('"flat 6"\n', '"drill 5"\n', 'cutter: "drill 5" is a drill'),
    ('do = "relief"', 'do = "relief"\nthrough = true', "through: "),
    ('do = "relief"', 'do = "relief"\ncusp = 1.5', "cusp: 1.5 mm must be less than a quarter"),
    ('do = "relief"', 'do = "relief"\nfinish_by = "rings"\nangle = 3', "angle: holds for"),
    (
        'do = "relief"',
        'do = "relief"\noutline = { circle = [100, 75, 25] }',
        "outline: reaches 5 mm",
    ),
]


@pytest.mark.parametrize(("old", "new", "words"), FAULTS)
def test_faults_of_a_relief(ramp, faults, clock, old, new, words):
    text = clock + CUT
    head, tail = text.rsplit("[[cut]]", 1)
    assert old in tail
    found = faults(head + "[[cut]]" + tail.replace(old, new, 1))
    assert any(words in line and '"dial"' in line for line in found), found


def spoil(name, folder):
    path = folder / "dial.png"
    grey = np.tile(np.arange(0, 250, dtype=np.uint8), (40, 1))
    if name == "constant":
        Image.fromarray(np.full((4, 4), 7, np.uint8)).save(path)
    elif name == "palette":
        Image.fromarray(grey).convert("P").save(path)
    elif name == "transparent":
        Image.fromarray(np.dstack([grey, grey])).save(path)
    elif name == "short":
        Image.fromarray(grey).save(path)
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    elif name == "turned":
        exif = Image.Exif()
        exif[274] = 6
        Image.fromarray(grey).save(path, exif=exif)
    elif name == "huge":
        Image.fromarray(np.zeros((2500, 2500), np.uint8)).save(path)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("constant", "all its samples are 7"),
        ("palette", "kind P (colours of a palette)"),
        ("transparent", "kind LA (grey with transparency)"),
        ("short", "cut short"),
        ("turned", "to be turned when shown"),
        ("huge", "2500 by 2500 samples are more than the 4000000"),
    ],
)
def test_bad_pictures_are_refused_by_file_and_key(ramp, faults, clock, name, words):
    spoil(name, ramp)
    found = faults(clock + CUT)
    assert any("map: file: dial.png" in line and words in line for line in found), found


def test_holes_in_plain_numbers_are_refused(ramp, faults, clock):
    depths = np.ones((4, 4))
    depths[1, 2] = np.nan
    np.save(ramp / "dial.npy", depths)
    plain = CUT.replace("dial.png", "dial.npy").replace(", low = 4, high = 0", "")
    found = faults(clock + plain)
    assert any("row 2, column 3 is nan" in line for line in found), found


def test_numbers_that_are_no_depths_are_refused_by_file(ramp, faults, clock):
    plain = CUT.replace("dial.png", "dial.npy").replace(", low = 4, high = 0", "")
    np.save(ramp / "dial.npy", np.array([[-1.0, 0.0], [1.0, 2.0]]))
    found = faults(clock + plain)
    assert any("map: file: dial.npy: its least number is -1" in line for line in found), found
    np.save(ramp / "dial.npy", np.array([[1, None], [2, 3]], dtype=object), allow_pickle=True)
    found = faults(clock + plain)
    assert any("map: file: dial.npy: it holds objects" in line for line in found), found


def sheet(holes):
    """A sheet of squares 1 mm wide, 20 by 20, that rises along x; without some of its squares."""
    corner = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    squares = [(i, j) for i in range(20) for j in range(20) if (i, j) not in holes]
    flat = np.concatenate([corner + square for square in squares])
    points = np.column_stack([flat, 2.0 + flat[:, 0] / 10])
    first = 4 * np.arange(len(squares))[:, None]
    faces = np.concatenate([first + np.array(each) for each in ((0, 1, 2), (0, 2, 3))])
    return trimesh.Trimesh(points, faces, process=False)


HOLE = {(i, j) for i in (12, 13, 14) for j in (5, 6)}
NOTCH = {(0, j) for j in (5, 6)}


@pytest.mark.parametrize(("gaps", "told"), [(set(), False), (NOTCH, False), (HOLE, True)])
def test_a_gap_inside_a_mesh_that_is_not_closed_is_told(ramp, read, clock, gaps, told):
    sheet(gaps).export(ramp / "sheet.stl")
    mesh = 'map = { file = "sheet.stl", unit = "mm", at = [100, 75], turn = 90 }\ndepth = 5'
    found = [w.message for w in relief(read, clock, (MAP, mesh)).warnings if "closed" in w.message]
    assert bool(found) is told
    if told:
        # 3 by 2 mm about 13.5, 6 of the sheet, whose middle 10, 10 lies at 100, 75, turned left;
        # its walls come out wider by a sample or two of 0.05 mm (docs/job-file.md)
        area = float(re.search(r"([\d.]+) mm²", found[0])[1])
        x, y = map(float, re.search(r"x ([\d.]+) y ([\d.]+)", found[0]).groups())
        assert (3 - 0.2) * (2 - 0.2) <= area <= 6.0
        assert (x, y) == pytest.approx((100 + 4.0, 75 + 3.5), abs=1.6)


def test_a_mesh_beyond_all_blanks_is_refused_by_file_and_limit(ramp, faults, clock):
    sheet(set()).apply_scale(1e6).export(ramp / "sheet.stl")
    mesh = CUT.replace(MAP, 'map = { file = "sheet.stl", unit = "mm", at = [100, 75] }')
    found = faults(clock + mesh)
    wanted = "map: file: sheet.stl: is 20000000 mm large, at most 100000 mm are taken"
    assert any(wanted in line for line in found), found
