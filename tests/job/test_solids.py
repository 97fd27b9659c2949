import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.job.model import Box, Cylinder, Hardness, Mesh, Side, Sphere

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
    assert job.sources == (Path("job.toml"), Path("stone.stl"))


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
    ("{}", ["kind: missing: give one of box, cylinder, sphere, mesh"]),
    ('{ kind = "cone" }',
     ['kind: "cone" is not understood: known are box, cylinder, sphere, mesh']),
    ('{ kind = "box", size = [1, 2] }', ["size: 2 values where [x, y, z] should stand: 3 lengths"]),
    ('{ kind = "box", size = [1, 2, 0] }', ["size[3]: 0 mm must be more than 0 mm"]),
    ('{ kind = "sphere", diameter = 0 }', ["diameter: 0 mm must be more than 0 mm"]),
    ('{ kind = "sphere", diameter = 5, height = 3 }',
     ['height: belongs to kind = "cylinder": leave it out here']),
    ('{ kind = "prism", outline = {}, height = 3 }',
     ['kind: not yet: "prism" comes with a later version; '
      'use "box", "cylinder", "sphere", "mesh"']),
    ('{ kind = "heights" }',
     ['kind: not yet: "heights" comes with a later version; '
      'use "box", "cylinder", "sphere", "mesh"']),
]  # fmt: skip


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
     "turn: inf is not a finite number: write a plain number, without quotes"),
    ("from_front = 8", "from_front = 8\ndrift = { side = -1 }",
     "drift: side: -1 mm must be at least 0 mm"),
    ("from_front = 8", "from_front = 8\ndrift = 1", "drift: 1 is not a table: write drift = { … }"),
    ("from_front = 8", "from_front = 8\ndrift = { turn = 181 }",
     "drift: turn: 181 degrees must be at most 180 degrees"),
    ("from_front = 8", "from_front = 8\nclearance = -1", "clearance: -1 mm must be at least 0 mm"),
    ("from_front = 8", 'from_front = 8\nrule = "may-cut"',
     'rule: not yet: "may-cut" comes with a later version; use "keep"'),
    ("from_front = 8", "from_front = 8\nrepeat = 3",
     "repeat: not yet: this key comes with a later version; leave it out"),
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
