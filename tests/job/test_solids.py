import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from toolpath.job import solids
from toolpath.job.model import Box, Cylinder, Hardness, Heights, Mesh, Prism, Rule, Side, Sphere
from toolpath.job.table import Reading, Table
from toolpath.units import Unit

COG = '{ kind = "cylinder", diameter = 24, height = 6 }'
WHERE = 'job.toml: piece[1] "cog": '


def test_pieces_and_their_defaults(read, clock) -> None:
    cog, pebble = read(clock).pieces
    assert cog.solid == Cylinder(diameter=24.0, height=6.0)
    assert (cog.at, cog.measured_from, cog.depth) == ((120.0, 90.0), Side.FRONT, 8.0)
    assert (cog.clearance, cog.turn, cog.hardness) == (1.0, 0.0, Hardness.METAL)
    assert pebble.solid == Sphere(diameter=16.0)
    assert (pebble.measured_from, pebble.depth) == (Side.BACK, 5.0)
    assert pebble.hardness is Hardness.STONE
    assert (pebble.drift.side, pebble.drift.rise, pebble.drift.turn) == (0.0, 0.0, 0.0)


def test_everything_said(read, edited) -> None:
    job = read(
        edited(
            (COG, '{ kind = "box", size = [1, 2, "1/4 in"] }'),
            (
                "from_front = 8",
                'from_front = 8\nturn = 30\nclearance = 1.5\nrule = "keep"\n'
                "drift = { side = 1, rise = 0.5, turn = 10 }",
            ),
        )
    )
    cog = job.pieces[0]
    assert cog.solid == Box(size=(1.0, 2.0, 6.35))
    assert cog.turn == pytest.approx(math.pi / 6) and cog.clearance == 1.5
    assert (cog.drift.side, cog.drift.rise) == (1.0, 0.5)
    assert cog.drift.turn == pytest.approx(math.radians(10))
    assert job.need(cog) == pytest.approx(1.52)


@pytest.fixture
def stone(tmp_path: Path) -> trimesh.Trimesh:
    mesh = trimesh.creation.box(extents=(10, 20, 5))
    mesh.export(tmp_path / "stone.stl")
    return mesh


def test_a_mesh_is_scaled_and_tilted(read, edited, stone, tmp_path: Path) -> None:
    solid = '{ kind = "mesh", file = "stone.stl", unit = "in", scale = 0.5, tilt = [10, -20] }'
    job = read(edited((COG, solid)))
    mesh = job.pieces[0].solid
    assert isinstance(mesh, Mesh) and mesh.watertight
    extents = np.ptp(mesh.vertices, axis=0)
    assert extents == pytest.approx(np.array([10, 20, 5]) * 12.7, rel=1e-6)
    assert mesh.tilt == pytest.approx((math.radians(10), math.radians(-20)))
    assert list(job.sources) == [Path("job.toml"), Path("stone.stl")]


MESHES = [
    ('file = "stone.stl"',
     'unit: missing: a mesh says nothing of its unit: give unit = "mm" (or "in", "cm", "m")'),
    ('file = "stoen.stl", unit = "mm"',
     'file: "stoen.stl" cannot be found: did you mean "stone.stl"?'),
    ('file = "stone.stl", unit = "ft"',
     'unit: "ft" is not understood: known are mm, cm, m, in, inch, "'),
    ('file = "stone.stl", unit = "mm", scale = 0', "scale: 0 must be more than 0"),
    ('file = "stone.stl", unit = "mm", tilt = [1]',
     "tilt: 1 value where [about x, about y] should stand: 2 numbers in degrees"),
    ('file = "stone.stl", unit = "m", scale = 1000',
     "file: is 20000000 mm large: look at unit and scale"),
    ('unit = "mm"', "file: missing: give the name of a file"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "line"), MESHES)
def test_faults_of_a_mesh(faults, edited, stone, words: str, line: str) -> None:
    text = edited((COG, '{ kind = "mesh", ' + words + " }"))
    assert faults(text) == [f"{WHERE}solid: {line}"]


def test_a_broken_mesh_is_a_fault(faults, edited, tmp_path: Path) -> None:
    (tmp_path / "stone.stl").write_bytes(b"solid nothing\nendsolid nothing\n")
    lines = faults(edited((COG, '{ kind = "mesh", file = "stone.stl", unit = "mm" }')))
    assert len(lines) == 1 and lines[0].startswith(f"{WHERE}solid: file: stone.stl")


