import codecs
import math
import struct
import zipfile

import numpy as np
import pytest
import trimesh

from toolpath.drawing import mesh as module
from toolpath.drawing.mesh import read_mesh
from toolpath.errors import DrawingError


def volume(data):
    """Signed volume by the divergence theorem: the sum of the tetrahedra over the triangles."""
    a, b, c = (data.vertices[data.triangles[:, i]] for i in range(3))
    return float(np.sum(a * np.cross(b, c))) / 6.0


@pytest.mark.parametrize("ending", ["stl", "obj", "ply", "3mf"])
def test_a_box_of_every_kind(tmp_path, ending):
    path = tmp_path / f"box.{ending.upper()}"
    made = trimesh.creation.box((10, 20, 30))
    made.export(path, file_type=ending)
    data = read_mesh(path, 0.5)
    assert data.watertight
    assert data.vertices.shape == (8, 3) and data.vertices.dtype == np.float64
    assert data.triangles.shape == (12, 3) and data.triangles.dtype == np.int64
    assert np.ptp(data.vertices, axis=0) == pytest.approx([5, 10, 15])
    assert volume(data) == pytest.approx(750.0)
    with pytest.raises(ValueError):
        data.vertices[0, 0] = 1.0
    with pytest.raises(ValueError):
        data.triangles[0, 0] = 1


def test_inches_are_25_4_times_as_large(tmp_path):
    path = tmp_path / "pebble.stl"
    ball = trimesh.creation.icosphere(subdivisions=4, radius=0.5)
    ball.export(path)
    data = read_mesh(path, 25.4)
    # A ball of radius 12.7: an inscribed polyhedron of 5120 faces falls short by under 1 %.
    exact = 4 / 3 * math.pi * 12.7**3
    assert 0.99 * exact < volume(data) < exact
    assert volume(data) == pytest.approx(ball.volume * 25.4**3, rel=1e-5)  # STL holds float32


def test_a_binary_stl_by_the_byte(tmp_path):
    # 80 bytes of header, a count, 50 bytes a facet; this header starts like a text file's.
    faces = trimesh.creation.box((2, 2, 2)).triangles
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *face.ravel(), 0) for face in faces)
    blob = b"solid box".ljust(80) + struct.pack("<I", 12) + body
    assert len(blob) == 684
    path = tmp_path / "box.stl"
    path.write_bytes(blob)
    assert volume(read_mesh(path, 1.0)) == pytest.approx(8.0)


def test_a_text_stl(tmp_path):
    path = tmp_path / "box.stl"
    path.write_text(trimesh.creation.box((2, 3, 4)).export(file_type="stl_ascii"))
    data = read_mesh(path, 1.0)
    assert data.watertight and volume(data) == pytest.approx(24.0)


def test_bodies_stand_where_their_file_places_them(tmp_path):
    scene = trimesh.Scene()
    box = trimesh.creation.box((2, 2, 2))
    for x in (0, 100):
        move = trimesh.transformations.translation_matrix((x, 5, 7))
        scene.add_geometry(box, geom_name="box", node_name=f"box {x}", transform=move)
    path = tmp_path / "two.3mf"
    scene.export(path)
    data = read_mesh(path, 2.0)
    assert len(data.triangles) == 24 and data.watertight
    assert data.vertices.min(axis=0) == pytest.approx([-2, 8, 12])
    assert data.vertices.max(axis=0) == pytest.approx([202, 12, 16])
    assert volume(data) == pytest.approx(2 * 64)


def test_an_open_mesh_says_so(tmp_path):
    box = trimesh.creation.box((2, 2, 2))
    open_box = trimesh.Trimesh(box.vertices, box.faces[:-1], process=False)
    path = tmp_path / "open.ply"
    open_box.export(path)
    data = read_mesh(path, 1.0)
    assert not data.watertight and len(data.triangles) == 11


