import math
import subprocess
import sys

import numpy as np
import pytest
import shapely

from toolpath.drawing.dxf import INSUNITS_MM, layers, read_dxf
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


# ---- units -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "mm"),
    # The format owner's page of system variables; the sizes by their definitions.
    [
        (1, 25.4),
        (2, 304.8),
        (4, 1),
        (5, 10),
        (6, 1000),
        (9, 0.0254),
        (10, 914.4),
        (13, 0.001),
        (14, 100),
        (15, 10000.0),
        (22, 25.4000508),
    ],
)
def test_the_drawing_says_its_unit(draw, code, mm):
    path = draw(lambda m, _: m.add_circle((1000 / mm, 0), 50 / mm, dxfattribs=ON), units=code)
    region = one(path)
    assert region.area == pytest.approx(2500 * math.pi, rel=1e-7)
    assert bounds(region)[0] == pytest.approx(950, rel=1e-6)


def test_every_unit_of_the_format_is_known():
    assert sorted(INSUNITS_MM) == list(range(1, 25))
    ratios = {3: (2, 5280), 2: (1, 12), 10: (2, 3), 1: (8, 1e6), 24: (21, 5280), 23: (21, 3)}
    for code, (base, times) in ratios.items():
        assert INSUNITS_MM[code] == pytest.approx(times * INSUNITS_MM[base], rel=1e-12)
    metres = {7: 1e3, 11: 1e-10, 12: 1e-9, 13: 1e-6, 14: 0.1, 15: 10, 16: 100, 17: 1e9}
    metres |= {18: 149_597_870_700, 19: 9.4607304725808e15, 20: 3.0856775814913673e16}
    for code, m in metres.items():
        assert INSUNITS_MM[code] == pytest.approx(1000 * m, rel=1e-12)
    assert INSUNITS_MM[21] == pytest.approx(304.8006096012192)


def test_the_job_overrules_the_drawing(draw):
    path = draw(lambda m, _: m.add_circle((0, 0), 2, dxfattribs=ON), units=6)
    assert one(path, unit=25.4).area == pytest.approx(math.pi * 50.8**2)
    for bad in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(DrawingError, match="unit must be more than 0"):
            read(path, unit=bad)


def test_a_size_that_no_sum_can_hold_is_refused(draw):
    path = draw(lambda m, _: m.add_circle((0, 0), 5, dxfattribs=ON), units=20)  # parsec
    with pytest.raises(DrawingError, match=r"CIRCLE .*check the unit"):
        read(path)


@pytest.mark.parametrize(("units", "version"), [(0, "R2010"), (99, "R2010"), (4, "R12")])
def test_a_drawing_without_a_unit_is_asked_for_it(draw, units, version, caplog):
    path = draw(lambda m, _: m.add_circle((0, 0), 2, dxfattribs=ON), units, version)
    with pytest.raises(DrawingError, match=r'part.dxf: .*INSUNITS.*unit = "mm"'):
        read(path)
    assert one(path, unit=1.0).area == pytest.approx(4 * math.pi)


# ---- entities --------------------------------------------------------------------------------


def test_lines_and_arcs_drawn_apart_make_a_slot(draw):
    def make(m, _):
        m.add_line((0, 0), (40, 0), dxfattribs=ON)
        m.add_line((40, 12), (0, 12), dxfattribs=ON)
        m.add_arc((40, 6), 6, -90, 90, dxfattribs=ON)
        m.add_arc((0, 6), 6, 90, 270, dxfattribs=ON)
        m.add_point((20, 6), dxfattribs=ON)
        m.add_line((7, 7), (7, 7), dxfattribs=ON)
        m.add_circle((20, 6), 0, dxfattribs=ON)
        m.add_circle((0, 0), 300, dxfattribs={"layer": "OTHER"})

    region = one(draw(make))
    assert region.area == pytest.approx(480 + 36 * math.pi)
    assert region.outer.length == pytest.approx(80 + 12 * math.pi)
    assert region.outer.error == pytest.approx(0.0)
    assert len(region.outer.points) == 4


