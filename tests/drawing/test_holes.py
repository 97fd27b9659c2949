import math

import pytest

from toolpath.drawing.holes import Hole, read_dxf_holes
from toolpath.errors import DrawingError

ON = {"layer": "HOLES"}


def read(path, layer="HOLES", unit=None):
    return read_dxf_holes(path, layer, unit=unit)


def test_points_and_circles_in_the_order_of_the_file(draw):
    def make(m, _):
        m.add_circle((10, 20), 2.5, dxfattribs=ON)
        m.add_point((30, -4), dxfattribs={"layer": "holes"})
        m.add_circle((1, 1), 1, dxfattribs={"layer": "OTHER"})

    assert read(draw(make)) == (Hole(x=10, y=20, diameter=5), Hole(x=30, y=-4))


# 1 in = 25.4 mm (1959 agreement); $INSUNITS 1 is the inch, 5 the centimetre.
@pytest.mark.parametrize(("units", "unit", "mm"), [(1, None, 25.4), (5, None, 10), (0, 2.0, 2)])
def test_units(draw, units, unit, mm):
    path = draw(lambda m, _: m.add_circle((2, 3), 0.125, dxfattribs=ON), units=units)
    (hole,) = read(path, unit=unit)
    assert (hole.x, hole.y, hole.diameter) == pytest.approx((2 * mm, 3 * mm, 0.25 * mm))


def test_blocks_turned_scaled_and_mirrored(draw):
    def make(m, doc):
        block = doc.blocks.new("PLATE")
        block.add_circle((10, 0), 1)
        block.add_point((0, 5))
        attribs = ON | {"rotation": 90, "xscale": -2, "yscale": 2}
        m.add_blockref("PLATE", (100, 50), dxfattribs=attribs)

    circle, point = read(draw(make))
    # (10, 0) -> (-20, 0) -> turned by 90 degrees (0, -20); (0, 5) -> (0, 10) -> (-10, 0).
    assert (circle.x, circle.y, circle.diameter) == pytest.approx((100, 30, 4))
    assert (point.x, point.y, point.diameter) == (pytest.approx(90), pytest.approx(50), None)


def test_a_circle_seen_from_behind_lies_mirrored(draw):
    attribs = ON | {"extrusion": (0, 0, -1)}
    (hole,) = read(draw(lambda m, _: m.add_circle((5, 6), 2, dxfattribs=attribs)))
    assert (hole.x, hole.y, hole.diameter) == pytest.approx((-5, 6, 4))


def test_repeats_and_centre_marks_count_once(draw):
    def make(m, _):
        m.add_point((5, 5), dxfattribs=ON)
        for x in (5, 5.004):
            m.add_circle((x, 5), 2, dxfattribs=ON)
        m.add_point((9, 9), dxfattribs=ON)
        m.add_point((9, 9), dxfattribs=ON)

    holes = read(draw(make))
    assert [(h.x, h.diameter) for h in holes] == [(pytest.approx(5, abs=0.01), 4), (9, None)]


def line(m, _):
    m.add_line((1, 2), (3, 4), dxfattribs=ON)


def two_widths(m, _):
    for radius in (1, 2):
        m.add_circle((5, 5), radius, dxfattribs=ON)


def stretched(m, doc):
    doc.blocks.new("DOT").add_circle((0, 0), 2)
    m.add_blockref("DOT", (5, 5), dxfattribs=ON | {"xscale": 2})


def tilted(m, _):
    m.add_circle((5, 5), 2, dxfattribs=ON | {"extrusion": (0, math.sin(1), math.cos(1))})


WRONG = [
    (line, r"part.dxf: layer \"HOLES\": the LINE at \(1, 2\) mm marks no hole: .* points and"),
    (two_widths, r"two circles stand at \(5, 5\) mm, 2 mm and 4 mm wide"),
    (stretched, r"CIRCLE at \(5, 5\) mm marks no hole: it is stretched to 8 mm by 4 mm"),
    (tilted, "does not lie flat"),
    (lambda m, _: m.add_circle((5, 5), 0, dxfattribs=ON), "0 mm wide"),
    (lambda m, _: m.add_point((1e12, 5), dxfattribs=ON), "too far off"),
    (lambda m, _: m.add_point((1, 5), dxfattribs={"layer": "HOLS"}), r'did you mean "HOLS"\?'),
]


@pytest.mark.parametrize(("make", "message"), WRONG)
def test_what_marks_no_hole(draw, make, message):
    with pytest.raises(DrawingError, match=message):
        read(draw(make))


def test_a_drawing_without_a_unit_asks_for_one(draw):
    with pytest.raises(DrawingError, match='say unit = "mm"'):
        read(draw(line, units=0))