SOLIDS = [
    ("{}", ["kind: missing: give one of box, cylinder, sphere, mesh, prism, heights"]),
    ('{ kind = "cone" }',
     ['kind: "cone" is not understood: known are box, cylinder, sphere, mesh, prism, heights']),
    ('{ kind = "box", size = [1, 2] }', ["size: 2 values where [x, y, z] should stand: 3 lengths"]),
    ('{ kind = "box", size = [1, 2, 0] }', ["size[3]: 0 mm must be more than 0 mm"]),
    ('{ kind = "sphere", diameter = 0 }', ["diameter: 0 mm must be more than 0 mm"]),
    ('{ kind = "sphere", diameter = 5, height = 3 }',
     ['height: belongs to kind = "cylinder": leave it out here']),
    ('{ kind = "prism", outline = {}, height = 3 }',
     ["outline: names no shape: known are rect, circle, polygon, slot, dxf, svg"]),
    ('{ kind = "prism" }',
     ["outline: missing: give a shape, such as { rect = [0, 0, 100, 50] }",
      'height: missing: give a length such as 6, "6 mm" or "1/4 in"']),
    ('{ kind = "prism", outline = { circle = [0, 0, 5] }, height = 0 }',
     ["height: 0 mm must be more than 0 mm"]),
    ('{ kind = "heights" }', ["file: missing: give the name of a file"]),
]  # fmt: skip


# Words, and the faults without their start; the files are those of the fixture.
HEIGHTS = [
    ('file = "map.png"',
     ["size: missing: give [x, y]",
      'low: missing: give a length such as 6, "6 mm" or "1/4 in"',
      'high: missing: give a length such as 6, "6 mm" or "1/4 in"']),
    ('file = "map.png", size = [9, 9], low = 5, high = 5',
     ["high: 5 mm must be more than low, 5 mm"]),
    ('file = "map.png", size = [9, 9], low = -1, high = 5',
     ["low: -1 mm must be at least 0 mm"]),
    ('file = "flat.csv", size = [9, 9], low = 1',
     ['high: missing: give a length such as 6, "6 mm" or "1/4 in"']),
    ('file = "deep.csv", size = [9, 9]',
     ["file: deep.csv: its least number is -2 mm: measure heights from the foot of the piece, 0 "
      "or more, or give low and high"]),
    ('file = "points.csv", size = [9, 9], high = 5',
     ["size: given with a list of points, which says so itself: leave size out",
      "high: given with a list of points, which says so itself: leave high out"]),
    ('file = "far.csv", size = [9, 9]',
     ["file: is 999996 mm large: look at its numbers"]),
    ('file = "one.csv", size = [9, 9]',
     ["file: one.csv: it holds 1 by 2: a grid needs rows and columns, at least 2 by 2"]),
    ('file = "flat.csv", size = [9, 9], unit = "mm"',
     ['unit: belongs to kind = "mesh": leave it out here']),
]  # fmt: skip


@pytest.fixture
def measured(tmp_path: Path) -> None:
    """Measured tops: a grey image, tables, and a list of points."""
    Image.fromarray(np.array([[0, 51], [102, 255]], dtype=np.uint8)).save(tmp_path / "map.png")
    tables = {
        "flat": "1,2\n3,4\n",
        "deep": "1,-2\n3,4\n",
        "far": "4,1e6\n5,9\n",
        "one": "1,2\n",
        "points": "x,y,z\n0,0,1\n30,0,1\n30,20,2\n0,20,1\n",
    }
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_text(text)


@pytest.mark.parametrize(("words", "lines"), HEIGHTS)
def test_faults_of_measured_tops(faults, edited, measured, words: str, lines: list[str]) -> None:
    text = edited((COG, '{ kind = "heights", ' + words + " }"))
    assert faults(text) == [f"{WHERE}solid: {line}" for line in lines]


