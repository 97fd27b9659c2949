"""Every text that is read, as other systems and editors save it: line ends of Windows, a byte order
mark, and a folder whose name has blanks and letters of other alphabets."""

import codecs
import io
import re
from pathlib import Path

import ezdxf
import pytest
import trimesh

from toolpath.cli.main import main

ROOT = Path(__file__).parents[2]
SAMPLE = (ROOT / "samples/first-pocket/first-pocket.toml").read_text()
SPHERE = '{ kind = "sphere", diameter = 14 }'
TRAY = "{ rect = [20, 20, 100, 70], corner = 6 }"
BOX = trimesh.creation.box((6.0, 6.0, 6.0))


def drawing() -> bytes:
    made, text = ezdxf.new(), io.StringIO()
    made.header["$INSUNITS"] = 4
    corners = [(20, 20), (60, 20), (60, 70), (20, 70)]
    made.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "ЖÄ"})
    made.write(text)
    return text.getvalue().encode()


SVG = """<?xml version="1.0" encoding="utf-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">
<rect id="fläche"
 x="20" y="20" width="40" height="50"/>
</svg>
"""
MESH = '{{ kind = "mesh", file = "{}", unit = "mm" }}'
TEXTS = {
    "job.toml": (b"", SPHERE, SPHERE),
    "s.stl": (trimesh.exchange.stl.export_stl_ascii(BOX).encode() + b"\n", SPHERE, ""),
    "s.obj": (trimesh.exchange.obj.export_obj(BOX).encode() + b"\n", SPHERE, ""),
    "s.ply": (trimesh.exchange.ply.export_ply(BOX, encoding="ascii"), SPHERE, ""),
    "grid.csv": (b"1,2,3\n2,3,4\n", SPHERE, '{ kind = "heights", file = "grid.csv", '
                 "size = [10, 10], low = 1, high = 4 }"),
    "list.csv": (b"x,y,z\n0,0,1\n10,0,2\n10,10,3\n0,10,2\n", SPHERE,
                 '{ kind = "heights", file = "list.csv" }'),
    "d.dxf": (drawing(), TRAY, '{ dxf = "d.dxf", layer = "ЖÄ" }'),
    "v.svg": (SVG.encode(), TRAY, '{ svg = "v.svg", id = "fläche" }'),
}  # fmt: skip
SAVED = {
    "as it is": lambda text: text,
    "windows": lambda text: text.replace(b"\n", b"\r\n"),
    "mark": lambda text: codecs.BOM_UTF8 + text,
    "both": lambda text: codecs.BOM_UTF8 + text.replace(b"\n", b"\r\n"),
}


@pytest.mark.parametrize("name", TEXTS)
def test_texts_however_they_are_saved(tmp_path, capsys, name) -> None:
    folder = tmp_path / "Ünter lagen 日本 Ж"
    folder.mkdir()
    content, old, new = TEXTS[name]
    text = SAMPLE.replace(old, new or MESH.format(name)).replace("[check]", "[check]\ncell = 2")
    found = set()
    for save in SAVED.values():
        (folder / name).write_bytes(save(content))
        job = folder / "jöb Ж.toml"
        job.write_bytes(save(text.encode()))
        assert main(["plan", str(job), "--no-pictures"]) == 0, capsys.readouterr()
        program = folder / "jöb Ж-plan/programs/01-front-flat-6.nc"
        found.add(program.read_bytes())
    assert len(found) == 1


def test_programs_however_they_are_saved(tmp_path, capsys) -> None:
    job = tmp_path / "jöb Ж.toml"
    job.write_text(SAMPLE.replace("[check]", "[check]\ncell = 2"))
    assert main(["plan", str(job), "--no-pictures"]) == 0
    program = (tmp_path / "jöb Ж-plan/programs/01-front-flat-6.nc").read_bytes()
    said = set()
    capsys.readouterr()
    for save in SAVED.values():
        path = tmp_path / "pröbe Ж.nc"
        path.write_bytes(save(program))
        words = ["check", str(job), str(path), "--face", "front", "--cutter", "flat 6", "--json"]
        assert main(words) == 0
        said.add(capsys.readouterr().out)
    assert len(said) == 1


def test_names_that_try_to_be_code(tmp_path, capsys) -> None:
    evil = "x) G0 Z-50 (<script>alert(1)</script>../../etc/%0a;M3 {{7*7}} [[x]]"
    text = SAMPLE.replace("[check]", "[check]\ncell = 2")
    for name in ("first pocket", "pebble", "flat 6", "tray"):
        text = text.replace(f'"{name}"', f'"{evil}"')
    job = tmp_path / "job.toml"
    job.write_text(text)
    assert main(["plan", str(job), "--no-pictures"]) == 0, capsys.readouterr()
    (program,) = (tmp_path / "job-plan/programs").iterdir()
    assert re.fullmatch(r"01-front-[a-z0-9-]+\.nc", program.name)
    moves = [line for line in program.read_text().splitlines() if not line.startswith("(")]
    assert not any("Z-50" in line for line in moves)
    for line in set(program.read_text().splitlines()) - set(moves):
        assert line.count("(") == line.count(")") == 1 and line.endswith(")")
    sheet = (tmp_path / "job-plan/sheet.html").read_text()
    assert "<script" not in sheet and "{{7*7}}" in sheet
