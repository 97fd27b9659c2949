import struct
import warnings
import zlib

import numpy as np
import pytest
from PIL import Image

from toolpath.drawing import samples
from toolpath.drawing.samples import read_samples
from toolpath.errors import DrawingError

# Two rows of three; the first row of a file is its top, so it comes last.
GRID = np.array([[0, 1, 2], [30, 40, 50]])
FLIPPED = [[30, 40, 50], [0, 1, 2]]


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, depth, kind, rows, extra=b""):
    """A PNG file by its standard (PNG, 3rd edition, 5 and 11), without an image library."""
    header = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)
    data = zlib.compress(b"".join(b"\0" + row for row in rows))
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + extra
        + chunk(b"IDAT", data)
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(("depth", "code"), [(8, "B"), (16, "H")])
def test_grey_png_is_read_raw(tmp_path, depth, code):
    rows = [struct.pack(f">3{code}", *row) for row in GRID]
    gamma = chunk(b"gAMA", struct.pack(">I", 100_000))  # 11.3.2.2: must not change the samples
    path = tmp_path / "map.png"
    path.write_bytes(png(3, 2, depth, 0, rows, gamma))
    found = read_samples(path)
    assert found.values.tolist() == FLIPPED
    assert found.full_scale == 2**depth - 1 and found.values.dtype == np.float64
    assert not found.values.flags.writeable


def tiff(order, depth, photometric=1, extra=()):
    """A TIFF file by its standard (TIFF 6.0, 2 and 4): one strip, no packing, 3 by 2 samples."""
    end = {"II": "<", "MM": ">"}[order]
    data = struct.pack(end + "6" + {8: "B", 16: "H"}[depth], *GRID.ravel())
    tags = [
        *((256, 3), (257, 2), (258, depth), (259, 1), (262, photometric)),
        *((273, 8), (277, 1), (278, 2), (279, len(data)), *extra),
    ]
    start = 8 + len(data)
    entries = b"".join(struct.pack(end + "HHIHH", tag, 3, 1, value, 0) for tag, value in tags)
    directory = struct.pack(end + "H", len(tags)) + entries + struct.pack(end + "I", 0)
    return order.encode() + struct.pack(end + "HI", 42, start) + data + directory


@pytest.mark.parametrize("order", ["II", "MM"])
@pytest.mark.parametrize("depth", [8, 16])
def test_grey_tiff_is_read_raw(tmp_path, order, depth):
    path = tmp_path / "map.tif"
    path.write_bytes(tiff(order, depth))
    found = read_samples(path)
    assert found.values.tolist() == FLIPPED and found.full_scale == 2**depth - 1


@pytest.mark.parametrize(
    ("kind", "full"),
    [("u1", 255.0), (">u2", 65535.0), ("i2", None), ("u4", None), ("f4", None), ("<f8", None)],
)
def test_arrays(tmp_path, kind, full):
    path = tmp_path / "map.npy"
    np.save(path, np.asfortranarray(GRID.astype(kind)))
    found = read_samples(path)
    assert found.values.tolist() == FLIPPED and found.full_scale == full


@pytest.mark.parametrize(
    "text",
    [
        "0,1,2\n30,40,50\n",
        "0;1;2\r\n30;40;5e1",
        "0\t1\t2\n\n30\t40\t50\n\n",
        "0 1  2\n 30 40 50 \n",
        "\ufeff0, 1, 2\n30.0, +40, 50",
    ],
)
def test_tables(tmp_path, text):
    path = tmp_path / "map.csv"
    path.write_text(text, encoding="utf-8")
    found = read_samples(path)
    assert found.values.tolist() == FLIPPED and found.full_scale is None


def test_samples_between_two_heights(tmp_path):
    path = tmp_path / "map.npy"
    np.save(path, np.array([[0, 51], [102, 204]], dtype=np.uint8))
    # Full scale 255: 51 is a fifth of the way; 204, the greatest, is not the top.
    assert read_samples(path).between(1, 6) == pytest.approx(np.array([[3, 5], [1, 2]]))
    np.save(path, np.array([[-1.0, 0.0], [1.0, 3.0]]))
    # Plain numbers: the least is low and the greatest high, both exactly.
    assert read_samples(path).between(0.1, 0.7) == pytest.approx(
        np.array([[0.4, 0.7], [0.1, 0.25]])
    )
    assert read_samples(path).between(0.1, 0.7).max() == 0.7


def saved(image, name="map.png", **how):
    def write(folder):
        image.save(folder / name, **how)
        return folder / name

    return write


def raw(name, data):
    def write(folder):
        (folder / name).write_bytes(data)
        return folder / name

    return write


def array(values):
    def write(folder):
        np.save(folder / "map.npy", values, allow_pickle=True)
        return folder / "map.npy"

    return write