@pytest.mark.parametrize(
    ("words", "points"),
    [
        # The first row of a file is its top; full scale of 8 bits is 255.
        ('"map.png", size = [30, 20], low = 1, high = 6',
         [(0, 0, 3), (30, 0, 6), (0, 20, 1), (30, 20, 2)]),
        ('"flat.csv", size = [30, 20]', [(0, 0, 3), (30, 0, 4), (0, 20, 1), (30, 20, 2)]),
        ('"deep.csv", size = [30, 20], low = 0, high = 6',
         [(0, 0, 5), (30, 0, 6), (0, 20, 3), (30, 20, 0)]),
        ('"points.csv"', [(0, 0, 1), (30, 0, 1), (30, 20, 2), (0, 20, 1)]),
    ],
)  # fmt: skip
def test_measured_tops(read, edited, measured, words: str, points) -> None:
    job = read(edited((COG, '{ kind = "heights", file = ' + words + " }")))
    solid = job.pieces[0].solid
    assert isinstance(solid, Heights)
    assert solid.points == pytest.approx(np.array(points, dtype=float))
    assert solid.triangles.shape == (2, 3) and list(job.sources)[-1] == solid.file


@pytest.mark.parametrize("words", ['"points.csv"', '"flat.csv", size = [30, 20]'])
def test_measured_tops_are_in_the_unit_of_the_job(measured, tmp_path: Path, words: str) -> None:
    text = f'name = "x"\nat = [1, 1]\nfrom_back = 1\nsolid = {{ kind = "heights", file = {words} }}'
    reading = Reading(file=tmp_path / "job.toml", unit=Unit.INCH)
    table = Table(reading=reading, where="", values=tomllib.loads(text))
    (piece,) = solids.read_piece(table, 1.0)
    rise = 1 if "points" in words else 3
    assert np.ptp(piece.solid.points, axis=0) == pytest.approx(np.array([30, 20, rise]) * 25.4)


def test_a_prism_keeps_its_outline(read, edited) -> None:
    outline = "{ slot = [0, 0, 20, 0, 6] }"
    prism = read(edited((COG, f'{{ kind = "prism", outline = {outline}, height = 5 }}'))).pieces[0]
    assert isinstance(prism.solid, Prism) and prism.solid.height == 5.0
    assert sum(r.area for r in prism.solid.outline) == pytest.approx(120 + math.pi * 9)


def test_pieces_that_may_be_cut(read, edited) -> None:
    cog, pebble = read(edited(("from_front = 8", 'from_front = 8\nrule = "may-cut"'))).pieces
    assert (cog.rule, pebble.rule) == (Rule.MAY_CUT, Rule.KEEP)


@pytest.mark.parametrize(
    ("repeat", "places"),
    [
        ("count = 3, step = [20, 0]", [(120, 90), (140, 90), (160, 90)]),
        ("count = 2, step = [-20, 5]", [(120, 90), (100, 95)]),
        ("count = 1, step = [0, 0]", [(120, 90)]),
        ('count = [3, 2], step = [20, "1 in"]',
         [(120, 90), (140, 90), (160, 90), (120, 115.4), (140, 115.4), (160, 115.4)]),
        ("count = [1, 2], step = [0, -30]", [(120, 90), (120, 60)]),
    ],
)  # fmt: skip
def test_rows_and_grids(read, edited, repeat: str, places) -> None:
    text = edited(("from_front = 8", f"from_front = 8\nrepeat = {{ {repeat} }}"))
    *cogs, pebble = read(text).pieces
    assert [cog.name for cog in cogs] == [f"cog {i}" for i in range(1, len(places) + 1)]
    assert np.array([cog.at for cog in cogs]) == pytest.approx(np.array(places, dtype=float))
    assert {cog.depth for cog in cogs} == {8.0} and pebble.name == "pebble"


def test_rows_may_not_make_more_than_can_be_read(faults, edited) -> None:
    text = edited(("from_front = 8", "from_front = 8\nrepeat = { count = 10_000, step = [1, 1] }"))
    line = 'job.toml: piece[2] "pebble": makes 10001 pieces in all; at most 10000 are read'
    assert faults(text) == [line]


def test_names_that_rows_make_may_not_be_used_twice(faults, edited) -> None:
    text = edited(
        ("from_front = 8", "from_front = 8\nrepeat = { count = 3, step = [20, 0] }"),
        ('name = "pebble"', 'name = "cog 2"'),
    )
    line = 'job.toml: piece[2] "cog 2": name: "cog 2" is made by piece[1] too: rename'
    assert faults(text) == [line]


