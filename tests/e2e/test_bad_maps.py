"""Maps that are no maps, from the command: exit 2, one clear line, soon and in little memory."""

import os
import struct
import subprocess
import sys
import zlib

import numpy as np
import pytest
import trimesh
from PIL import Image
from relief_replay import HEAD, cutter_text

from toolpath.drawing.samples import read_samples
from toolpath.errors import DrawingError, FaultsError
from toolpath.job.read import read_job

GREY = np.tile(np.arange(0, 200, dtype=np.uint8), (50, 1))


def write_job(folder, name):
    mesh = name.endswith(".stl")
    place = ', unit = "mm"' if mesh else ", low = 4, high = 0"
    cutters = cutter_text("ball 6", "ball", 6)
    text = HEAD.format(
        wide=30, half=15, size=20, cutters=cutters, cut='cutter = "ball 6"', pieces="", place=place
    ).replace("map.npy", name)
    text = text.replace("size = [20, 20], ", "") if mesh else text
    (folder / "job.toml").write_text(text)
    return folder / "job.toml"


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, packed):
    """PNG, third edition, 5 and 11: grey of 8 bits."""
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    parts = chunk(b"IHDR", head), chunk(b"IDAT", packed), chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def tiff(width, height, data=b"\0" * 100, packing=1, turned=1):
    """TIFF 6.0, sections 2, 4 and 8: one strip of grey of 8 bits."""
    tags = [
        *((256, width), (257, height), (258, 8), (259, packing), (262, 1), (273, 8)),
        *((274, turned), (277, 1), (278, height), (279, len(data))),
    ]
    entries = b"".join(struct.pack("<HHII", tag, 4, 1, value) for tag, value in tags)
    start = struct.pack("<I", 8 + len(data))
    return b"II*\0" + start + data + struct.pack("<H", len(tags)) + entries + b"\0" * 4


def array(shape):
    """NPY 1.0 (numpy.lib.format): a header that promises a shape, and 800 bytes."""
    head = str({"descr": "<f8", "fortran_order": False, "shape": shape}).encode()
    head += b" " * (63 - (10 + len(head)) % 64) + b"\n"
    return b"\x93NUMPY\x01\0" + struct.pack("<H", len(head)) + head + b"\0" * 800


BAD = {
    "head.png": (lambda: png(100_000, 100_000, zlib.compress(b"\0" * 9)), "4000000"),
    "bomb.png": (lambda: png(1999, 2000, zlib.compress(bytes(200_000_000))), "two must differ"),
    "wide.png": (lambda: png(60_000, 60_000, zlib.compress(bytes(9))), "4000000"),
    "head.tif": (lambda: tiff(100_000, 100_000), "4000000"),
    "bomb.tif": (lambda: tiff(2000, 2000, zlib.compress(bytes(200_000_000)), 8), "two must differ"),
    "turned.tif": (lambda: tiff(10, 10, turned=6), "save it upright"),
    "mirrored.tif": (lambda: tiff(10, 10, turned=2), "save it upright"),
    "head.npy": (lambda: array((100_000, 100_000)), "cut short"),
    "beyond.npy": (lambda: array((10**30, 10**30)), "cut short"),
    "less.npy": (lambda: array((-5, 5)), "cut short"),
    "none.npy": (lambda: array((0, 5)), "at least 2 by 2"),
    "long.csv": (lambda: b"1," * 5_000_000 + b"1\n", "4000000"),
    "many.csv": (lambda: b"12\n" * 5_000_000, "4000000"),
    "digits.csv": (lambda: b"1,2\n3," + b"9" * 1_000_000 + b"\n", "row 2, column 2 is inf"),
    "count.stl": (lambda: bytes(80) + b"\xff" * 4 + bytes(100), "cut short"),
}


@pytest.mark.parametrize("name", BAD)
def test_absurd_files_are_refused_in_little_memory(tmp_path, name):
    """In a process that may take no more than 1.5 GB of addresses beyond what it has."""
    data, words = BAD[name]
    (tmp_path / name).write_bytes(data())
    job = write_job(tmp_path, name)
    script = (
        "import resource, sys\n"
        "from toolpath.cli.start import entry\n"
        "import numpy, PIL.Image, trimesh, shapely\n"
        "now = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "resource.setrlimit(resource.RLIMIT_AS, (now + 1_500_000_000,) * 2)\n"
        f"sys.argv = ['keepclear', 'plan', {str(job)!r}, '--out', {str(tmp_path / 'out')!r}]\n"
        "entry()\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False,
        env=os.environ,
    )  # fmt: skip
    said = ran.stdout + ran.stderr
    assert ran.returncode == 2, said
    assert f'cut[1] "dial": map: file: {name}: ' in said and words in said
    assert "Traceback" not in said and not (tmp_path / "out" / "programs").exists()


def whole(folder, kind):
    """A small good map of a kind, its bytes."""
    path = folder / f"map.{kind}"
    if kind in ("png", "tif"):
        Image.fromarray(GREY).save(path)
    elif kind == "npy":
        np.save(path, GREY / 50.0)
    elif kind == "csv":
        np.savetxt(path, GREY[:6, :9] / 50.0, delimiter=",")
    else:
        trimesh.creation.icosphere(subdivisions=1, radius=5).export(path)
    return path, path.read_bytes()


@pytest.mark.parametrize("kind", ["png", "tif", "npy", "stl"])
def test_cut_off_anywhere_a_file_is_refused_by_name(tmp_path, kind):
    path, data = whole(tmp_path, kind)
    job = write_job(tmp_path, path.name)
    read_job(job)  # the whole one is a map
    last = len(data) - (21 if kind == "png" else 1)  # PNG ends in sums and an empty chunk
    for length in np.unique(np.linspace(0, last, 60).astype(int)).tolist():
        path.write_bytes(data[:length])
        with pytest.raises(FaultsError) as caught:
            read_job(job)
        (line,) = [str(each) for each in caught.value.faults if "map" in str(each)]
        assert path.name in line, (length, line)


def test_a_table_cut_off_within_a_line_is_refused(tmp_path):
    """Cut at the end of a line a table is a shorter table: nothing in it says how long it was."""
    path, data = whole(tmp_path, "csv")
    ends = [i for i in range(len(data)) if data[i : i + 1] == b"\n"]
    columns = data[: ends[0]].count(b",")
    for length in range(ends[1] + 2, len(data), 7):
        line = data[:length].rsplit(b"\n", 1)[1]
        if not line or line.count(b",") == columns:
            continue
        path.write_bytes(data[:length])
        with pytest.raises(DrawingError, match=r"map\.csv: line \d+"):
            read_samples(path)
