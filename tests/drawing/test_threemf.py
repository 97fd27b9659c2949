"""Counting what a 3MF file places (3MF Core Specification 1.3, sections 4.1 and 4.2)."""

import zipfile
from pathlib import Path

import pytest
import trimesh

from toolpath.drawing.mesh import read_mesh
from toolpath.drawing.threemf import triangles_placed
from toolpath.errors import DrawingError

SPACE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
BOX = trimesh.creation.box((4.0, 6.0, 8.0))


def body(number: int) -> str:
    corners = "".join('<vertex x="{}" y="{}" z="{}"/>'.format(*each) for each in BOX.vertices)
    faces = "".join('<triangle v1="{}" v2="{}" v3="{}"/>'.format(*each) for each in BOX.faces)
    mesh = f"<mesh><vertices>{corners}</vertices><triangles>{faces}</triangles></mesh>"
    return f'<object id="{number}" type="model">{mesh}</object>'


def moved(x: float) -> str:
    return f'transform="1 0 0 0 1 0 0 0 1 {x} 0 0"'


def group(number: int, *parts: str) -> str:
    inner = "".join(f"<component {part}/>" for part in parts)
    return f'<object id="{number}" type="model"><components>{inner}</components></object>'


def nested(depth: int, times: int) -> str:
    """Objects 2 to `depth`, each holding the one before it `times` over, side by side."""
    return "".join(
        group(n, *(f'objectid="{n - 1}" {moved(10 * times ** (n - 2) * k)}' for k in range(times)))
        for n in range(2, depth + 1)
    )


@pytest.fixture
def package(tmp_path: Path):
    def make(objects: str, *items: str, head: str = "") -> Path:
        path = tmp_path / "bodies.3mf"
        build = "".join(f"<item {item}/>" for item in items)
        text = f'<?xml version="1.0"?>{head}<model xmlns="{SPACE}" unit="millimeter"><resources>'
        text += f"{objects}</resources><build>{build}</build></model>"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
            file.writestr("3D/3dmodel.model", text)
        return path

    return make


@pytest.mark.parametrize(
    ("objects", "items", "count"),
    [
        (body(1), ['objectid="1"'], 1),
        (body(1), [f'objectid="1" {moved(0)}', f'objectid="1" {moved(20)}'], 2),
        (body(1) + body(7), ['objectid="1"'], 1),  # what is not built is not there
        (body(1) + nested(3, 3), ['objectid="3"'], 9),
        (body(1) + nested(9, 10), ['objectid="9"'], 10**8),
    ],
)
def test_bodies_count_as_often_as_they_are_placed(package, objects, items, count) -> None:
    assert triangles_placed(package(objects, *items)) == 12 * count


def test_what_is_read_is_what_is_placed(package) -> None:
    mesh = read_mesh(package(body(1) + nested(3, 3), 'objectid="3"'), 1.0)
    assert len(mesh.triangles) == 9 * 12
    assert mesh.vertices[:, 0].max() == 2.0 + 80.0


@pytest.mark.parametrize(
    ("objects", "items", "told"),
    [
        (body(1) + nested(4, 10), ['objectid="4"'], "places 12000 triangles and"),
        (
            body(1),
            [f'objectid="1" partnumber="a" {moved(0)}', f'objectid="1" partnumber="a" {moved(9)}'],
            "places 24 triangles and 12 could be read: export the piece as one mesh",
        ),
        (body(1) + nested(9, 10), ['objectid="9"'], "1200000000 triangles is more than"),
        (body(1) + group(2, 'objectid="3"') + group(3, 'objectid="2"'), ['objectid="2"'],
         "nest deeper than 40 or hold themselves"),
        (body(1), ['objectid="1"', 'objectid="8"'], 'places an object "8" that it does not hold'),
    ],
)  # fmt: skip
def test_bodies_that_would_be_lost_are_refused(package, objects, items, told) -> None:
    with pytest.raises(DrawingError, match=rf"^bodies\.3mf: .*{told}"):
        read_mesh(package(objects, *items), 1.0)


@pytest.mark.parametrize("what", ['"aaaa"', 'SYSTEM "file:///etc/hosts"'])
def test_entities_are_refused(package, what) -> None:
    path = package(body(1), 'objectid="1"', head=f"<!DOCTYPE m [<!ENTITY a {what}>]>")
    with pytest.raises(DrawingError, match="a document type of its own"):
        read_mesh(path, 1.0)
