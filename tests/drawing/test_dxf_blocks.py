import math

import numpy as np
import pytest

from toolpath.drawing.dxf import layers, read_dxf
from toolpath.drawing.outline import Err
from toolpath.errors import DrawingError

ON = {"layer": "CUT"}


def read(path, layer="CUT", unit=None, join=0.01):
    return read_dxf(path, layer, unit=unit, join=join)


def one(path, **kw):
    (region,) = read(path, **kw)
    return region


def bounds(region):
    return region.polygon(1e-5, Err.OUTWARD).bounds


def block_of_half_disc(doc, layer):
    """The right half of a disc of 10 about (5, 0), base point (5, 0)."""
    block = doc.blocks.new("HALF", base_point=(5, 0))
    block.add_lwpolyline(
        [(5, -10, 1), (5, 10, 0)], format="xyb", close=True, dxfattribs={"layer": layer}
    )
    return block


HALF_DISC = 50 * math.pi


@pytest.mark.parametrize(
    ("attribs", "box", "scale"),
    [
        ({}, (100, 40, 110, 60), 1),
        ({"rotation": 90}, (90, 50, 110, 60), 1),
        ({"xscale": 2, "yscale": 2, "zscale": 2}, (100, 30, 120, 70), 4),
        ({"xscale": -1}, (90, 40, 100, 60), 1),
        ({"yscale": -1, "rotation": 90}, (90, 50, 110, 60), 1),
        ({"extrusion": (0, 0, -1)}, (-110, 40, -100, 60), 1),
        ({"xscale": 3}, (100, 40, 130, 60), 3),
        ({"xscale": 3, "yscale": 0.5, "rotation": -90}, (95, 20, 105, 50), 1.5),
    ],
)
@pytest.mark.parametrize("inner", ["0", "CUT"])
def test_inserts(draw, attribs, box, scale, inner):
    def make(m, doc):
        block_of_half_disc(doc, inner)
        layer = "CUT" if inner == "0" else "ELSEWHERE"
        m.add_blockref("HALF", (100, 50), dxfattribs=attribs | {"layer": layer})

    region = one(draw(make))
    even = abs(attribs.get("xscale", 1)) == abs(attribs.get("yscale", 1))
    assert bounds(region) == pytest.approx(box, abs=0.002)
    assert region.area == pytest.approx(HALF_DISC * scale, abs=1e-6 if even else 0.05)
    assert (region.outer.error < 1e-9) is even


def test_nested_inserts_sheared_against_each_other(draw):
    # A circle stretched along x inside a block turned by 45 degrees inside one stretched along x:
    # no longer an ellipse on square axes of its own; areas multiply.
    def make(m, doc):
        doc.blocks.new("A").add_circle((0, 0), 10)
        b = doc.blocks.new("B")
        b.add_blockref("A", (0, 0), dxfattribs={"xscale": 2, "rotation": 45})
        m.add_blockref("B", (7, 8), dxfattribs=ON | {"xscale": 3})

    region = one(draw(make))
    assert region.area == pytest.approx(600 * math.pi, abs=0.05)
    # Support along x: 3 |(2 cos 45, -sin 45)| 10, along y: |(2 sin 45, cos 45)| 10.
    x, y = 30 * math.sqrt(2.5), 10 * math.sqrt(2.5)
    assert bounds(region) == pytest.approx((7 - x, 8 - y, 7 + x, 8 + y), abs=0.002)


def test_layer_0_takes_the_layer_of_the_insert_through_several_blocks(draw):
    def make(m, doc):
        a = doc.blocks.new("A")
        a.add_circle((0, 0), 5)
        a.add_circle((0, 0), 2, dxfattribs={"layer": "OTHER"})
        a.add_attdef("NOTE", (0, 0))
        doc.blocks.new("B").add_blockref("A", (0, 0))
        m.add_blockref("B", (0, 0), dxfattribs=ON)

    path = draw(make)
    assert one(path).area == pytest.approx(25 * math.pi)
    assert one(path, layer="other").area == pytest.approx(4 * math.pi)
    assert layers(path) == ("CUT", "OTHER")


def test_arrays_of_inserts(draw):
    def make(m, doc):
        doc.blocks.new("DOT").add_circle((0, 0), 2)
        grid = {"row_count": 2, "column_count": 3, "row_spacing": 10, "column_spacing": 20}
        m.add_blockref("DOT", (5, 5), dxfattribs=ON | grid | {"rotation": 90, "xscale": 2})

    regions = read(draw(make))
    centres = sorted(tuple(np.round(r.outer.points[:, :2].mean(axis=0), 3) + 0.0) for r in regions)
    # Rows and columns turn with the insert and are not scaled.
    expected = sorted((5 - 10 * row, 5 + 20 * column) for row in range(2) for column in range(3))
    assert np.array(centres) == pytest.approx(np.array(expected, dtype=float), abs=0.01)


def test_a_block_that_holds_itself_ends_in_a_message(draw):
    def make(m, doc):
        doc.blocks.new("LOOP").add_blockref("LOOP", (1, 0))
        m.add_blockref("LOOP", (0, 0), dxfattribs=ON)

    with pytest.raises(DrawingError, match=r'block "LOOP" .*holds itself'):
        read(draw(make))


def test_vast_arrays_and_missing_blocks_end_in_a_message(draw):
    def vast(m, doc):
        doc.blocks.new("DOT").add_circle((0, 0), 2)
        grid = {"row_count": 30000, "column_count": 30000, "row_spacing": 9, "column_spacing": 9}
        m.add_blockref("DOT", (5, 5), dxfattribs=ON | grid)

    with pytest.raises(DrawingError, match='block "DOT" stands in an array of 900000000'):
        read(draw(vast))
    missing = draw(lambda m, _: m.add_blockref("GONE", (5, 5), dxfattribs=ON))
    with pytest.raises(DrawingError, match=r'INSERT at \(5, 5\) mm .*block "GONE" is not in this'):
        read(missing)