def test_triangles_without_area_and_loose_corners_go(tmp_path):
    path = tmp_path / "needles.obj"
    path.write_text(
        "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 5 0 0\nv 99 99 99\nv 77 0 0\n"
        "f 1 2 3\nf 1 1 2\nf 1 4 2\nf 1 2 6\n"
    )
    data = read_mesh(path, 1.0)
    assert len(data.triangles) == 1 and data.vertices.shape == (3, 3)
    assert data.vertices.max() == 10.0


def test_a_thin_triangle_is_kept(tmp_path):
    path = tmp_path / "thin.obj"
    path.write_text("v 0 0 0\nv 100 0 0\nv 50 0.0001 0\nf 1 2 3\n")
    assert len(read_mesh(path, 1.0).triangles) == 1


OBJ_HEAD = "v 0 0 0\nv 10 0 0\nv 5 0 0\nv 0 1 0\n"


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.step", b"x", ["ends in .stl, .obj, .ply, .3mf", '".step"']),
        ("a", b"x", ['not ""']),
        ("a.stl", b"", ["empty"]),
        ("a.stl", b"hello, this is no mesh", ["a.stl"]),
        ("a.stl", b"\0" * 300, ["a.stl"]),
        ("a.stl", b"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0", ["a.stl"]),
        ("a.obj", b"\0\1\2\3", ["no triangle"]),
        ("a.obj", b"v 0 0 0\nv 1 1 1\n", ["no triangle"]),
        ("a.obj", (OBJ_HEAD + "f 1 2 3\n").encode(), ["no triangle in it has an area"]),
        ("a.obj", (OBJ_HEAD + "v nan 0 0\nf 1 2 4\nf 1 2 5\n").encode(), ["not a number"]),
        ("a.obj", (OBJ_HEAD + "v 1e200 0 0\nf 1 2 4\nf 1 2 5\n").encode(), ["1e+09 units"]),
        ("a.obj", (OBJ_HEAD + "f 1 2 9\n").encode(), ["a.obj", "again"]),
        ("a.ply", b"ply\n", ["cannot be read as a PLY mesh", "export it again"]),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 0\nend_header\n", ["a.ply"]),
        ("a.3mf", b"PK\3\4 broken", ["cannot be read as a 3MF mesh"]),
    ],
)
def test_what_is_no_mesh_ends_in_a_message(tmp_path, name, content, words):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(DrawingError) as caught:
        read_mesh(path, 1.0)
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize("ending", ["stl", "ply", "3mf"])
def test_a_mesh_cut_short_ends_in_a_message(tmp_path, ending):
    whole = trimesh.creation.box((2, 2, 2)).export(file_type=ending)
    path = tmp_path / f"short.{ending}"
    for cut in (3, 90, len(whole) // 2, len(whole) - 50, len(whole) - 13, len(whole) - 5):
        path.write_bytes(whole[:cut])
        with pytest.raises(DrawingError, match=r"short"):
            read_mesh(path, 1.0)


@pytest.mark.parametrize("kind", ["stl", "ply"])
def test_a_text_mesh_cut_short_ends_in_a_message(tmp_path, kind):
    # A lost facet would be a smaller piece, which is worse than none.
    box = trimesh.creation.box((2, 2, 2))
    whole = (
        box.export(file_type="stl_ascii").encode()
        if kind == "stl"
        else box.export(file_type="ply", encoding="ascii")
    )
    path = tmp_path / f"short.{kind}"
    lines = whole.splitlines(keepends=True)
    path.write_bytes(whole)
    assert len(read_mesh(path, 1.0).triangles) == 12
    for count in range(len(lines) - 9, len(lines)):
        path.write_bytes(b"".join(lines[:count]))
        with pytest.raises(DrawingError, match="short"):
            read_mesh(path, 1.0)


def test_missing_files_and_folders(tmp_path):
    with pytest.raises(DrawingError, match=r"no.stl: cannot be read .*check its name"):
        read_mesh(tmp_path / "no.stl", 1.0)
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(DrawingError, match=r"folder.stl"):
        read_mesh(tmp_path / "folder.stl", 1.0)


@pytest.mark.parametrize("scale", [0.0, -1.0, math.nan, math.inf])
def test_the_scale_is_more_than_nothing(tmp_path, scale):
    path = tmp_path / "box.stl"
    trimesh.creation.box().export(path)
    with pytest.raises(DrawingError, match="must be more than 0"):
        read_mesh(path, scale)


def test_giants_are_refused_before_they_are_loaded(tmp_path, monkeypatch):
    path = tmp_path / "giant.stl"
    with path.open("wb") as file:  # sparse: takes no room on the disk
        file.truncate(84 + 50 * 2_000_001)
    with pytest.raises(DrawingError, match=r"2000001 triangles is more than the 2000000 .*reduce"):
        read_mesh(path, 1.0)
    with path.open("wb") as file:
        file.truncate(900_000_000)
    with pytest.raises(DrawingError, match="900 MB"):
        read_mesh(path, 1.0)
    packed = tmp_path / "bomb.3mf"
    monkeypatch.setattr(module, "_MOST_BYTES", 1_000_000)
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("3D/3dmodel.model", b"0" * 2_000_000)
    assert packed.stat().st_size < 10_000
    with pytest.raises(DrawingError, match="2 MB is more"):
        read_mesh(packed, 1.0)


def test_too_many_triangles_in_any_file(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "MOST_TRIANGLES", 11)
    path = tmp_path / "box.ply"
    trimesh.creation.box().export(path)
    with pytest.raises(DrawingError, match="12 triangles is more than the 11"):
        read_mesh(path, 1.0)


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_byte_order_mark_hides_no_corner(tmp_path, ends):
    """With a corner to spare at the end, all would shift by one unnoticed."""
    box = trimesh.creation.box((4.0, 6.0, 8.0))
    lines = ["v {} {} {}".format(*corner) for corner in (*box.vertices, (50, 50, 50))]
    lines += ["f {} {} {}".format(*(face + 1)) for face in box.faces]
    path = tmp_path / "box.obj"
    path.write_bytes(codecs.BOM_UTF8 + ends.join([*lines, ""]).encode())
    mesh = read_mesh(path, 1.0)
    assert mesh.watertight and len(mesh.triangles) == 12
    assert np.ptp(mesh.vertices, axis=0).tolist() == [4.0, 6.0, 8.0]


@pytest.mark.parametrize("corner", [-1, 8, 33554432])
@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_a_corner_that_is_not_there_is_refused(tmp_path, encoding, corner):
    # Counted from 0 (the PLY form, by its maker); -1 would pass for the last one.
    box = trimesh.creation.box((2, 2, 2))
    faces = box.faces.copy()
    faces[3, 1] = 7
    whole = trimesh.Trimesh(box.vertices, faces, process=False)
    content = bytearray(whole.export(file_type="ply", encoding=encoding))
    if encoding == "ascii":
        lines = bytes(content).splitlines()
        row = len(lines) - 12 + 3
        words = lines[row].split()
        lines[row] = b" ".join([*words[:2], str(corner).encode(), *words[3:]])
        content = bytearray(b"\n".join(lines) + b"\n")
    else:
        at = len(content) - 12 * 13 + 3 * 13 + 1 + 4
        content[at : at + 4] = struct.pack("<i", corner)
    path = tmp_path / "box.ply"
    path.write_bytes(content)
    with pytest.raises(DrawingError, match=rf"box.ply: a triangle names corner {corner}, counted"):
        read_mesh(path, 1.0)


def test_a_package_with_a_broken_list_of_parts(tmp_path):
    path = tmp_path / "box.3mf"
    trimesh.creation.box().export(path)
    whole = path.read_bytes()
    end = whole.rindex(b"PK\5\6")  # then, at 12, the size of the list: APPNOTE 4.3.16
    path.write_bytes(whole[: end + 12] + struct.pack("<I", 2**31) + whole[end + 16 :])
    with pytest.raises(DrawingError, match=r"box.3mf: cannot be read as a 3MF mesh"):
        read_mesh(path, 1.0)


@pytest.mark.parametrize("name", ["tristrips", "more"])
def test_surfaces_that_are_no_faces_are_refused(tmp_path, name):
    # Strips of triangles beside the faces were passed over: a smaller piece.
    lines = ["ply", "format ascii 1.0", "element vertex 4"]
    lines += [f"property float {axis}" for axis in "xyz"]
    for element in ("face", name):
        lines += [f"element {element} 1", "property list uchar int vertex_indices"]
    lines += ["end_header", "0 0 0", "9 0 0", "9 9 0", "0 0 9", "3 0 1 2", "4 0 1 2 3", ""]
    path = tmp_path / "pebble.ply"
    path.write_text("\n".join(lines))
    with pytest.raises(DrawingError, match="a list that is not of faces, such as strips"):
        read_mesh(path, 1.0)


def test_a_count_of_too_many_digits(tmp_path):
    path = tmp_path / "pebble.ply"
    path.write_text(f"ply\nformat ascii 1.0\nelement vertex {'9' * 5000}\nend_header\n")
    with pytest.raises(DrawingError, match="cut short"):
        read_mesh(path, 1.0)


@pytest.mark.parametrize("count", [1, 2])
def test_corners_of_fewer_coordinates_are_refused(tmp_path, count):
    path = tmp_path / "pebble.obj"
    corners = [(0, 0, 0), (9, 0, 0), (0, 9, 0), (0, 0, 9)]
    lines = ["v " + " ".join(str(each) for each in corner[:count]) for corner in corners]
    path.write_text("\n".join([*lines, "f 1 2 3", "f 1 2 4", ""]))
    with pytest.raises(DrawingError, match=rf"pebble.obj: .*{count} coordinates"):
        read_mesh(path, 1.0)


@pytest.mark.parametrize("number", ["nan", "inf", "1e300", "-1e308"])
def test_numbers_out_of_reach_are_said_in_words_alone(tmp_path, number):
    # Warnings are errors here: numpy's own would be one more line on the screen.
    path = tmp_path / "pebble.stl"
    lines = ["solid a", f"facet normal {number} 0 1", "outer loop", f"vertex {number} 0 0"]
    lines += [f"vertex 1 {number} 0", "vertex 0 1 0", "endloop", "endfacet", "endsolid a", ""]
    path.write_text("\n".join(lines))
    with pytest.raises(DrawingError, match=r"pebble.stl: a corner has a coordinate that is not"):
        read_mesh(path, 1.0)


def facet(*corners):
    lines = [f"vertex {x} {y} {z}" for x, y, z in corners]
    return ["facet normal 0 0 1", "outer loop", *lines, "endloop", "endfacet"]


def test_text_facets_of_two_and_of_four_corners_are_not_counted_through(tmp_path):
    a, b, c, d = (0, 0, 0), (9, 0, 0), (0, 9, 0), (0, 0, 9)
    path = tmp_path / "odd.stl"
    path.write_text(
        "\n".join(["solid vertex", *facet(a, b), *facet(c, a, b, d), "endsolid vertex"])
    )
    with pytest.raises(DrawingError, match=r"odd\.stl: facet 1 of it has not three corners"):
        read_mesh(path, 1.0)
    whole = [facet(a, c, b), facet(a, b, d), facet(a, d, c), facet(b, c, d)]
    lines = ["solid vertex", *(line for each in whole for line in each), "endsolid vertex", ""]
    path.write_text(" \r\n".join(lines).upper())
    assert read_mesh(path, 1.0).triangles.shape == (4, 3)