def test_an_arc_from_350_to_10_degrees_is_20_degrees(draw):
    # The format: always counter-clockwise from start to end, in degrees.
    def make(m, _):
        m.add_arc((0, 0), 100, 350, 10, dxfattribs=ON)
        a = math.radians(10)
        x, y = 100 * math.cos(a), 100 * math.sin(a)
        m.add_lwpolyline([(x, y), (0, 0), (x, -y)], dxfattribs=ON)

    region = one(draw(make))
    assert region.area == pytest.approx(math.pi * 1e4 * 20 / 360)
    assert region.outer.length == pytest.approx(200 + 100 * math.radians(20))


@pytest.mark.parametrize(("kind", "version"), [("lw", "R2010"), ("old", "R2010"), ("old", "R12")])
def test_polylines_keep_their_bulges(draw, kind, version):
    # A chord of 10 with bulges 1 and -0.5 above each other: half disc R 5, segment R 6.25.
    rows = [(0, 0, 1.0), (10, 0, 0.0), (10, 20, -0.5), (0, 20, 0.0)]

    def make(m, _):
        if kind == "lw":
            m.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=ON)
        else:
            m.add_polyline2d(rows, format="xyb", close=True, dxfattribs=ON)

    region = one(draw(make, version=version), unit=1.0)
    theta = math.radians(106.260205)
    segment = 6.25**2 / 2 * (theta - math.sin(theta))
    assert region.area == pytest.approx(200 + math.pi * 12.5 - segment, abs=1e-6)
    assert bounds(region)[1] == pytest.approx(-5.0, abs=1e-4)


def test_a_closing_point_drawn_again_is_one_corner(draw):
    square = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]
    for close in (True, False):
        region = one(draw(lambda m, _, c=close: m.add_lwpolyline(square, close=c, dxfattribs=ON)))
        assert len(region.outer.points) == 4 and region.area == pytest.approx(100)


def test_flat_3d_polylines(draw):
    points = [(0, 0, 5), (10, 0, 5), (10, 10, 5)]
    region = one(draw(lambda m, _: m.add_polyline3d(points, close=True, dxfattribs=ON)))
    assert region.area == pytest.approx(50)


def test_the_frame_of_a_fitted_polyline_is_not_drawn(draw):
    def make(m, _):
        line = m.add_polyline2d([(0, 0), (10, 0), (10, 10), (0, 10)], close=True, dxfattribs=ON)
        line.dxf.flags |= 4
        line.append_formatted_vertices([(50, 50)], format="xy", dxfattribs={"flags": 16})

    assert one(draw(make)).area == pytest.approx(100)


def test_ellipses(draw):
    def make(m, _):
        m.add_ellipse((5, 6), (30, 40), 0.3, dxfattribs=ON)

    region = one(draw(make))
    assert 0 < region.outer.error <= 0.0005
    assert region.area == pytest.approx(math.pi * 50 * 15, abs=0.0005 * 220)
    turned = shapely.affinity.rotate(
        region.polygon(0.0005, Err.INWARD), -math.degrees(math.atan2(40, 30)), origin=(5, 6)
    )
    x, y = np.array(turned.exterior.coords).T - np.array([[5], [6]])
    assert ((x / 50) ** 2 + (y / 15) ** 2 < 1).all()


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1)])
def test_half_an_ellipse_lies_on_its_side(draw, extrusion):
    # Parameters 0 to pi run counter-clockwise about the extrusion: above the axis seen from it.
    def make(m, _):
        m.add_ellipse((0, 0), (20, 0), 0.5, 0, math.pi, dxfattribs=ON | {"extrusion": extrusion})
        m.add_line((-20, 0), (20, 0), dxfattribs=ON)

    region = one(draw(make))
    low, high = bounds(region)[1::2]
    expected = (0, 10) if extrusion[2] > 0 else (-10, 0)
    assert (low, high) == pytest.approx(expected, abs=0.01)
    assert region.area == pytest.approx(math.pi * 100, abs=0.1)


def test_an_ellipse_of_ratio_one_is_a_circle(draw):
    region = one(draw(lambda m, _: m.add_ellipse((0, 0), (0, 9), 1.0, dxfattribs=ON)))
    assert region.outer.error == 0.0 and region.area == pytest.approx(81 * math.pi)