@pytest.mark.parametrize(
    ("solid", "name", "side"),
    [
        ('{ kind = "prism", outline = { circle = [0, 0, 300] }, height = 5 }', "the prism", 600),
        ('{ kind = "prism", outline = { circle = [0, 0, 3] }, height = 501 }', "the prism", 501),
        ('{ kind = "heights", file = "flat.csv", size = [900, 9] }', "flat.csv", 900),
    ],
)
def test_what_is_far_larger_than_the_blank(faults, edited, measured, solid, name, side) -> None:
    # A blank of 200 by 150 is 250 mm from corner to corner; twice that is absurd.
    (line,) = faults(edited((COG, solid)))
    start, words = line.split(" mm on its largest side, ")
    assert start.startswith(f"{WHERE}solid: {name} is ") and words.startswith("the blank only 250")
    assert float(start.split()[-1]) == pytest.approx(side, abs=0.01)


@pytest.mark.parametrize(("solid", "lines"), SOLIDS)
def test_faults_of_a_solid(faults, edited, solid: str, lines: list[str]) -> None:
    assert faults(edited((COG, solid))) == [f"{WHERE}solid: {line}" for line in lines]


PIECES = [
    ("from_front = 8", "", "from_front: missing: give from_front or from_back, the distance of "
     "that face from the piece"),
    ("from_front = 8", "from_front = 8\nfrom_back = 8",
     "from_back: given together with from_front: leave one of them out"),
    ("from_front = 8", "from_front = -1", "from_front: -1 mm must be at least 0 mm"),
    ("from_front = 8", "from_front = 8\nturn = inf",
     "turn: inf is not a finite number: write a plain number"),
    ("from_front = 8", "from_front = 8\ndrift = { side = -1 }",
     "drift: side: -1 mm must be at least 0 mm"),
    ("from_front = 8", "from_front = 8\ndrift = 1", "drift: 1 is not a table: write drift = { … }"),
    ("from_front = 8", "from_front = 8\ndrift = { turn = 181 }",
     "drift: turn: 181 degrees must be at most 180 degrees"),
    ("from_front = 8", "from_front = 8\nclearance = -1", "clearance: -1 mm must be at least 0 mm"),
    ("from_front = 8", 'from_front = 8\nrule = "may_cut"',
     'rule: "may_cut" is not understood: did you mean "may-cut"?'),
    ("from_front = 8", "from_front = 8\nrepeat = 3",
     "repeat: 3 is not a table: write repeat = { … }"),
    ("from_front = 8", "from_front = 8\nrepeat = { step = [1, 1] }",
     "repeat: count: missing: give a whole number from 1 to 10000"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = 3 }",
     "repeat: step: missing: give [dx, dy]"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = 0, step = [1, 1] }",
     "repeat: count: 0 must be a whole number from 1 to 10000"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = [2, 1.5], step = [1, 1] }",
     "repeat: count[2]: 1.5 must be a whole number from 1 to 10000"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = [2, 2, 2], step = [1, 1] }",
     "repeat: count: holds 3 numbers: give [across, up], or one for a row"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = 2, step = [0, 0] }",
     "repeat: step: is [0, 0]: the pieces would lie in one place"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = [1, 2], step = [5, 0] }",
     "repeat: step[2]: is 0: the pieces would lie in one place"),
    ("from_front = 8", "from_front = 8\nrepeat = { count = [200, 51], step = [1, 1] }",
     "repeat: count: makes 10200 pieces; at most 10000 are read"),
    ("from_front = 8", "from_front = 8\nmeasured = 3",
     "measured: not yet: this key comes with a later version; leave it out"),
    ("at = [120, 90]", "at = [120]", "at: 1 value where [x, y] should stand: 2 lengths"),
    ('hardness = "metal"', 'hardness = "metl"',
     'hardness: "metl" is not understood: did you mean "metal"?'),
    (f"solid = {COG}", "", "solid: missing: give this table"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), PIECES)
def test_faults_of_a_piece(faults, edited, old: str, new: str, line: str) -> None:
    assert faults(edited((old, new))) == [f"{WHERE}{line}"]