GREY = Image.fromarray(GRID.astype(np.uint8))
WHOLE = png(3, 2, 8, 0, [bytes([0, 1, 2]), bytes([3, 4, 5])])
CASES = {
    "colour": (saved(GREY.convert("RGB")), "kind RGB .colours.: save it as grey"),
    "palette": (saved(GREY.convert("P")), "kind P"),
    "alpha": (saved(GREY.convert("LA")), "kind LA"),
    "bits": (saved(GREY.convert("1")), "kind 1"),
    "float": (saved(GREY.convert("F"), "map.tif"), "kind F"),
    "transparent": (saved(GREY, transparency=1), "one grey is transparent"),
    "pages": (saved(GREY, "map.tif", save_all=True, append_images=[GREY]), "2 pictures"),
    "white": (raw("map.tif", tiff("II", 16, photometric=0)), "0 stands for white"),
    "turned": (raw("map.tif", tiff("II", 8, extra=[(274, 6)])), "turned when shown"),
    "cut short": (raw("map.png", WHOLE[:-30]), "cannot be read as PNG"),
    "cut tiff": (raw("map.tif", tiff("II", 16)[:40]), "cannot be read as PNG or TIFF"),
    "no image": (raw("map.png", b"P2 2 2 255 0 1 2 3"), "cannot be read as PNG"),
    "large": (raw("map.png", png(10_000, 10_000, 8, 0, [b""])), "10000 by 10000 samples are more"),
    "vast": (raw("map.png", png(60_000, 60_000, 8, 0, [b""])), "far more than the 4000000 samples"),
    "empty": (raw("map.png", b""), "empty"),
    "ending": (raw("map.jpg", b"x"), r'not "\.jpg"'),
    "objects": (array(np.array([[{}, 1], [2, 3]], dtype=object)), "it holds objects, not numbers"),
    "complex": (array(np.ones((2, 2), dtype=complex)), "it holds complex128"),
    "three": (array(np.ones((2, 2, 3))), "2 by 2 by 3"),
    "row": (array(np.arange(5.0)), "holds 5: a grid needs rows"),
    "thin": (array(np.arange(5.0)[None]), "1 by 5"),
    "nan": (array(np.array([[1, 2], [3, np.nan]])), "row 2, column 2 is nan"),
    "inf": (array(np.array([[1, -np.inf], [3, 4]])), "row 1, column 2 is -inf"),
    "huge": (array(np.array([[1, 1e300], [3, 4]])), "1e.300"),
    "flat": (array(np.full((3, 3), 7)), "all its samples are 7"),
    "cut npy": (raw("map.npy", b"\x93NUMPY\x01\x00"), "cannot be read as NPY"),
    "ragged": (raw("map.csv", b"1,2\n3,4,5\n"), "line 2 holds 3 numbers, the first one 2"),
    "words": (raw("map.csv", b"a,b\n1,2\n"), 'line 1, column 1: "a" is no number'),
    "commas": (raw("map.csv", b"1,5;2,5\n3,5;4,5\n"), "with a decimal point"),
    "hole": (raw("map.csv", b"1,2,\n3,4,\n"), 'line 1, column 3: "" is no number'),
    "blank": (raw("map.csv", b"\n\n"), "no number"),
    "latin": (raw("map.csv", b"1,2\n3,\xb5\n"), "not UTF-8"),
    "wide": (raw("map.csv", b"1 " * 4_000_001), "4000001 by 1 samples are more than the 4000000"),
}


@pytest.mark.parametrize(("write", "words"), CASES.values(), ids=CASES)
def test_what_is_no_grid(tmp_path, write, words):
    with pytest.raises(DrawingError, match=words) as caught:
        read_samples(write(tmp_path))
    assert str(caught.value).startswith("map.")


def test_files_that_are_missing_or_too_large(tmp_path):
    with pytest.raises(DrawingError, match=r"none\.csv: cannot be read"):
        read_samples(tmp_path / "none.csv")
    with (tmp_path / "map.csv").open("wb") as file:
        file.truncate(samples._MOST_BYTES + 1)
    with pytest.raises(DrawingError, match="100 MB is more"):
        read_samples(tmp_path / "map.csv")


def test_a_size_beyond_all_numbers_prints_nothing(tmp_path):
    path = tmp_path / "map.npy"
    with path.open("wb") as file:
        header = {"descr": "<f4", "fortran_order": True, "shape": (2**63 - 1, 2)}
        np.lib.format.write_array_header_1_0(file, header)
        file.write(bytes(100))
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        with pytest.raises(DrawingError, match="cannot be read as NPY"):
            read_samples(path)
    assert not said


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ((900, 900), "cannot be read as NPY"),
        ((3000, 3000), r"cannot be read as NPY|3000 by 3000 samples are more"),
        ((10**12, 10**12), "cannot be read as NPY"),
    ],
)
def test_an_array_that_promises_more_than_it_holds(tmp_path, shape, words):
    path = tmp_path / "map.npy"
    with path.open("wb") as file:
        header = {"descr": "<f8", "fortran_order": False, "shape": shape}
        np.lib.format.write_array_header_1_0(file, header)
        file.write(bytes(80))
    with pytest.raises(DrawingError, match=words):
        read_samples(path)


def test_an_array_may_be_too_large(tmp_path):
    path = tmp_path / "map.npy"
    np.save(path, np.zeros((2001, 2000), dtype=np.uint8))
    with pytest.raises(DrawingError, match="2000 by 2001 samples are more than the 4000000"):
        read_samples(path)
