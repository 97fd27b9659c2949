"""Counting what an OBJ file names, and what its parser would read wrongly or not at all."""

import numpy as np
import pytest

from toolpath.drawing.mesh import read_mesh
from toolpath.drawing.obj import triangles_named
from toolpath.errors import DrawingError

CORNERS = "v 0 0 0\nv 9 0 0\nv 9 9 0\nv 4 12 0\nv 0 9 0\nv 4 4 5\n"


@pytest.fixture
def obj(tmp_path):
    def make(text):
        path = tmp_path / "pebble.obj"
        path.write_bytes(text.encode())
        return path

    return make


@pytest.mark.parametrize(
    ("faces", "count"),
    [
        ("f 1 2 3\nf 1 2 6\n", 2),
        ("f 1 2 3 4 5\nf 1 2 6\n", 4),  # n corners make n - 2 triangles
        ("f 1 2 3 4\nf 1/1 2/1 6/1\n", 3),
        ("f 1 2\nf 1 2 6\n", 1),
        ("f 1 2 \\\n3\nf 1 2 6\n", 2),
        ("g fine\no f 1 2 3\nf 1 2 6", 1),
        ("f 4 5 6\nf -1 -2 -3\n", 2),  # after the last corner both ways of counting agree
    ],
)
def test_what_is_read_is_what_is_named(obj, faces, count) -> None:
    path = obj(CORNERS + faces)
    assert triangles_named(path) == count
    assert len(read_mesh(path, 1.0).triangles) == count


@pytest.mark.parametrize("line", ["  f 1 2 3", "f\t1 2 3", "\tf 1\t2 3"])
def test_a_face_that_the_parser_passes_over_is_refused(obj, line) -> None:
    # A lost facet would be a smaller piece, which is worse than none.
    with pytest.raises(DrawingError, match=r"^pebble.obj: it places 2 triangles and 1 could be"):
        read_mesh(obj(f"{CORNERS}{line}\nf 1 2 6\n"), 1.0)


def test_corners_counted_backwards_from_the_end(obj) -> None:
    # The form's description: -1 is the corner that stands last before the face. From memory.
    mesh = read_mesh(obj(CORNERS + "f -6 -5 -1\n"), 1.0)
    assert np.array_equal(mesh.vertices[mesh.triangles[0]], [[0, 0, 0], [9, 0, 0], [4, 4, 5]])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "v 0 0 0\nv 9 0 0\nv 9 9 0\nf -3 -2 -1\nv 4 4 5\nf -3 -2 -1\n",
            "line 4: a face counts its corners backwards, and more corners follow it",
        ),
        (CORNERS + "f 0 2 3\nf 1 2 6\n", "line 7: a face names corner 0"),
        (CORNERS + "f 1 2 00/1/1\n", "line 7: a face names corner 0"),
    ],
)
def test_corners_that_would_be_read_wrong_are_refused(obj, text, told) -> None:
    with pytest.raises(DrawingError, match=rf"^pebble\.obj: {told}"):
        read_mesh(obj(text), 1.0)