def test_splines_clamped_closed_and_rational(draw):
    w = math.sqrt(0.5)
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]

    def circle(m, _):  # nine points, exact
        made = m.add_spline(dxfattribs=ON, degree=2)
        made.control_points = [(25 * x, 25 * y, 0) for x, y in square]
        made.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
        made.weights = [1, w, 1, w, 1, w, 1, w, 1]

    region = one(draw(circle))
    assert region.area == pytest.approx(625 * math.pi, abs=0.0005 * 50 * math.pi)
    assert np.hypot(*np.array(region.polygon(0.0005, Err.INWARD).exterior.coords).T).max() < 25

    hexagon = [(20 * math.cos(a), 20 * math.sin(a)) for a in np.pi / 3 * np.arange(6)]

    def closed(m, _):
        m.add_spline(dxfattribs=ON).set_closed([(x, y, 0) for x, y in hexagon], degree=3)

    region = one(draw(closed))
    # Uniform cubic: knot points at (P0 + 4 P1 + P2) / 6, so 20 (4 + 2 cos 60) / 6 from the centre.
    reach = np.hypot(*region.outer.points[:, :2].T)
    assert reach.max() == pytest.approx(20 * 5 / 6, abs=0.001)
    middle = 20 * (1 * 2 * math.cos(math.pi / 2) + 23 * 2 * math.cos(math.pi / 6)) / 48
    assert reach.min() == pytest.approx(middle, abs=0.001)


def test_heights_are_flattened_but_tilts_are_refused(draw):
    flat = draw(lambda m, _: m.add_circle((0, 0, 17), 5, dxfattribs=ON))
    assert one(flat).area == pytest.approx(25 * math.pi)
    tilted = [
        lambda m, _: m.add_line((0, 0, 0), (10, 0, 3), dxfattribs=ON),
        lambda m, _: m.add_circle((0, 0), 5, dxfattribs=ON | {"extrusion": (0, 1, 1)}),
        lambda m, _: m.add_ellipse((0, 0), (5, 0), 0.5, dxfattribs=ON | {"extrusion": (0, 1, 9)}),
        lambda m, _: m.add_polyline3d([(0, 0, 0), (9, 0, 0), (9, 9, 1)], dxfattribs=ON),
        lambda m, _: m.add_open_spline([(0, 0, 0), (9, 0, 0), (9, 9, 1), (0, 9, 0)], dxfattribs=ON),
    ]
    for make in tilted:
        with pytest.raises(
            DrawingError, match=r'layer "CUT": the .* does not lie flat: its height'
        ):
            read(draw(make))


@pytest.mark.parametrize("kind", ["ARC", "LWPOLYLINE", "POLYLINE"])
def test_an_extrusion_downward_mirrors_x(draw, kind):
    # Object coordinates of extrusion (0, 0, -1): x runs the other way (from memory).
    down = ON | {"extrusion": (0, 0, -1)}

    def make(m, _):
        if kind == "ARC":
            m.add_arc((30, 0), 10, -90, 90, dxfattribs=down)
            m.add_lwpolyline([(30, 10), (30, -10)], dxfattribs=down)
        elif kind == "LWPOLYLINE":
            m.add_lwpolyline([(30, -10, 1), (30, 10, 0)], format="xyb", close=True, dxfattribs=down)
        else:
            m.add_polyline2d([(30, -10, 1), (30, 10, 0)], format="xyb", close=True, dxfattribs=down)

    region = one(draw(make))
    assert bounds(region) == pytest.approx((-40, -10, -30, 10), abs=1e-3)
    assert region.area == pytest.approx(50 * math.pi)
    assert region.outer.error == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("kind", ["TEXT", "HATCH", "3DFACE", "SOLID", "XLINE"])
def test_what_is_no_outline_is_named(draw, kind):
    def make(m, _):
        m.add_circle((0, 0), 5, dxfattribs=ON)
        if kind == "TEXT":
            m.add_text("left", dxfattribs=ON | {"insert": (3, 4)})
        elif kind == "HATCH":
            m.add_hatch(dxfattribs=ON).paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
        elif kind == "3DFACE":
            m.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs=ON)
        elif kind == "SOLID":
            m.add_solid([(0, 0), (1, 0), (1, 1)], dxfattribs=ON)
        else:
            m.add_xline((0, 0), (1, 0), dxfattribs=ON)

    with pytest.raises(DrawingError, match=rf'layer "CUT": the {kind} .*another layer'):
        read(draw(make))


