from pathlib import Path

import numpy as np
import pytest
import trimesh

from toolpath.blank.warn import MOST_PAIRS, piece_warnings
from toolpath.job.model import Box, Cylinder, Mesh, Side, Sphere


def texts(made):
    return [(w.where, w.message) for w in piece_warnings(made)]


def mesh_box(size, **changed):
    block = trimesh.creation.box(extents=size)
    return Mesh(
        file=Path("shell.stl"),
        vertices=np.array(block.vertices),
        triangles=np.array(block.faces, dtype=np.int64),
        **changed,
    )


def test_a_sound_job_has_none(job, piece):
    pieces = (
        piece(Box(size=(20, 10, 5)), at=(30.0, 0.0)),
        piece(Sphere(diameter=12), name="pebble", at=(70.0, 0.0)),
        piece(mesh_box((12, 12, 6)), name="shell", at=(70.0, 40.0)),
    )
    assert texts(job(pieces=pieces)) == []
    assert texts(job(pieces=())) == []


def test_touching_is_not_overlapping(job, piece):
    pieces = (
        piece(Box(size=(20, 10, 5)), at=(30.0, 0.0)),
        piece(Box(size=(20, 10, 5)), at=(50.0, 0.0)),
        piece(Box(size=(20, 10, 5)), at=(30.0, 0.0), depth=13.0),
    )
    assert texts(job(pieces=pieces)) == []


def test_overlap_of_boxes_by_hand(job, piece):
    # 5 x 10 in plan shared; heights -13..-8 and -16..-11 share 2
    pieces = (
        piece(Box(size=(20, 10, 5)), at=(30.0, 0.0)),
        piece(Box(size=(20, 10, 5)), name="pebble", at=(45.0, 0.0), depth=11.0),
    )
    ((where, message),) = texts(job(pieces=pieces))
    assert where == 'piece[1] "cog"'
    assert message.startswith('overlaps piece[2] "pebble" by 2 mm in height over 50.0 mm² in plan')


def test_spheres_are_exact(job, piece):
    ball = Sphere(diameter=10)
    apart = piece(ball, name="pebble", at=(67.0, 27.0), depth=9.0)
    # boxes and heights overlap, middles are sqrt(49 + 49 + 1) = 9.95 apart: 0.05 in each other
    ((_, message),) = texts(job(pieces=(piece(ball), apart)))
    assert "by 0.05 mm" in message
    # 3 aside and 3 above a cylinder's edge: sqrt(18) = 4.243 of 5
    disc = piece(Cylinder(diameter=6, height=4), name="cog", at=(60.0, 20.0), depth=16.0)
    near = piece(ball, name="pebble", at=(66.0, 20.0), depth=8.0)
    ((_, message),) = texts(job(pieces=(disc, near)))
    assert "by 0.757 mm" in message
    off = piece(ball, name="pebble", at=(66.0, 20.0), depth=6.9)
    assert texts(job(pieces=(disc, off))) == []


def test_sticking_out_of_the_outline(job, piece):
    # right edge at 110: a disc of radius 5 at 108 is 3 out
    made = job(pieces=(piece(Cylinder(diameter=10, height=3), at=(108.0, 20.0)),))
    ((where, message),) = texts(made)
    assert where == 'piece[1] "cog"'
    assert message.startswith("sticks out of the blank's outline by 3 mm")


@pytest.mark.parametrize(
    ("measured_from", "depth", "face", "by"),
    [
        (Side.FRONT, -1.5, "front", "1.5 mm"),
        (Side.FRONT, 40.0, "back", "4 mm"),
        (Side.BACK, -2.0, "back", "2 mm"),
        (Side.BACK, 37.0, "front", "1 mm"),
    ],
)
def test_sticking_out_of_a_face(job, piece, measured_from, depth, face, by):
    cog = piece(Cylinder(diameter=10, height=6), measured_from=measured_from, depth=depth)
    ((_, message),) = texts(job(pieces=(cog,)))
    assert message.startswith(f"sticks out of the {face} face by {by}")


def test_meshes_of_doubt(job, piece):
    ((_, message),) = texts(job(pieces=(piece(mesh_box((6, 6, 6), watertight=False)),)))
    assert "not watertight" in message
    ((_, message),) = texts(job(pieces=(piece(mesh_box((1.0, 0.5, 0.4))),)))
    assert "only 1 mm on its largest side" in message
    assert "25.4 mm" in message
    ((_, message),) = texts(job(pieces=(piece(mesh_box((60.0, 10, 10))),)))
    assert "60 mm on its largest side, over half the blank (50 mm)" in message


def test_a_mesh_overlap_says_that_it_is_a_hull(job, piece):
    pieces = (piece(mesh_box((10, 10, 5))), piece(Box(size=(4, 4, 2)), name="pin"))
    ((_, message),) = texts(job(pieces=pieces))
    assert "hull" in message


def test_prisms_and_measured_tops_are_looked_at_by_their_true_outlines(
    job, piece, angle_iron, driftwood
):
    # the L covers x 50..70, y 14..18 and x 50..55, y 18..26: its notch is free
    free = piece(Cylinder(diameter=6, height=3), name="pin", at=(62.0, 22.5))
    assert texts(job(pieces=(piece(angle_iron), free))) == []
    held = piece(Cylinder(diameter=6, height=3), name="pin", at=(62.0, 20.5))
    ((_, message),) = texts(job(pieces=(piece(angle_iron), held)))
    assert "by 3 mm in height" in message
    # 16 wide at 104 in a blank up to 110: 2 out; 6 high at 37: 1 out of the back
    wood = piece(driftwood, at=(104.0, 20.0), depth=37.0)
    messages = [message for _, message in texts(job(pieces=(wood,)))]
    assert any("outline by 2 mm" in message for message in messages)
    assert any("back face by 1 mm" in message for message in messages)


def test_every_overlap_of_many_is_found(job, piece):
    # a grid 9 apart of discs 10 across: each touches its neighbours along x and y, none across
    disc = Cylinder(diameter=10, height=3)
    made = job(pieces=tuple(piece(disc, at=(9.0 * n, 9.0 * m)) for n in range(4) for m in range(3)))
    found = [message for _, message in texts(made) if message.startswith("overlaps")]
    assert len(found) == 3 * 3 + 4 * 2


def test_a_heap_of_pieces_is_said_once(job, piece):
    ball = Sphere(diameter=10)
    heap = tuple(piece(ball, name=f"p{n}", at=(60.0, 30.0)) for n in range(50))  # 1225 pairs
    found = texts(job(pieces=heap))
    assert len(found) == MOST_PAIRS + 1
    assert found[-1][1] == "more than 1000 pairs of pieces lie over each other: check at and step"
    assert len(texts(job(pieces=heap[:45]))) == 990