def test_the_place_of_what_is_no_outline_is_named(draw):
    path = draw(lambda m, _: m.add_text("x", dxfattribs=ON | {"insert": (1, 2)}), units=1)
    with pytest.raises(DrawingError, match=r"the TEXT at \(25.4, 50.8\) mm cannot"):
        read(path)


def test_fit_points_alone_are_refused(draw):
    def make(m, _):
        m.add_spline([(0, 0), (10, 5), (20, 0)], dxfattribs=ON)

    with pytest.raises(DrawingError, match=r"SPLINE .*fit points only.*control points"):
        read(draw(make))


def test_hidden_entities_and_paper_space_are_left_out(draw):
    def make(m, doc):
        m.add_circle((0, 0), 5, dxfattribs=ON)
        m.add_circle((0, 0), 9, dxfattribs=ON | {"invisible": 1})
        doc.paperspace().add_circle((0, 0), 3, dxfattribs=ON)

    assert one(draw(make)).area == pytest.approx(25 * math.pi)


# ---- layers and files ------------------------------------------------------------------------


def test_layers_compare_without_capitals(draw):
    path = draw(lambda m, _: m.add_circle((0, 0), 5, dxfattribs={"layer": "Über Cavity"}))
    assert one(path, layer="ÜBER CAVITY").area == pytest.approx(25 * math.pi)


def test_a_missing_layer_names_those_there_are(draw):
    def make(m, doc):
        m.add_circle((0, 0), 5, dxfattribs={"layer": "CONTROL"})
        m.add_circle((0, 0), 5, dxfattribs={"layer": "Rim"})
        doc.layers.add("EMPTY")

    path = draw(make)
    with pytest.raises(DrawingError) as caught:
        read(path, layer="CONTROLS")
    for word in ("part.dxf", 'no layer "CONTROLS"', '"CONTROL", "Rim"', 'did you mean "CONTROL"?'):
        assert word in str(caught.value)
    with pytest.raises(DrawingError, match='nothing is drawn on layer "empty"; layers with'):
        read(path, layer="empty")
    assert layers(path) == ("CONTROL", "Rim")


def test_an_empty_drawing(draw):
    path = draw(lambda m, doc: None)
    with pytest.raises(DrawingError, match="nor on any other"):
        read(path)
    assert layers(path) == ()
    dots = draw(lambda m, _: m.add_line((1, 1), (1, 1), dxfattribs=ON))
    with pytest.raises(DrawingError, match='layer "CUT" holds no outline'):
        read(dots)


def test_messages_of_joining_name_the_file(draw):
    path = draw(lambda m, _: m.add_line((0, 0), (3, 4), dxfattribs=ON), name="clock.dxf")
    with pytest.raises(DrawingError, match=r'clock.dxf: layer "CUT": the outline is open.*5 mm'):
        read(path)


def test_gaps_are_measured_in_mm_and_joined(draw):
    def make(m, _):
        m.add_lwpolyline([(0, 0), (1, 0), (1, 1)], dxfattribs=ON)
        m.add_lwpolyline([(1, 1.01), (0, 1), (0, 0)], dxfattribs=ON)

    path = draw(make, units=1)
    with pytest.raises(DrawingError, match=r"a gap of 0.254 mm"):
        read(path)
    assert one(path, join=0.3).area == pytest.approx(25.4**2 * 1.0025, rel=1e-3)


def test_binary_drawings(draw):
    path = draw(lambda m, _: m.add_circle((0, 0), 5, dxfattribs=ON), fmt="bin")
    assert one(path).area == pytest.approx(25 * math.pi)
    head = path.read_bytes()[:22]  # the mark of a binary drawing, then nonsense
    path.write_bytes(head + b"\x07" * 50)
    with pytest.raises(DrawingError):
        read(path)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"hello, this is no drawing\n",
        bytes(range(256)) * 8,
        b"0\nSECTION\n",
        b"\xff\xfe\x00\x00",
        b"0\nEOF\n",
        b"999\n",
    ],
)
def test_what_is_no_drawing_ends_in_a_message(tmp_path, content):
    path = tmp_path / "bad.dxf"
    path.write_bytes(content)
    for act in (lambda: read(path, unit=1.0), lambda: layers(path) or read(path)):
        with pytest.raises(DrawingError, match=r"bad.dxf"):
            act()


def test_a_missing_file_and_a_folder_end_in_a_message(tmp_path):
    with pytest.raises(DrawingError, match=r"no.dxf: there is no such file"):
        read(tmp_path / "no.dxf")
    with pytest.raises(DrawingError):
        read(tmp_path)


def test_a_drawing_cut_short_anywhere_is_refused(draw, tmp_path):
    def make(m, _):
        for x in range(5):
            m.add_circle((30 * x, 0), 5, dxfattribs=ON)

    for fmt in ("asc", "bin"):
        whole = draw(make, version="R2000", fmt=fmt).read_bytes()
        short = tmp_path / "short.dxf"
        start = whole.rindex(b"CIRCLE")
        cuts = [*range(start, len(whole) - 6, (len(whole) - start) // 10), len(whole) // 2, 30]
        for cut in cuts:
            short.write_bytes(whole[:cut])
            with pytest.raises(DrawingError, match=r"short.dxf"):
                read(short)


def test_broken_numbers_end_in_a_message(draw):
    path = draw(lambda m, _: m.add_circle((1, 2), 1234.5, dxfattribs=ON), version="R2000")
    text = path.read_text()
    for number in ("nan", "inf", "1e300", "word", "-1e-320"):
        path.write_text(text.replace("1234.5", number))
        with pytest.raises(DrawingError, match=r"part.dxf"):
            read(path)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("  0\nENDBLK\n", "  0\nENDBLK\n  0\nENDBLK\n"),
        ("  0\nENDBLK\n", "  0\nPOINT\n"),
        ("  0\nENDSEC\n  0\nSECTION\n", "  0\nENDSEC\n  0\nCIRCLE\n  0\nSECTION\n"),
    ],
)
def test_what_the_library_would_leave_out_is_refused(draw, caplog, old, new):
    # It only logs that it passes over blocks and entities: the piece drawn there would be smaller.
    path = draw(lambda m, _: m.add_circle((0, 0), 5, dxfattribs=ON), units=0, version="R12")
    text = path.read_text()
    assert one(path, unit=1.0).area == pytest.approx(25 * math.pi) and old in text
    path.write_text(text.replace(old, new))
    caplog.clear()
    with pytest.raises(DrawingError, match=r"part.dxf: part of it would be left out \("):
        read(path, unit=1.0)
    assert not caplog.records


def test_an_overflow_is_said_in_words_alone(draw):
    # Warnings are errors here: numpy's own would be one more line on the screen.
    def make(m, doc):
        doc.blocks.new("B").add_circle((0, 0), 5)
        m.add_blockref("B", (1, 2), dxfattribs=ON | {"xscale": 8.5e307})

    path = draw(make, version="R2000")
    path.write_text(path.read_text().replace("8.5e+307", "1e308"))
    for unit in (1.0, 1e5):
        with pytest.raises(DrawingError, match=r"the CIRCLE .*cannot be part of an outline"):
            read(path, unit=unit)
    path = draw(lambda m, _: m.add_circle((1e300, 0), 5, dxfattribs=ON), name="far.dxf")
    with pytest.raises(DrawingError, match=r"the CIRCLE .*cannot be part of an outline"):
        read(path, unit=1e12)


def test_entities_that_the_library_does_not_know(draw):
    def make(m, _):
        m.add_circle((0, 0), 5, dxfattribs=ON)
        m.add_circle((0, 0), 3, dxfattribs={"layer": "OTHER"})

    path = draw(make, version="R2000")
    text = path.read_text()
    at = text.rindex("CIRCLE")
    path.write_text(text[:at] + "WIDGET" + text[at + 6 :])
    assert one(path).area == pytest.approx(25 * math.pi)
    with pytest.raises(DrawingError, match='layer "OTHER": the WIDGET cannot be part'):
        read(path, layer="OTHER")


def test_the_library_is_loaded_only_to_read():
    code = "import sys, toolpath.drawing.dxf, toolpath.drawing.mesh; "
    code += "print(sorted({'ezdxf', 'trimesh'} & set(sys.modules)))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
